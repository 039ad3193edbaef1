"""Doors in a plan: hung last, by their hinges, after what they shut in; replayed and checked."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.pipeline import Request, check
from kdkit.plan.plan import OperationKind, Plan
from kdkit.plan.taking_apart import divide_product, replace_part
from kdkit.publish.results import Results
from tests.replay import replay

CUPBOARD = pathlib.Path(__file__).parents[2] / "golden" / "two-doors" / "definition.yaml"


def planned(file: pathlib.Path) -> tuple[Results, Plan]:
    outcome = check(Request(file=file), risks=False)
    assert outcome.results is not None, outcome.problems
    assert outcome.results.plan is not None
    return outcome.results, outcome.results.plan


def check_replay(results: Results, plan: Plan) -> int:
    made = (results.resolved, results.assembly, results.joinery, results.catalogue)
    return replay(made, plan)


def changed(folder: pathlib.Path, *swaps: tuple[str, str]) -> pathlib.Path:
    text = CUPBOARD.read_text(encoding="utf-8")
    for old, new in swaps:
        assert old in text, old
        text = text.replace(old, new)
    file = folder / "definition.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def test_doors_come_last_after_what_lies_behind_them() -> None:
    results, plan = planned(CUPBOARD)
    assert check_replay(results, plan) == 7
    moves = [
        (o.kind, o.parts)
        for o in map(plan.operation, plan.order)
        if o.kind in (OperationKind.MATE, OperationKind.LOAD, OperationKind.STAND)
    ]
    tail = [parts for _, parts in moves[-3:]]
    assert tail == [("shelf",), ("left_door",), ("right_door",)]
    kinds = [kind for kind, _ in moves]
    assert kinds.index(OperationKind.STAND) == len(kinds) - 4
    for name in ("left_door", "right_door"):
        mate = plan.operation(f"mate/{name}")
        assert mate.direction == pytest.approx((0.0, 1.0, 0.0))
        assert mate.held == ()  # its hinges hold it
        assert "shelf" in mate.onto


def test_handles_go_on_the_doors_before_they_shut_the_inside() -> None:
    _, plan = planned(CUPBOARD)
    order = list(plan.order)
    for name in ("left_door", "right_door"):
        assert order.index(f"fixture/handle-128 on {name}") < order.index(f"mate/{name}")
        assert plan.operation(f"fixture/handle-128 on {name}").tool == "screwdriver-h2"


def test_plates_and_cups_are_fitted_first_and_the_doors_adjusted_last() -> None:
    _, plan = planned(CUPBOARD)
    order = list(plan.order)
    mate = order.index("mate/left_door")
    fitted = [
        "fit/left_side/mounting-plate-h2",
        "fit/left_side/plate-screw-6.3x13",
        "fit/left_door/cup-hinge-overlay-35",
        "fit/left_door/screw-3.5x13-pan",
    ]
    assert all(order.index(id) < mate for id in fitted)
    adjusted = [o for o in plan.operations if o.does == ("adjust",)]
    assert {o.parts for o in adjusted} == {
        ("left_door", "left_side"),
        ("right_door", "right_side"),
    }
    assert all(order.index(o.id) > order.index(f"mate/{o.parts[0]}") for o in adjusted)
    assert all(not o.items for o in adjusted)


@pytest.mark.parametrize("angle", [90, 180, 30])
def test_a_cupboard_turned_as_a_unit_plans_alike(tmp_path: pathlib.Path, angle: int) -> None:
    (tmp_path / "cupboard.yaml").write_text(CUPBOARD.read_text(encoding="utf-8"), encoding="utf-8")
    file = tmp_path / "product.yaml"
    turn = f"{{about: [0, 0, 0], axis: z, angle: {angle}}}"
    file.write_text(
        "kdkit: 1\nproduct: Turned\nunits:\n"
        f"  one: {{file: cupboard.yaml, at: [0, 0, 0], turns: [{turn}]}}\n"
        "safety: {wall_restraint: none, clothing_storage: false}\n",
        encoding="utf-8",
    )
    results, plan = planned(file)
    assert check_replay(results, plan) == 7
    straight, _ = planned(CUPBOARD)
    here = sorted(
        (b.part.removeprefix("one."), b.surface, b.purpose, *(round(c, 4) + 0.0 for c in b.mouth))
        for b in results.joinery.bores
    )
    there = sorted(
        (b.part, b.surface, b.purpose, *(round(c, 4) + 0.0 for c in b.mouth))
        for b in straight.joinery.bores
    )
    assert here == there


FLAP = """\
  left_door:
    board: carcass
    title: Flap
    x: [1.5, width - 1.5]
    y: {to: -1}
    z: [1.5, height - 1.5]
    face: -y
