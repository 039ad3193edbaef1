"""A page, not a hundred lines; as wide as the terminal, and whole for a script."""

from __future__ import annotations

import os
import pathlib
import pty
import re
import subprocess
import sys

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from tests.products import RING

LONG = """\
kdkit: 1
product: Shelf
boards: {b: {material: particleboard-p2, thickness: 18}}
panels:
  a_side_with_a_long_name: {board: b, x: {from: 0}, y: [0, 300], z: [0, 300]}
  a_shelf_with_a_long_name: {board: b, x: [22.5, 400], y: [0, 300], z: {from: 100}}
joints:
  - {join: a_shelf_with_a_long_name, to: a_side_with_a_long_name, fittings: [dowel-8x35]}
"""


@pytest.fixture
def ring(tmp_path: pathlib.Path) -> pathlib.Path:
    source = tmp_path / "ring.yaml"
    source.write_text(RING, encoding="utf-8")
    return source


@pytest.mark.parametrize("command", ["check", "build"])
def test_a_no_takes_a_page_and_says_where_the_rest_is(command: str, ring: pathlib.Path) -> None:
    more = ["--out", str(ring.parent / "out")] if command == "build" else []
    result = CliRunner().invoke(group, [command, str(ring), *more])
    assert result.exit_code == 1
    account = result.stderr.partition("cannot be put together\n")[2]
    assert 10 < account.count("\n") <= 45
    assert "5 more loops like this one." in account
    assert f"kdkit plan {ring}" in " ".join(account.split())
    assert "add --out FOLDER" in " ".join(account.split())
    assert re.search(r"… and \d+ more", account)  # of the changes that would help


def test_plan_prints_all_of_it(ring: pathlib.Path) -> None:
    result = CliRunner().invoke(group, ["plan", str(ring)])
    account = result.stderr.partition("cannot be put together\n")[2]
    assert len(re.findall(r"^(?:To the|Upwards|Downwards)", account, re.MULTILINE)) == 6
    assert "more like this" not in account


def on_terminal(columns: int, *command: str) -> list[str]:
    """What a command prints on a terminal of some width."""
    reader, writer = pty.openpty()
    environment = {**os.environ, "COLUMNS": f"{columns}", "LINES": "40"}
    subprocess.run(
        [sys.executable, "-m", "kdkit", *command], env=environment, stdout=writer, stderr=writer
    )
    os.close(writer)
    said = b""
    try:
        while block := os.read(reader, 65536):
            said += block
    except OSError:  # the other end is shut
        pass
    os.close(reader)
    return said.decode("utf-8").replace("\r\n", "\n").split("\n")


def test_lines_are_wrapped_between_words_on_a_terminal(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "shelf.yaml"
    source.write_text(LONG, encoding="utf-8")
    whole = CliRunner().invoke(group, ["check", str(source)], env={"COLUMNS": "60"}).stderr
    (message,) = [line for line in whole.split("\n") if "[parts-apart]" in line]
    assert len(message) > 120  # a pipe gets it in one line, whatever COLUMNS says
    lines = on_terminal(60, "check", str(source))
    words = " ".join(" ".join(lines).split())
    assert " ".join(message.split()) in words  # no word parted
    text = [
        line for line in lines if not re.match(r"\s*\d* \| ", line) and str(tmp_path) not in line
    ]
    assert max(len(line) for line in text) <= 60


def test_the_account_fits_a_narrow_terminal(ring: pathlib.Path) -> None:
    lines = on_terminal(64, "check", str(ring))
    start = next(n for n, line in enumerate(lines) if line.endswith("cannot be put together"))
    rest = [line for line in lines[start:] if str(ring) not in line]
    assert max(len(line) for line in rest) <= 64
