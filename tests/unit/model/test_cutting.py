"""The cutting arithmetic of a 600 × 600 box in 19 mm board, done by the program.

Computed: outside 600, board t = 19. Butt joint 600 − 2t = 562; rebate 12 deep into
the side 600 − 2(t − 12) = 586; housing 6 deep 562 + 2·6 = 574; back in grooves 8 deep
with 1 mm clearance a side 562 + 2·7 = 576; back laid on with a margin of 2 a side 596;
door with gaps of 3, single 597, pair 297 each (the gap is shared between leaves).
The butt figures are common practice.
"""

from __future__ import annotations

import pathlib

import pytest

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


def test_lengths_follow_the_board_and_the_width(tmp_path: pathlib.Path) -> None:
    text = BOX % PARTS["butt"][0]
    part = resolved(tmp_path, text, width=800).part("part")
    assert max(p[0] for p in part.outline) == 762
