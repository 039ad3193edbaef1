from __future__ import annotations

import pytest

from kdkit.plan.operations.steps import group_steps, order_operations
from kdkit.plan.plan import Operation, OperationKind, Posture, Precedence, WhyTwo

ALIKE = {"side": "side", "other": "side", "shelf": "shelf", "shelf_2": "shelf", "back": "back"}


def do(kind: OperationKind, *parts: str, **more: object) -> Operation:
    settings: dict[str, object] = {
        "id": f"{kind.value}/{'+'.join(parts)}",
        "kind": kind,
        "parts": parts,
        "items": {},
        "posture": Posture.ON_LEFT,
    }
    return Operation(**{**settings, **more})  # type: ignore[arg-type]


DOWN = (-1.0, 0.0, 0.0)
MATE, FIT, FASTEN = OperationKind.MATE, OperationKind.FIT, OperationKind.FASTEN


def test_parts_alike_share_a_step_with_what_fastens_them() -> None:
    operations = [
        do(FIT, "side", items={"bolt": 2}),
        do(FIT, "other", items={"bolt": 2}),
        do(MATE, "shelf", onto=("side",), direction=DOWN),
        do(FASTEN, "shelf", items={"screw": 2}, tool="screwdriver"),
        do(MATE, "shelf_2", onto=("side", "shelf"), direction=DOWN),
        do(FASTEN, "shelf_2", items={"screw": 2}, tool="screwdriver"),
        do(MATE, "other", onto=("side", "shelf", "shelf_2"), direction=DOWN),
    ]
    steps = group_steps(operations, [o.id for o in operations], ALIKE)
    assert [s.new for s in steps] == [(), ("side", "shelf", "shelf_2"), ("other",)]
    assert steps[0].present == ("side", "other")
    assert steps[0].items == {"bolt": 4}
    assert steps[1].items == {"screw": 4}
    assert steps[1].tools == ("screwdriver",)
    assert steps[2].present == ("side", "shelf", "shelf_2")
    assert [s.number for s in steps] == [1, 2, 3]


def test_turning_and_squaring_join_the_step_they_prepare() -> None:
    everything = ("side", "shelf", "other")
    operations = [
        do(MATE, "shelf", onto=("side",), direction=DOWN),
        do(MATE, "other", onto=("side", "shelf"), direction=DOWN),
        do(OperationKind.TURN, *everything, posture=Posture.ON_FRONT, why_two=(WhyTwo.TURNED,)),
        do(OperationKind.SQUARE, *everything, posture=Posture.ON_FRONT),
        do(MATE, "back", onto=everything, direction=(0.0, -1.0, 0.0), posture=Posture.ON_FRONT),
        do(OperationKind.STAND, *everything, posture=Posture.STANDING),
    ]
    steps = group_steps(operations, [o.id for o in operations], ALIKE)
    assert len(steps) == 4
    assert len(steps[2].operations) == 3
    assert steps[2].posture is Posture.ON_FRONT
    assert steps[2].persons == 2
    assert steps[1].persons == 1
    assert steps[3].posture is Posture.STANDING
    assert steps[3].new == ()


def test_order_is_the_first_in_the_preferred_sequence_that_may_be() -> None:
    operations = [do(MATE, n) for n in ("side", "other", "shelf", "back")]
    edges = [Precedence(before="mate/back", after="mate/other", reason="because")]
    assert order_operations(operations, edges) == (
        "mate/side",
        "mate/shelf",
        "mate/back",
        "mate/other",
    )


def test_late_hardware_comes_right_before_it_is_needed() -> None:
    operations = [
        do(FIT, "side", id="fit/side/later"),
        do(MATE, "shelf"),
        do(FASTEN, "shelf"),
        do(MATE, "other"),
    ]
    edges = [
        Precedence(before="mate/shelf", after="fit/side/later", reason="in the way"),
        Precedence(before="mate/shelf", after="fasten/shelf", reason="together"),
        Precedence(before="fit/side/later", after="mate/other", reason="goes in first"),
    ]
    assert order_operations(operations, edges) == (
        "mate/shelf",
        "fasten/shelf",
        "fit/side/later",
        "mate/other",
    )


def test_operations_that_wait_for_each_other_are_a_fault() -> None:
    operations = [do(MATE, "side"), do(MATE, "other")]
    edges = [
        Precedence(before="mate/side", after="mate/other", reason="a"),
        Precedence(before="mate/other", after="mate/side", reason="b"),
    ]
    with pytest.raises(ValueError, match="wait for each other"):
        order_operations(operations, edges)


def test_the_same_fixture_on_bare_fronts_is_one_step() -> None:
    handle = OperationKind.FIXTURE
    operations = [
        do(MATE, "other", onto=("side",), direction=DOWN),
        do(handle, "shelf", items={"handle": 1}),
        do(MATE, "shelf", onto=("side", "other"), direction=DOWN),
        do(handle, "shelf_2", items={"handle": 1}),
        do(MATE, "shelf_2", onto=("side", "other", "shelf"), direction=DOWN),
    ]
    edges = [
        Precedence(before=f"fixture/{name}", after=f"mate/{name}", reason="it is covered then")
        for name in ("shelf", "shelf_2")
    ]
    order = [o.id for o in operations]
    steps = group_steps(operations, order, ALIKE, precedences=edges)
    handles = [s for s in steps if s.items]
    assert [s.operations for s in handles] == [("fixture/shelf", "fixture/shelf_2")]
    assert handles[0].items == {"handle": 2}
    late = Precedence(before="mate/shelf", after="fixture/shelf_2", reason="it must be there")
    steps = group_steps(operations, order, ALIKE, precedences=[*edges, late])
    assert len([s for s in steps if s.items]) == 2
