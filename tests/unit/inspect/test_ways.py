"""A hook that lets a rail go upwards does so at both of its ends."""

from __future__ import annotations

import json
import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

OWN = """\
fittings:
  hook-in-slot:
    title: Hook plate
    kind: joint
    contact: [edge-face]
    ends: 30
    pitch: 200
    bores:
      - {member: butting, at: [0, 0, 0], into: +k, diameter: 5, depth: 30, purpose: hook}
      - {member: receiving, at: [-8, 0, 0], into: -k, diameter: 8, depth: 10, purpose: hook seat}
    actions: [{do: mate}]
    holds: pinned
    way: WAY
    reversible: true
    sources: ["made up for the test"]
"""

RACK = """\
kdkit: 1
product: Rack
catalogues: [own.yaml]
boards: {oak: {material: plywood-birch, thickness: 18}}
panels:
  left: {board: oak, x: {from: 0}, y: [0, 60], z: [0, 420]}
  right: {board: oak, x: {to: 640}, y: [0, 60], z: [0, 420]}
  rail: {board: oak, x: [left.x1, right.x0], y: {from: 20}, z: [300, 400]}
  foot: {board: oak, x: [left.x1, right.x0], y: [0, 60], z: {from: 0}}
joints:
  - {join: foot, to: [left, right], fittings: [{fitting: screw-5x60, count: 1}]}
  - {join: rail, to: [left, right], fittings: [{fitting: hook-in-slot, count: 1OPENS}]}
"""


def check(folder: pathlib.Path, way: str, opens: str = "") -> dict[str, list[dict[str, object]]]:
    (folder / "own.yaml").write_text(OWN.replace("WAY", way), encoding="utf-8")
    source = folder / "rack.yaml"
    source.write_text(RACK.replace("OPENS", opens), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(source), "--json"])
    found: dict[str, list[dict[str, object]]] = {}
    for problem in json.loads(result.stdout)["problems"]:
        found.setdefault(problem["code"], []).append(problem)
    return found


def test_a_rail_leaves_the_hooks_at_both_ends_the_same_way(tmp_path: pathlib.Path) -> None:
    found = check(tmp_path, "+i")
    assert "no-assembly-order" not in found
    assert "way-turns-round" not in found


def test_one_side_worked_from_for_both_ends_turns_the_way_round(tmp_path: pathlib.Path) -> None:
    (problem,) = check(tmp_path, "+i", ", opens: +y")["way-turns-round"]
    assert "towards the top" in str(problem["message"])
    assert "towards the bottom" in str(problem["message"])
    assert "leave `opens` out" in str(problem["help"])


@pytest.mark.parametrize("way", ["+j", "+k"])
def test_ways_that_do_not_turn_are_not_told(tmp_path: pathlib.Path, way: str) -> None:
    assert "way-turns-round" not in check(tmp_path, way, ", opens: +y")
