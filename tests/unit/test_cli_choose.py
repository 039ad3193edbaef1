"""The commands for joints: one to choose, one for the page of all."""

from __future__ import annotations

import csv
import io
import json
import pathlib

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from tests.products import RING

ROOT = pathlib.Path(__file__).parent.parent.parent
BOOKCASE = str(ROOT / "examples" / "bookcase.yaml")


def run(*words: str) -> Result:
    return CliRunner().invoke(group, words)


def test_a_table_between_two_boards() -> None:
    result = run("choose", "--butting", "particleboard-p2:18", "--length", "250")
    assert result.exit_code == 0, result.output
    head, ruled_out = result.output.split("Ruled out\n")
    assert "an edge stands on a face, 250 mm long" in head
    assert "cam-and-bolt-34 " in head
    assert "common practice, no source" in head
    assert "  tee-nut-m6x30\n" in ruled_out
    assert "[fitting-contact]" in ruled_out


def test_the_same_as_data_and_as_rows() -> None:
    words = ("choose", "--butting", "oak:27", "--contact", "edge-edge", "--length", "90")
    data = json.loads(run(*words, "--json").output)
    assert data["fine"] is True
    rows = list(csv.DictReader(io.StringIO(run(*words, "--csv").output.removeprefix("\ufeff"))))
    assert [row["joint"] for row in rows] == [joint["fitting"] for joint in data["joints"]]
    assert [row["possible"] == "yes" for row in rows] == [j["possible"] for j in data["joints"]]
    for row, joint in zip(rows, data["joints"], strict=True):
        assert bool(row["ruled_out_because"]) is bool(joint["reasons"])
        assert len(row) == len(rows[0])
        assert [word for word in row["suits"].split("; ") if word] == joint["suits"]
    by_name = {joint["fitting"]: joint["suits"] for joint in data["joints"]}
    assert by_name["pocket-screw-4x32"] == ["frame"]
    assert by_name["dowel-8x35-glued"] == ["frame", "carcass", "panel-assembly", "face-frame"]
    assert "frame, carcass, panel assembly, face frame" in run(*words).output


def test_two_parts_of_a_definition() -> None:
    result = run("choose", BOOKCASE, "top", "left_side")
    assert result.exit_code == 0, result.output
    assert "there now: " in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "give --butting"),
        (("--butting", "oak"), "as in particleboard-p2:18"),
        (("--butting", "oak:nan"), "not a number of mm"),
        (("--butting", "oak:18", "--length", "-3"), "not a number of mm"),
        (("--butting", "oak:18", "--depth", "3"), "belongs to --contact sunk"),
        (("--butting", "oak:18", "--contact", "sunk", "--depth", "18"), "goes through"),
        (("--butting", "oak:18", "--receiving", "oak:20", "--contact", "edge-edge"), "thickness"),
        ((BOOKCASE,), "name two parts"),
        ((BOOKCASE, "a", "b", "c"), "name two parts"),
        ((BOOKCASE, "top", "left_side", "--butting", "oak:18"), "its own boards"),
    ],
)
def test_a_wrong_request_says_what_is_wrong(words: tuple[str, ...], said: str) -> None:
    result = run("choose", *words)
    assert result.exit_code == 2
    assert said in result.output


def test_problems_are_told() -> None:
    result = run("choose", "--butting", "oaks:18")
    assert result.exit_code == 1
    assert "[material-unknown]" in result.output
    data = json.loads(run("choose", BOOKCASE, "topp", "left_side", "--json").output)
    assert data["fine"] is False
    assert [p["code"] for p in data["problems"]] == ["unknown-part"]


def test_the_page_is_not_written_over_other_files(tmp_path: pathlib.Path) -> None:
    out, own = tmp_path / "out", tmp_path / "own.yaml"
    out.mkdir()
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    own.write_text("fittings: {cam-and-bolt: {like: nothing}}\n", encoding="utf-8")
    for target, code in ((out, "output-not-ours"), (tmp_path / "new", "catalogue-name")):
        result = run("catalogue", str(own), "--out", str(target), "--no-pdf")
        assert result.exit_code == 1
        assert f"[{code}]" in result.output
    assert {p.name for p in tmp_path.iterdir()} == {"out", "own.yaml"}
    assert (out / "mine.txt").read_text(encoding="utf-8") == "mine"


FAULTY = """\
kdkit: 1
product: Case
boards: {b: {material: particleboard-p2, thickness: 18}}
panels:
  left: {board: b, x: {from: 0}, y: [0, 300], z: [0, 600]}
  right: {board: b, x: {to: 600}, y: [0, 300], z: [0, 600]}
  bottom: {board: b, x: [18, 582], y: [0, 300], z: {from: 0}}
  top: {board: b, x: [18, 582], y: [0, 300], z: {to: 600}}
joints:
  - {join: [bottom, top], to: left, fittings: [dowel-8x30]}
  - {join: bottom, to: right, fittings: [{fitting: dowel-8x30, at: [900]}]}
"""


def test_the_pair_is_judged_though_another_joint_is_at_fault(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "case.yaml"
    file.write_text(FAULTY, encoding="utf-8")
    faulty = run("choose", str(file), "top", "right")
    file.write_text(FAULTY.replace("900", "50"), encoding="utf-8")
    sound = run("choose", str(file), "top", "right")
    assert faulty.exit_code == sound.exit_code == 0, faulty.output
    assert faulty.stdout == sound.stdout
    assert "None of" not in faulty.stdout
    assert "bottom to right has a fault of its own" in faulty.stderr
    assert "judged-without" not in sound.stderr


def test_the_pair_is_judged_though_other_parts_hold_each_other(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "ring.yaml"
    shelf = "  shelf: {board: carcass, x: [300, 600], y: [0, 200], z: {from: 0}}\njoints:\n"
    file.write_text(RING.replace("joints:\n", shelf), encoding="utf-8")
    result = run("choose", str(file), "shelf", "floor")
    assert result.exit_code == 0, result.output
    assert "None of" not in result.stdout
    assert "no-assembly-order" not in result.stdout
    assert "judged-without" in result.stderr
    in_the_ring = run("choose", str(file), "rear", "floor")
    assert "no-assembly-order" in in_the_ring.stdout  # dowels here close the ring
    assert "judged-without" not in in_the_ring.stderr
