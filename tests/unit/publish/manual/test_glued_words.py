"""What the manual says of things that are glued: pressed flat, square, and never taken apart."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.illustrate.paper.style import load_style
from kdkit.pipeline import Request, check
from kdkit.publish.manual.content import Manual, write_manual
from kdkit.publish.wording.messages import load_messages

STOOL = """\
kdkit: 1
product: Glued stool
boards: {leg: {material: beech, thickness: 36}, rail: {material: beech, thickness: 22}}
panels:
  leg_fl: {board: leg, x: [0, 36], y: {from: 0}, z: [0, 432], face: -y, grain: z}
  leg_fr: {board: leg, x: [324, 360], y: {from: 0}, z: [0, 432], face: -y, grain: z}
  leg_bl: {board: leg, x: [0, 36], y: {to: 320}, z: [0, 432], face: +y, grain: z}
  leg_br: {board: leg, x: [324, 360], y: {to: 320}, z: [0, 432], face: +y, grain: z}
  side_l: {board: rail, x: {from: 7}, y: [36, 284], z: [362, 432], face: -x, grain: y}
  side_r: {board: rail, x: {to: 353}, y: [36, 284], z: [362, 432], face: +x, grain: y}
  front: {board: rail, x: [36, 324], y: {from: 7}, z: [362, 432], face: -y, grain: x}
  back: {board: rail, x: [36, 324], y: {to: 313}, z: [362, 432], face: +y, grain: x}
joints:
  - {join: side_l, to: [leg_fl, leg_bl], fittings: [dowel-8x35-glued]}
  - {join: side_r, to: [leg_fr, leg_br], fittings: [dowel-8x35-glued]}
  - {join: front, to: [leg_fl, leg_fr], fittings: [dowel-8x35-glued]}
  - {join: back, to: [leg_bl, leg_br], fittings: [dowel-8x35-glued]}
safety: {wall_restraint: none}
"""

TOP = """\
kdkit: 1
product: Glued board
boards: {wide: {material: beech, thickness: 32}}
panels:
  front: {board: wide, x: [0, 700], y: [0, 130], z: {from: 0}, face: +z, grain: x}
  back: {board: wide, x: [0, 700], y: [130, 260], z: {from: 0}, face: +z, grain: x}
joints:
  - {join: front, to: back, fittings: [FITTING]}
safety: {wall_restraint: none}
"""


def manual_of(folder: pathlib.Path, definition: str) -> Manual:
    file = folder / "product.yaml"
    file.write_text(definition, encoding="utf-8")
    outcome = check(Request(file=file), risks=False)
    assert outcome.results is not None, outcome.problems
    style, _ = load_style()
    assert style is not None
    manual, _ = write_manual(outcome.results, load_messages("en"), style)
    return manual


def words_of(manual: Manual) -> str:
    return " ".join(line for step in manual.steps for line in map(str, step.lines))


def test_a_stool_is_squared_and_stands_level_while_its_glue_sets(tmp_path: pathlib.Path) -> None:
    manual = manual_of(tmp_path, STOOL)
    text = words_of(manual)
    measured = text.index("At once measure both diagonals")
    level = text.index("stand on a level surface in the clamps: it must not rock")
    assert measured < level < text.rindex("Leave it to set for 60 minutes")
    # All of it is glued: nothing is tightened, and nothing comes apart.
    assert manual.all_glued
    assert "Tighten" not in manual.care
    assert not any("tight" in line or "four weeks" in line for line in manual.final)


@pytest.mark.parametrize("fitting", ["dowel-8x35-glued", "biscuit-20"])
def test_wide_and_thick_boards_are_glued_edge_to_edge(fitting: str, tmp_path: pathlib.Path) -> None:
    """130 of wood behind the dowels, 32 thick: on bearers, kept flush."""
    text = words_of(manual_of(tmp_path, TOP.replace("FITTING", fitting)))
    assert "Lay the boards on straight bearers" in text
    assert "to keep the boards flush" in text
