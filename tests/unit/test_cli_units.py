"""Units through the command line: what is said of them, and how they arrive."""

from __future__ import annotations

import json
import pathlib
import re

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

BOXES = """\
kdkit: 1
product: Two boxes on a base
boards: {oak: {material: plywood-birch, thickness: 18}}
panels:
  base: {board: oak, x: [0, 840], y: [0, 300], z: {from: 0}, face: +z}
unit_definitions:
  box:
    product: Box
    panels:
      left: {board: oak, x: {from: 0}, y: [0, 280], z: [0, 420], face: +x}
      right: {mirror: left, x: {to: 400}}
      top: {board: oak, x: [left.x1, right.x0], y: [0, 280], z: {to: 420}}
      low: {board: oak, x: [left.x1, right.x0], y: [0, 280], z: {from: 0}}
      shelf: {board: oak, x: [19, 381], y: [0, 270], z: {from: 202.5}, loose: true}
    joints:
      - {join: [top, low], to: [left, right], fittings: [dowel-8x35, cam-and-bolt]}
    fixtures:
      - {fitting: shelf-support-5, on: [left, right], rows: {first: 200, last: 264}, carries: shelf}
units:
  one: {define: box, at: [10, 10, 18], workshop: WORKSHOP}
  two: {define: box, at: [430, 10, 18], workshop: WORKSHOP}
joints:
  - {join: [one.low, two.low], to: base, fittings: [glued]}
"""

COLUMN = """\
kdkit: 1
product: Column of bays
safety: {load_per_shelf: 12}
boards: {chip: {material: particleboard-p2, thickness: 16}}
unit_definitions:
  bay:
    product: Bay
    panels:
      left: {board: chip, x: {from: 0}, y: [0, 280], z: [0, 420], face: +x}
      right: {mirror: left, x: {to: 1240}}
      shelf: {board: chip, x: [left.x1, right.x0], y: [0, 280], z: {to: 420}}
    joints:
      - {join: shelf, to: [left, right], fittings: [cam-and-bolt, dowel-8x35]}
units:
"""


@pytest.mark.parametrize("workshop", ["true", "false"])
def test_a_unit_with_a_shelf_to_lay_in_later_comes_whole(
    workshop: str, tmp_path: pathlib.Path
) -> None:
    source = tmp_path / "boxes.yaml"
    source.write_text(BOXES.replace("WORKSHOP", workshop), encoding="utf-8")
    result = CliRunner().invoke(group, ["plan", str(source), "--json"])
    assert result.exit_code == 0, result.output
    assert "unit-not-whole" not in result.stderr
    plan = json.loads(result.stdout)
    whole = {"one.left", "one.low", "one.right", "one.top"}
    assert any(
        operation["kind"] == "mate" and set(operation["parts"]) == whole
        for operation in plan["operations"]
    )


def test_advice_on_a_unit_used_twelve_times_comes_once(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "column.yaml"
    uses = [f"  u{n}: {{define: bay, at: [0, 0, {421 * n}]}}\n" for n in range(12)]
    source.write_text(COLUMN + "".join(uses), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(source)])
    assert len(re.findall(r"(?:advice|warning): .*\[shelf-sags\]", result.stderr)) == 1
    assert "  u0.shelf, and 11 more like it\n" in result.stderr


def test_like_parts_of_one_unit_are_told_at_once(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "column.yaml"
    low = "      low: {board: chip, x: [left.x1, right.x0], y: [0, 280], z: {from: 0}}\n"
    text = COLUMN.replace("      shelf:", f"{low}      shelf:").replace(
        "join: shelf", "join: [low, shelf]"
    )
    source.write_text(f"{text}  u: {{define: bay}}\n", encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(source)])
    assert len(re.findall(r"(?:advice|warning): .*\[shelf-sags\]", result.stderr)) == 1
    assert "  u.low, and 1 more like it\n" in result.stderr
