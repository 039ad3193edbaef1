"""The long screwdriver of a pocket screw needs its room along the slanted axis."""

from __future__ import annotations

import pytest

from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Plan
from tests.boxes import board
from tests.cabinets import built_in, joint, place, resolved, use

SIDE = board("side", (0, 0, 0), (18, 300, 700))
SHELF = board("shelf", (18, 0, 400), (600, 300, 418))
POCKETS = joint("shelf", "side", use("pocket-screw-4x32-carcass", opens="-z"))


def planned(gap: float) -> Plan | Impossible | None:
    """A shelf with pockets below, and another board that much under it."""
    below = board("below", (18, 0, 400 - gap - 18), (600, 300, 400 - gap))
    parts = [SIDE, SHELF, below]
    joints = [POCKETS, joint("below", "side", use("dowel-8x35"))]
    joinery, assembly = place(parts, joints)
    plan, _ = make_plan(resolved(parts, joints), assembly, joinery, built_in())
    return plan


@pytest.mark.parametrize("gap", [20, 60])
def test_what_closes_the_room_comes_after_the_screws(gap: float) -> None:
    """The screwdriver runs out 250 + 32 long at 15 degrees: it drops by more than 60."""
    plan = planned(gap)
    assert isinstance(plan, Plan)
    driven = next(
        n
        for n, id in enumerate(plan.order)
        if plan.operation(id).does == ("drive",) and "pocket-screw-4x32" in plan.operation(id).items
    )
    assert plan.order.index("mate/below") > driven
    assert any("screwdriver" in p.reason for p in plan.precedences)


def test_with_room_enough_either_may_come_first() -> None:
    plan = planned(250)
    assert isinstance(plan, Plan)
    assert not any("screwdriver" in p.reason for p in plan.precedences)
