"""An ``issue`` that is killed leaves nothing behind that the next run does not clear."""

from __future__ import annotations

import os
import pathlib
import signal
import subprocess
import sys

from click.testing import CliRunner

from kdkit.cli.group import group
from kdkit.cli.show import problems_text
from kdkit.issuing import without_scratch
from kdkit.pipeline import Request, check

ROOT = pathlib.Path(__file__).parents[2]


def test_what_is_told_of_a_batch_names_no_scratch_folder(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "shelf.yaml"
    file.write_text("kdkit: 1\nproduct: Nook\ncolour: red\n", encoding="utf-8")
    outcome = check(Request(file=file))
    assert {p.source.file for p in outcome.problems if p.source} == {str(file)}
    told = without_scratch(tmp_path, outcome)
    assert {p.source.file for p in told.problems if p.source} == {"shelf.yaml"}
    text = problems_text(told.problems, told.definition)
    assert str(tmp_path) not in text
    assert "colour: red" in text  # the line is still shown


def test_a_killed_issue_leaves_nothing_after_the_next_run(tmp_path: pathlib.Path) -> None:
    place, system = tmp_path / "archive", tmp_path / "system"
    place.mkdir()
    system.mkdir()
    file, definition = place / "w.sqlite", tmp_path / "shelf.yaml"

    def call(*args: str) -> int:
        return CliRunner().invoke(group, list(args)).exit_code

    assert call("new", "open-case", str(definition)) == 0
    assert call("archive", "new", str(file)) == 0
    before = file.read_bytes()
    # When the first picture is drawn the run has its folder; that takes some seconds.
    command = [sys.executable, str(ROOT / "tests" / "stopped_command.py"), "SIGKILL",
               "drawing", "issue", str(definition), "--archive", str(file)]  # fmt: skip
    ended = subprocess.run(
        command, env={**os.environ, "TMPDIR": str(system)}, capture_output=True, check=False
    )
    assert ended.returncode == -signal.SIGKILL, ended.stderr.decode()
    assert list(system.iterdir()) == []
    (left,) = (p for p in place.iterdir() if p != file)
    assert list(left.glob("run-*"))
    definition.write_text("kdkit: 1\nproduct: Half\n", encoding="utf-8")
    assert call("issue", str(definition), "--archive", str(file)) == 1
    assert list(place.iterdir()) == [file]
    assert file.read_bytes() == before
