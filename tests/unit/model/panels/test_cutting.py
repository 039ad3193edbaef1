"""The cutting arithmetic of a box 640 × 400 outside in board of 16, done by the program.

Computed: outside 640, board t = 16. Butt joint 640 − 2t = 608; rebate 10 deep into
the side 640 − 2(t − 10) = 628; housing 5 deep 608 + 2·5 = 618; back in grooves 8 deep
with 1 mm clearance a side 608 + 2·7 = 622; back laid on with a margin of 2 a side 636;
door with gaps of 3, single 637, pair 317 each (the gap is shared between leaves). Mitre: 640
at the long points, 640 − 2t = 608 at the short ones.
The butt figures are common practice.
"""

from __future__ import annotations

import pathlib

import pytest

from kdkit.model.panels.bevels import back_ring, face_ring
from tests.unit.model.making import resolved

HEAD = """\
kdkit: 1
product: Box
parameters: {width: 640, height: 400, depth: 280}
boards: {carcass: {material: particleboard-p2, thickness: 16}}
"""

BOX = """\
panels:
  left_side: {board: carcass, x: {from: 0}, y: [0, depth], z: [0, height]}
  right_side: {mirror: left_side, x: {to: width}}
  part: %s
"""

ACROSS = "{board: carcass, x: [%s, %s], y: [0, depth], z: {from: 0}}"
BEHIND = "{board: carcass, x: [%s, %s], y: {from: 262}, z: [0, 100]}"
DOOR = "{board: carcass, x: [%s, %s], y: {to: 0}, z: [0, 100]}"

PARTS = {
    "butt": (ACROSS % ("left_side.x1", "right_side.x0"), 608),
    "butt, by the board": (ACROSS % ("carcass.thickness", "width - carcass.thickness"), 608),
    "rebate": (ACROSS % ("left_side.x1 - 10", "right_side.x0 + 10"), 628),
    "housing": (ACROSS % ("left_side.x1 - 5", "right_side.x0 + 5"), 618),
    "back in grooves": (BEHIND % ("left_side.x1 - 8 + 1", "right_side.x0 + 8 - 1"), 622),
    "back laid on": (BEHIND % ("left_side.x0 + 2", "right_side.x1 - 2"), 636),
    "single door": (DOOR % ("left_side.x0 + 3 / 2", "right_side.x1 - 3 / 2"), 637),
    "door of a pair": (DOOR % ("3 / 2", "(width - 3) / 2"), 317),
}


@pytest.mark.parametrize("joint", PARTS)
def test_length_of_the_640_box_in_16(tmp_path: pathlib.Path, joint: str) -> None:
    said, expected = PARTS[joint]
    part = resolved(tmp_path, BOX % said, head=HEAD).part("part")
    length = max(p[0] for p in part.outline)
    assert length == pytest.approx(expected, abs=1e-9)


LET_IN = "{board: carcass, x: [left_side.x1, right_side.x0], y: [0, depth], z: {from: 0}, %s}"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("let_in: {left: 10, right: 10}", 628),
        ("let_in: {left: 5, right: 5}", 618),
        ("let_in: {left: carcass.thickness / 3, right: 0}", 608 + 16 / 3),
    ],
    ids=["rebate", "housing", "one third on one side"],
)
def test_one_word_lets_an_edge_in(tmp_path: pathlib.Path, said: str, expected: float) -> None:
    product = resolved(tmp_path, BOX % (LET_IN % said), head=HEAD)
    part = product.part("part")
    assert max(p[0] for p in part.outline) == pytest.approx(expected, abs=1e-9)
    low = part.frame.point_to_outer((0.0, 0.0, 0.0))[0]
    assert low == pytest.approx(16 - (expected - 608) / (1 if "right: 0" in said else 2))


def test_formulas_know_how_far_an_edge_goes(tmp_path: pathlib.Path) -> None:
    text = BOX % (LET_IN % "let_in: {left: 5, right: 5}")
    text += "  under: {board: carcass, x: [part.x0, part.x1], y: [0, depth], z: {to: 0}}\n"
    assert max(p[0] for p in resolved(tmp_path, text, head=HEAD).part("under").outline) == 618


MITRED = """\
panels:
  left_side:
    {board: carcass, x: {from: 0}, y: [0, depth], z: [0, height],
     bevels: {top: {angle: 45, long: -x}, bottom: {angle: 45, long: back}}}
  right_side: {mirror: left_side, x: {to: width}}
  top:
    {board: carcass, x: [0, width], y: [0, depth], z: {to: height},
     bevels: {left: 45, right: 45}}
  lid:
    {board: carcass, x: [0, width], y: [0, depth], z: {from: 900}, bevels: {all: 30},
     bands: {all: 1}}
"""


def test_a_mitre_is_640_at_the_long_points_and_608_at_the_short_ones(
    tmp_path: pathlib.Path,
) -> None:
    product = resolved(tmp_path, MITRED, head=HEAD)
    for name in ("left_side", "right_side", "top"):
        part = product.part(name)
        lengths = []
        for ring in (face_ring(part), back_ring(part)):
            along = [p[0] for p in ring]
            lengths.append(max(along) - min(along))
        long = 640 if name == "top" else 400
        assert sorted(lengths) == pytest.approx([long - 32, long])
        assert lengths == sorted(lengths, reverse=name == "top")
        assert max(p[0] for p in part.outline) == long


def test_a_mirrored_bevel_keeps_its_long_point_outside(tmp_path: pathlib.Path) -> None:
    product = resolved(tmp_path, MITRED, head=HEAD)
    for name, outside in (("left_side", 0.0), ("right_side", 640.0)):
        part = product.part(name)
        on_back = [part.frame.point_to_outer((x, y, -16.0)) for x, y in back_ring(part)]
        assert {round(p[0], 6) for p in on_back} == {outside}
        assert {round(p[2], 6) for p in on_back} == {0.0, 400.0}


def test_bevels_all_round_leave_no_edge_to_band(tmp_path: pathlib.Path) -> None:
    lid = resolved(tmp_path, MITRED, head=HEAD).part("lid")
    assert lid.bevels == (30.0,) * 4
    assert lid.bands == (0.0,) * 4


def test_lengths_follow_the_board_and_the_width(tmp_path: pathlib.Path) -> None:
    text = BOX % PARTS["butt"][0]
    part = resolved(tmp_path, text, head=HEAD, width=800).part("part")
    assert max(p[0] for p in part.outline) == 768
