"""The push follows the work: where it goes, how hard, and who holds what waits for it."""

from __future__ import annotations

import math

import pytest

from kdkit.plan.choice.balance import hull_of, push_along, push_to_tip
from kdkit.plan.operations.pushing import push_of, pushed_at
from kdkit.plan.plan import Operation, OperationKind, Plan
from tests.product_files import made_of, results_of

SQUARE = hull_of([(0, 0), (400, 0), (400, 300), (0, 300)])
MIDDLE = (200.0, 150.0)


def test_a_level_push_tips_over_the_line_ahead() -> None:
    """By hand: 20 kg, 150 to the line, pushed at 600: 20 · 9.81 · 150 / 600 = 49.05 N."""
    assert push_along(20.0, MIDDLE, SQUARE, (200, 0, 600), (0, 1, 0)) == pytest.approx(49.05)
    assert push_along(20.0, MIDDLE, SQUARE, (200, 0, 600), (1, 0, 0)) == pytest.approx(65.4)
    assert push_to_tip(20.0, 150.0, 600.0) == pytest.approx(49.05)  # any way: the nearest line


def test_what_presses_down_over_its_feet_tips_nothing() -> None:
    down = (0.0, 0.0, -1.0)
    assert push_along(20.0, MIDDLE, SQUARE, (10.0, 10.0, 600.0), down) == math.inf
    # 100 beyond the line, by hand: 20 · 9.81 · 150 / 100.
    assert push_along(20.0, MIDDLE, SQUARE, (200, 400, 600), down) == pytest.approx(294.3)
    assert push_along(20.0, (200.0, 310.0), SQUARE, (200, 100, 600), down) == 0.0


def test_a_push_up_lifts_it_over_the_far_line() -> None:
    """By hand: 50 from the near line, 250 from the far one: 20 · 9.81 · 150 / 250."""
    up = (0.0, 0.0, 1.0)
    assert push_along(20.0, MIDDLE, SQUARE, (200, 50, 0), up) == pytest.approx(117.72)


def plan_of(name: str) -> Plan:
    plan = results_of(name).plan
    assert isinstance(plan, Plan)
    return plan


def test_driving_straight_down_asks_for_nobody_more() -> None:
    """The slats of the hall bench are laid on and screwed from above."""
    plan = plan_of("hall-bench")
    joinery = made_of("hall-bench")[2]
    slats = [o for o in plan.operations if any("slat" in p for p in o.parts) and o.fasteners]
    driven = [o for o in slats if o.kind is OperationKind.FASTEN]
    assert driven
    for operation in driven:
        pushes = pushed_at(operation, joinery)
        assert pushes
        assert all(way == pytest.approx((0, 0, -1)) for _, way in pushes)
        assert operation.persons == 1


def test_feet_driven_level_are_braced_with_the_other_hand() -> None:
    (feet,) = (o for o in plan_of("hall-bench").operations if o.kind is OperationKind.FIXTURE)
    assert feet.braced
    assert feet.persons == 1
    assert feet.push is not None
    assert 25.0 <= feet.push < 50.0


def test_a_cam_is_turned_and_not_pushed() -> None:
    turns = [o for o in plan_of("low-cabinet").operations if o.does == ("turn",)]
    assert turns
    assert all(
        push_of(o) < push_of(Operation(id="", kind=OperationKind.FASTEN, items={})) for o in turns
    )
    assert all(o.persons == 1 for o in turns)


def test_what_hangs_on_dry_dowels_is_held_until_it_is_met_from_both_sides() -> None:
    """The wardrobe's plinth and rear rail stand in the left side alone; its tube in one socket."""
    plan = plan_of("wardrobe")
    by_id = {o.id: o for o in plan.operations}
    assert {"plinth", "rear_rail"} <= set(by_id["mate/right_side"].held)
    waits = [by_id[id] for id in ("mate/top", "mate/left_side")]
    assert all("rail" in (*o.held, *o.in_hand) for o in waits)
    # Nobody who lifts a side of 16 kg has a hand left for the tube.
    assert "rail" in by_id["mate/left_side"].held
