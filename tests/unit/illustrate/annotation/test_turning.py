"""Turn-overs, diagonals, glue and the wall: what opens or closes the work is drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kdkit.illustrate.annotation.glue import drop_places
from kdkit.illustrate.annotation.turning import square_inset, turning_inset, turning_shapes
from kdkit.illustrate.paper.figure import Area, Line
from kdkit.illustrate.paper.moving import extent
from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.plates import lay_plates
from kdkit.illustrate.staging.subject import Subject
from kdkit.illustrate.staging.wall import wall_bodies
from kdkit.plan.plan import Operation, OperationKind, Posture


@pytest.fixture(scope="module")
def subject(bookcase: Any) -> Subject:
    return Subject(
        assembly=bookcase.assembly, joinery=bookcase.joinery, catalogue=bookcase.catalogue
    )


def state_of(bookcase: Any, operation: str) -> Any:
    step = next(s for s in bookcase.plan.steps if operation in s.operations)
    return step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)


def test_standing_up_is_drawn_taller_than_lying(bookcase: Any, subject: Subject) -> None:
    parts = state_of(bookcase, "stand").parts
    lying = turning_shapes(subject, parts, Posture.ON_FRONT, Posture.ON_FRONT, size=40.0)
    standing = turning_shapes(subject, parts, Posture.STANDING, Posture.STANDING, size=40.0)
    flat, tall = extent(lying), extent(standing)
    assert tall[3] - tall[1] > flat[3] - flat[1]
    assert sum(isinstance(s, Line) and s.pen == "ground" for s in standing) == 2


def test_a_turn_that_opens_a_step_gets_an_inset(bookcase: Any, subject: Subject) -> None:
    state = state_of(bookcase, "mate:back")
    turn = Operation(
        id="turn",
        kind=OperationKind.TURN,
        items={},
        posture=Posture.ON_FRONT,
        parts=state.parts,
    )
    turned = replace(state, operations=(turn, *state.operations))
    assert turning_inset(subject, turned, Posture.ON_LEFT)
    assert turning_inset(subject, turned, Posture.ON_FRONT) == ()
    assert turning_inset(subject, state, Posture.ON_LEFT) == ()


def test_squaring_shows_two_diagonals_with_equal_marks(bookcase: Any, subject: Subject) -> None:
    state = state_of(bookcase, "square")
    shapes = square_inset(subject, state)
    heads = [s for s in shapes if isinstance(s, Area) and s.tone == "arrow"]
    assert len(heads) == 4
    assert square_inset(subject, state_of(bookcase, "stand")) == ()


def test_glue_is_dropped_over_every_joint_that_is_seen(bookcase: Any, subject: Subject) -> None:
    state = state_of(bookcase, "mate:top")
    plates, scale = lay_plates(subject, state, None, (150.0, 90.0), 0.25)
    plate = plates[0]
    view = plate.view.at_scale(scale)
    assert drop_places(subject, state, plate.apart, plate.shown, view) == []
    glue = Operation(
        id="glue", kind=OperationKind.GLUE, items={}, parts=("top",), joints=("top.left_side",)
    )
    glued = replace(state, operations=(glue, *state.operations))
    assert drop_places(subject, glued, plate.apart, plate.shown, view)


def test_a_wall_stands_behind_only_what_is_fixed_to_it(bookcase: Any, subject: Subject) -> None:
    state = state_of(bookcase, "load")
    assert wall_bodies(subject, state) == ()
    secure = Operation(id="secure", kind=OperationKind.SECURE, items={}, parts=("top",))
    (wall,) = wall_bodies(subject, replace(state, operations=(secure,)))
    assert min(corner[1] for corner in wall.corners()) > 303.0
