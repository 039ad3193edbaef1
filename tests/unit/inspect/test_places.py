"""Where parts stand: on the floor or above it, and together."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

CASE = """\
kdkit: 1
product: Case
boards:
  wood: {material: particleboard-p2, thickness: 18}
panels:
  left: {board: wood, x: {from: 0}, y: [0, 300], z: [{low}, 700]}
  right: {board: wood, x: {from: 582}, y: [0, 300], z: [{low}, 700]}
  shelf: {board: wood, x: [18, 582], y: [0, 300], z: {from: 100}}
  loose: {board: wood, loose: true, x: {place}, y: [0, 290], z: {from: 118}}
joints:
  - {join: shelf, to: [left, right], fittings: [dowel-6x30]}
"""


def told(tmp_path: pathlib.Path, low: str, place: str) -> list[str]:
    file = tmp_path / "case.yaml"
    text = CASE.replace("{low}", low).replace("{place}", place)
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(file)])
    assert "[fitting-unknown]" not in result.stderr
    return [
        line.split(" warning: ")[1]
        for line in result.stderr.splitlines()
        if "[part-below-floor]" in line or "[part-far-away]" in line
    ]


@pytest.mark.parametrize(("low", "parts"), [("0", []), ("-0.004", []), ("-0.1", ["left", "right"])])
def test_no_part_reaches_below_the_floor(
    tmp_path: pathlib.Path, low: str, parts: list[str]
) -> None:
    message = "reaches 0.1 mm below the floor, which is z = 0 [part-below-floor]"
    assert told(tmp_path, low, "[20, 580]") == [f"{part} {message}" for part in parts]


def test_a_wall_cabinet_may_begin_anywhere_above_the_floor(tmp_path: pathlib.Path) -> None:
    assert told(tmp_path, "50", "[20, 580]") == []


@pytest.mark.parametrize(
    ("place", "gap"), [("[1600, 2160]", ""), ("[1601, 2161]", "1001"), ("[-1561, -1001]", "1001")]
)
def test_a_part_far_from_all_others_is_told(tmp_path: pathlib.Path, place: str, gap: str) -> None:
    message = f"between loose and the other parts there are {gap} mm of nothing along x"
    assert told(tmp_path, "0", place) == ([f"{message} [part-far-away]"] if gap else [])
