"""The cutting arithmetic of a 600 × 600 box in 19 mm board, done by the program.

Computed: outside 600, board t = 19. Butt joint 600 − 2t = 562; rebate 12 deep into
the side 600 − 2(t − 12) = 586; housing 6 deep 562 + 2·6 = 574; back in grooves 8 deep
with 1 mm clearance a side 562 + 2·7 = 576; back laid on with a margin of 2 a side 596;
door with gaps of 3, single 597, pair 297 each (the gap is shared between leaves). Mitre: 4 × 600
at the long points, 600 − 2t = 562 at the short ones.
The butt figures are common practice.
"""

from __future__ import annotations

import pathlib

import pytest

from kdkit.model.bevels import back_ring, face_ring
from tests.unit.model.making import resolved

BOX = """\
panels:
  left_side: {board: carcass, x: {from: 0}, y: [0, depth], z: [0, height]}
  right_side: {mirror: left_side, x: {to: width}}
  part: %s
"""

ACROSS = "{board: carcass, x: [%s, %s], y: [0, depth], z: {from: 0}}"
BEHIND = "{board: carcass, x: [%s, %s], y: {from: 280}, z: [0, 100]}"
DOOR = "{board: carcass, x: [%s, %s], y: {to: 0}, z: [0, 100]}"

PARTS = {
    "butt": (ACROSS % ("left_side.x1", "right_side.x0"), 562),
    "butt, by the board": (ACROSS % ("carcass.thickness", "width - carcass.thickness"), 562),
    "rebate": (ACROSS % ("left_side.x1 - 12", "right_side.x0 + 12"), 586),
    "housing": (ACROSS % ("left_side.x1 - 6", "right_side.x0 + 6"), 574),
    "back in grooves": (BEHIND % ("left_side.x1 - 8 + 1", "right_side.x0 + 8 - 1"), 576),
    "back laid on": (BEHIND % ("left_side.x0 + 2", "right_side.x1 - 2"), 596),
    "single door": (DOOR % ("left_side.x0 + 3 / 2", "right_side.x1 - 3 / 2"), 597),
    "door of a pair": (DOOR % ("3 / 2", "(width - 3) / 2"), 297),
}


@pytest.mark.parametrize("joint", PARTS)
def test_length_of_the_600_box_in_19(tmp_path: pathlib.Path, joint: str) -> None:
    said, expected = PARTS[joint]
    part = resolved(tmp_path, BOX % said).part("part")
    length = max(p[0] for p in part.outline)
    assert length == pytest.approx(expected, abs=1e-9)


LET_IN = "{board: carcass, x: [left_side.x1, right_side.x0], y: [0, depth], z: {from: 0}, %s}"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("let_in: {left: 12, right: 12}", 586),
        ("let_in: {left: 6, right: 6}", 574),
        ("let_in: {left: carcass.thickness / 3, right: 0}", 562 + 19 / 3),
    ],
    ids=["rebate", "housing", "one third on one side"],
)
def test_one_word_lets_an_edge_in(tmp_path: pathlib.Path, said: str, expected: float) -> None:
    product = resolved(tmp_path, BOX % (LET_IN % said))
    part = product.part("part")
    assert max(p[0] for p in part.outline) == pytest.approx(expected, abs=1e-9)
    low = part.frame.point_to_outer((0.0, 0.0, 0.0))[0]
    assert low == pytest.approx(19 - (expected - 562) / (1 if "right: 0" in said else 2))


def test_formulas_know_how_far_an_edge_goes(tmp_path: pathlib.Path) -> None:
    text = BOX % (LET_IN % "let_in: {left: 6, right: 6}")
    text += "  under: {board: carcass, x: [part.x0, part.x1], y: [0, depth], z: {to: 0}}\n"
    assert max(p[0] for p in resolved(tmp_path, text).part("under").outline) == 574


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


def test_a_mitre_is_600_at_the_long_points_and_562_at_the_short_ones(
    tmp_path: pathlib.Path,
) -> None:
    product = resolved(tmp_path, MITRED)
    for name in ("left_side", "right_side", "top"):
        part = product.part(name)
        lengths = []
        for ring in (face_ring(part), back_ring(part)):
            along = [p[0] for p in ring]
            lengths.append(max(along) - min(along))
        assert sorted(lengths) == pytest.approx([562, 600])
        long_first = name == "top"
        assert lengths == sorted(lengths, reverse=long_first)
        assert max(p[0] for p in part.outline) == 600


def test_a_mirrored_bevel_keeps_its_long_point_outside(tmp_path: pathlib.Path) -> None:
    product = resolved(tmp_path, MITRED)
    for name, outside in (("left_side", 0.0), ("right_side", 600.0)):
        part = product.part(name)
        on_back = [part.frame.point_to_outer((x, y, -19.0)) for x, y in back_ring(part)]
        assert {round(p[0], 6) for p in on_back} == {outside}
        assert {round(p[2], 6) for p in on_back} == {0.0, 600.0}


def test_bevels_all_round_leave_no_edge_to_band(tmp_path: pathlib.Path) -> None:
    lid = resolved(tmp_path, MITRED).part("lid")
    assert lid.bevels == (30.0,) * 4
    assert lid.bands == (0.0,) * 4


def test_lengths_follow_the_board_and_the_width(tmp_path: pathlib.Path) -> None:
    text = BOX % PARTS["butt"][0]
    part = resolved(tmp_path, text, width=800).part("part")
    assert max(p[0] for p in part.outline) == 762
