"""Joints made in the workshop, as a definition says them, down to what is packed."""

from __future__ import annotations

import pathlib

from kdkit.joinery.placed import Joinery
from kdkit.pipeline import Request, check

HEAD = """
kdkit: 1
product: Frame table
boards:
  board: {material: particleboard-p2, thickness: 18}
safety: {wall_restraint: none}
"""
FRAME = """
panels:
  left: {board: board, x: {from: 0}, y: [0, 400], z: [0, 600]}
  right: {mirror: left, x: {to: 800}}
  rail: {board: board, x: [left.x1, right.x0], y: {from: 191}, z: [300, 500]}
"""
TOP = """
  top: {board: board, x: [0, 800], y: [0, 400], z: {from: 600}}
"""


def checked(folder: pathlib.Path, text: str) -> Joinery:
    file = folder / "table.yaml"
    file.write_text(text, encoding="utf-8")
    outcome = check(Request(file=file))
    assert outcome.results is not None, outcome.problems
    return outcome.results.joinery


def workshop_joints(joinery: Joinery) -> set[frozenset[str]]:
    return {frozenset((j.butting, j.receiving)) for j in joinery.joints if j.workshop}


def test_a_joint_says_that_it_is_made_in_the_workshop(tmp_path: pathlib.Path) -> None:
    joinery = checked(
        tmp_path,
        HEAD
        + FRAME
        + TOP
        + """
joints:
  - {join: rail, to: [left, right], workshop: true, fittings: [dowel-8x35-glued]}
  - {join: [left, right], to: top, fittings: [cam-and-bolt]}
""",
    )
    assert workshop_joints(joinery) == {
        frozenset(("rail", "left")),
        frozenset(("rail", "right")),
    }
    shop = {f for j in joinery.joints if j.workshop for f in j.fasteners}
    assert {b.stage for b in joinery.bores if b.fastener in shop} == {"workshop"}


def test_a_unit_says_so_for_all_its_joints(tmp_path: pathlib.Path) -> None:
    inner = "\n".join(f"    {line}" for line in FRAME.strip().splitlines())
    joinery = checked(
        tmp_path,
        HEAD
        + f"""
unit_definitions:
  frame:
    product: Frame
{inner}
    joints:
      - {{join: rail, to: [left, right], fittings: [dowel-8x35-glued]}}
units:
  base: {{define: frame, workshop: true}}
panels:{TOP}
joints:
  - {{join: [base.left, base.right], to: top, fittings: [cam-and-bolt]}}
""",
    )
    assert workshop_joints(joinery) == {
        frozenset(("base.rail", "base.left")),
        frozenset(("base.rail", "base.right")),
    }
