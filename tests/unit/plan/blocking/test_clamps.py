"""Clamps: an order that leaves them room where there is one, a warning where there is none."""

from __future__ import annotations

import itertools
import pathlib
from dataclasses import replace

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.diagnostics import Problem, Severity
from kdkit.model.resolved import UnitUse
from kdkit.plan import make_plan
from kdkit.plan.plan import Operation, OperationKind, Plan
from tests.boxes import Made, board
from tests.cabinets import joint, use
from tests.gallery.glued import joined_panel, raked_leg
from tests.gallery.tooled import placed
from tests.replay import replay

THREE = """\
kdkit: 1
product: Three boards
boards: {{b: {{material: beech, thickness: 20}}}}
panels:
  one: {{board: b, x: [0, 600], y: [0, 70], z: {{from: 0}}}}
  two: {{board: b, x: [0, 600], y: [70, 140], z: {{from: 0}}}}
  three: {{board: b, x: [0, 600], y: [140, 210], z: {{from: 0}}}}
joints:
  - {{join: {0}, to: {1}, fittings: [{4}]}}
  - {{join: {2}, to: {3}, fittings: [{4}]}}
"""
WRITTEN = [
    (*a, *b) for a in (("one", "two"), ("two", "one")) for b in (("two", "three"), ("three", "two"))
]


def planned(made: Made) -> tuple[Plan, tuple[Problem, ...]]:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    assert replay(made, plan) == len(made[1].parts) - 1
    return plan, problems


def clampings(plan: Plan) -> list[Operation]:
    done = map(plan.operation, plan.order)
    return [o for o in done if o.kind is OperationKind.WAIT and o.tool == "clamps"]


@pytest.mark.parametrize("fitting", ["glued", "biscuit-20", "dowel-8x35-glued"])
@pytest.mark.parametrize("written", WRITTEN, ids=" ".join)
def test_boards_edge_to_edge_have_a_plan_whichever_way_they_are_written(
    tmp_path: pathlib.Path, written: tuple[str, ...], fitting: str
) -> None:
    file = tmp_path / "three.yaml"
    file.write_text(THREE.format(*written, fitting), encoding="utf-8")
    result = CliRunner().invoke(group, ["plan", str(file)])
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("1 step")
    assert "clamp-no-room" not in result.output


def test_the_manual_tells_one_clamping_of_all_that_is_glued_at_once(tmp_path: pathlib.Path) -> None:
    file, out = tmp_path / "three.yaml", tmp_path / "out"
    file.write_text(THREE.format("one", "two", "two", "three", "glued"), encoding="utf-8")
    result = CliRunner().invoke(group, ["build", str(file), "--out", str(out)])
    assert result.exit_code == 0, result.output
    manual = (out / "manual.html").read_text(encoding="utf-8")
    assert manual.count("Then take the clamps off.") == 1


def test_boards_glued_at_once_are_clamped_at_once() -> None:
    for pairs in itertools.product(
        (("one", "two"), ("two", "one")), (("two", "three"), ("three", "two"))
    ):
        plan, problems = planned(joined_panel(pairs))
        assert problems == ()
        (clamping,) = clampings(plan)
        assert len(clamping.joints) == 2
        assert clamping.no_room == ()


def test_a_leaning_leg_is_glued_and_told_how() -> None:
    made = raked_leg()
    plan, problems = planned(made)
    (problem,) = [p for p in problems if p.code == "clamp-no-room"]
    assert problem.severity is Severity.WARNING
    assert "on Rear leg" in problem.message
    assert "Rail" in problem.message
    assert "wedge" in problem.help
    assert "band" in problem.help
    marked = {joint for o in plan.operations for joint in o.no_room}
    assert marked == {"rail-rear_leg"}
    assert all("rail-rear_leg" in o.joints for o in plan.operations if o.no_room)


LEANING = """\
kdkit: 1
product: Side of a chair
boards: {leg: {material: beech, thickness: 30}, rail: {material: beech, thickness: 20}}
panels:
  front_leg: {title: Front leg, board: leg, x: {from: 0}, y: [-40, 0], z: [0, 400]}
  rear_leg:
    title: Rear leg
    board: leg
    x: {from: 0}
    outline: [[400, 0], [440, 0], [440, 90], [540, 700], [500, 700], [400, 110]]
  rail: {title: Rail, board: rail, x: {from: 5}, y: [0, 400], z: [60, 140]}
joints:
  - {join: rail, to: [front_leg, rear_leg], fittings: [glued]}
"""


def test_the_manual_says_what_does_where_no_clamp_stands(tmp_path: pathlib.Path) -> None:
    file, out = tmp_path / "chair.yaml", tmp_path / "out"
    file.write_text(LEANING, encoding="utf-8")
    result = CliRunner().invoke(group, ["build", str(file), "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert "[clamp-no-room]" in result.stderr
    manual = (out / "manual.html").read_text(encoding="utf-8")
    assert manual.count("draw a band round the whole") == 1


def shelf_behind_a_wall() -> Made:
    """A shelf glued to a divider, and a wall 30 mm behind that, which hides the jaw's place."""
    parts = [
        board("shelf", (0, 0, 300), (400, 300, 318)),
        board("divider", (400, 0, 0), (418, 300, 700)),
        board("wall", (448, 0, 0), (466, 300, 700)),
        board("bottom", (418, 0, 0), (448, 300, 18)),
    ]
    joints = [joint("shelf", "divider", use("glued"))]
    joints += [joint("bottom", wall, use("glued")) for wall in ("divider", "wall")]
    return placed(parts, joints)


def test_the_order_leaves_a_clamp_its_room_where_it_can() -> None:
    plan, problems = planned(shelf_behind_a_wall())
    assert not [p for p in problems if p.code == "clamp-no-room"]
    rank = {id: n for n, id in enumerate(plan.order)}
    (clamped,) = [o for o in clampings(plan) if "shelf-divider" in o.joints]
    walled = next(
        o
        for o in map(plan.operation, plan.order)
        if o.kind is OperationKind.MATE
        and {"divider", "wall"} <= {*o.parts, *o.onto}
        and not {"divider", "wall"} <= set(o.parts)
    )
    assert rank[clamped.id] < rank[walled.id]


def test_a_unit_stays_whole_though_a_clamp_finds_no_room_then() -> None:
    """Put together first, the divider with its wall leaves no place for the shelf's clamp."""
    resolved, *rest = shelf_behind_a_wall()
    unit = UnitUse(name="double", title="Double wall", parts=("divider", "wall", "bottom"))
    plan, problems = planned((replace(resolved, units=(unit,)), *rest))  # type: ignore[arg-type]
    assert [p.code for p in problems] == ["clamp-no-room"]
    whole = [o for o in plan.operations if o.kind is OperationKind.MATE and not o.subassembly]
    assert [{frozenset(o.parts), frozenset(o.onto)} for o in whole] == [
        {frozenset(unit.parts), frozenset({"shelf"})}
    ]
