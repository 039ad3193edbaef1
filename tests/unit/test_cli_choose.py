"""The commands for joints: one to choose, one for the page of all."""

from __future__ import annotations

import csv
import io
import json
import pathlib
import re

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
    assert "judged among" not in result.output  # of a small product all parts are looked at


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


ROW = """\
kdkit: 1
product: Row
boards: {b: {material: particleboard-p2, thickness: 18}}
panels:
""" + "".join(
    f"  p{n}: {{board: b, x: [0, 200], y: {{from: {18 * n}}}, z: [0, 90], face: +y}}\n"
    for n in range(12)
)


def test_a_large_product_is_judged_round_the_pair(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "row.yaml"
    file.write_text(ROW, encoding="utf-8")
    told = run("choose", str(file), "p3", "p4").output  # one before the two and one behind
    assert "judged among the 4 of 12 parts that touch them" in told


def test_what_is_said_of_the_pair_in_hand() -> None:
    joints = json.loads(run("choose", "--butting", "particleboard-p2:18", "--json").output)[
        "joints"
    ]
    possible = {j["fitting"]: j for j in joints if j["possible"]}
    screwed = possible["screw-4x50"]
    n, d, length, g = (
        float(text) for text in re.findall(r"[nDLG] ([\d.]+)", screwed["holds_by"].split("; ")[1])
    )
    # Worked by hand from what is printed: screws in the edge of particleboard.
    force = n * 31.8 * d**0.5 * (length - d / 3) ** 1.25 * g**2
    assert screwed["holds"] == pytest.approx(force, rel=0.001)
    assert (d, length, g) == (4, 32, 0.65)
    assert "Wood Handbook" in screwed["holds_by"]
    assert screwed["draws_together"]
    assert possible["glued"]["holds"] is None
    assert possible["glued"]["glue_minutes"] == 60
    assert not possible["glued"]["draws_together"]
    assert possible["dowel-8x35"]["accuracy"] == 0.2
    assert possible["dowel-8x35"]["draws_together"] is False
    assert possible["dowel-8x35"]["glue_minutes"] is None
    assert possible["loose-tenon-6x20x40"]["accuracy"] == 0.5


FACED = """\
boards:
  faced:
    title: Faced board
    family: particleboard
    thicknesses: [18]
    strength: [{thickness: [17, 20], density: 650}]
    grained: false
    faced: true
    sources: ["common practice, no source"]
"""


def test_no_glue_is_offered_on_glass_or_on_a_facing(tmp_path: pathlib.Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(FACED, encoding="utf-8")
    for words in (
        ("--butting", "glass:6", "--receiving", "oak:27"),
        ("--butting", "oak:27", "--receiving", "faced:18", "--catalogue", str(own)),
    ):
        joints = json.loads(run("choose", *words, "--json").output)["joints"]
        glued = {j["fitting"] for j in joints if j["possible"] and j["glue"] and not j["items"]}
        assert glued == set()
        because = {j["fitting"]: {r["code"] for r in j["reasons"]} for j in joints}
        assert "cannot-be-glued" in because["glued"]


FRAME = """\
kdkit: 1
product: Frame
boards: {oak: {material: oak, thickness: 20}}
panels:
  upper: {board: oak, x: [0, 500], y: {from: 0}, z: [440, 500], face: -y,
    outline: [[0, 500], [60, 440], [500, 440], [500, 500]]}
  left: {board: oak, x: [0, 60], y: {from: 0}, z: [0, 500], face: -y,
    outline: [[0, 0], [60, 0], [60, 440], [0, 500]]}
  right: {board: oak, x: [440, 500], y: {from: 0}, z: [0, 440], face: -y}
joints:
  - {join: upper, to: left, fittings: [flat-mitre-glued]}
"""


def test_a_mitres_fitting_is_offered_where_members_meet_aslant(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "frame.yaml"
    file.write_text(FRAME, encoding="utf-8")
    for other, offered in (("left", True), ("right", False)):
        joints = json.loads(run("choose", str(file), "upper", other, "--json").output)["joints"]
        found = {
            j["fitting"]: j["possible"] for j in joints if j["fitting"].startswith("flat-mitre")
        }
        assert any(found.values()) is offered, found
