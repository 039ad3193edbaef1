"""The way in of parts that take more than one move, as the picture of a step shows it."""

from __future__ import annotations

import math

import pytest

from kdkit.illustrate.staging.legs import legs_of, turned_point
from kdkit.plan.plan import Moves, Operation, OperationKind, Slide, Tilt

DOWN, LEFT = (0.0, 0.0, -1.0), (-1.0, 0.0, 0.0)
LET_DOWN = Tilt((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), -90.0)


def mate(moves: Moves, kind: OperationKind = OperationKind.MATE) -> Operation:
    return Operation(id="mate/lid", kind=kind, parts=("lid",), items={}, moves=moves)


def test_one_straight_move_has_no_legs() -> None:
    assert legs_of(mate(())) is None


def test_down_and_then_to_the_left() -> None:
    legs = legs_of(mate((Slide(DOWN), Slide(LEFT, 50.0))))
    assert legs is not None
    assert legs.path((0.0, 0.0, 0.0), 80.0) == (
        (50.0, 0.0, 80.0),
        (50.0, 0.0, 0.0),
        (0.0, 0.0, 0.0),
    )


def test_the_way_out_is_the_way_in_read_backwards() -> None:
    out = (Slide((1.0, 0.0, 0.0), 50.0), Slide((0.0, 0.0, 1.0)))
    legs = legs_of(mate(out, OperationKind.REMOVE))
    assert legs == legs_of(mate((Slide(DOWN, math.inf), Slide(LEFT, 50.0))))


def test_a_lid_stands_up_before_it_is_let_down() -> None:
    assert turned_point((0.0, 10.0, 0.0), LET_DOWN) == pytest.approx((0.0, 0.0, 10.0))
    legs = legs_of(mate((Slide(DOWN), LET_DOWN)))
    assert legs is not None
    start, stood, end = legs.path((0.0, 10.0, 0.0), 30.0)
    assert start == pytest.approx((0.0, 0.0, 40.0))
    assert stood == pytest.approx((0.0, 0.0, 10.0))
    assert end == (0.0, 10.0, 0.0)