"""


@pytest.mark.parametrize("on", ["top", "bottom"])
def test_a_flap_hangs_on_a_lying_panel(tmp_path: pathlib.Path, on: str) -> None:
    text = CUPBOARD.read_text(encoding="utf-8")
    start, end = text.index("  left_door:\n"), text.index("joints:")
    text = text[:start] + FLAP + text[end:]
    text = text.replace("{join: left_door, to: left_side,", f"{{join: left_door, to: {on},")
    lines = [line for line in text.splitlines() if "right_door" not in line]
    file = tmp_path / "definition.yaml"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    results, plan = planned(file)
    assert check_replay(results, plan) == 6
    assert plan.operation("mate/left_door").direction == pytest.approx((0.0, 1.0, 0.0))


def test_inset_doors_plan_and_replay(tmp_path: pathlib.Path) -> None:
    file = changed(
        tmp_path,
        ("    x: [1.5, width / 2 - 1.5]\n", "    x: [left_side.x1 + 2, width / 2 - 1.5]\n"),
        (
            "    y: {to: -1}\n    z: [1.5, height - 1.5]\n",
            "    y: {from: 0}\n    z: [21, height - 21]\n",
        ),
        ("x: {to: width - 1.5}", "x: {to: right_side.x0 - 2}"),
        ("cup-hinge-overlay", "cup-hinge-inset"),
        ("y: [20, depth]\n", "y: [40, depth]\n"),
        ("-19, 500", "0, 500"),
    )
    results, plan = planned(file)
    assert check_replay(results, plan) == 7
    assert plan.order.index("mate/left_door") > plan.order.index("load/shelf")


def test_doors_come_off_before_what_they_shut_in_and_go_on_after_it() -> None:
    results, _ = planned(CUPBOARD)
    made = (results.resolved, results.assembly, results.joinery, results.catalogue)
    apart, problems = divide_product(*made)
    assert apart is not None, problems
    out = [o.parts for o in apart.out.operations if o.kind is OperationKind.REMOVE]
    assert out == [("left_door",), ("right_door",), ("shelf",)]
    kinds = (OperationKind.MATE, OperationKind.LOAD)
    back = [
        o.parts for o in (apart.back.operation(id) for id in apart.back.order) if o.kind in kinds
    ]
    assert back[0] == ("shelf",)
    assert sorted(back[1:]) == [("left_door",), ("right_door",)]


def test_a_door_alone_comes_off_in_one_move_and_takes_its_hinges_along() -> None:
    results, _ = planned(CUPBOARD)
    made = (results.resolved, results.assembly, results.joinery, results.catalogue)
    apart, problems = replace_part(*made, "left_door")
    assert apart is not None, problems
    out = [o.kind for o in apart.out.operations]
    assert out == [OperationKind.REMOVE]  # nothing is unscrewed: the hinges unhook
    fitted = [o for o in apart.back.operations if o.kind is OperationKind.FIT]
    assert {o.parts for o in fitted} == {("left_door",)}


def test_a_heavy_door_takes_two_persons(tmp_path: pathlib.Path) -> None:
    file = changed(
        tmp_path, ("clothing_storage: false}", "clothing_storage: false, heavy_part: 3}")
    )
    _, plan = planned(file)
    mate = plan.operation("mate/left_door")
    # 4.17 of board, and two hinges of 62 g with their screws of 5.
    assert mate.mass == pytest.approx(4.17 + 2 * 0.072, abs=0.05)
    assert mate.why_two
