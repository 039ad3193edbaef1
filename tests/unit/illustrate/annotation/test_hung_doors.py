"""Pictures of doors: apart along the way they come off, hinges magnified when adjusted."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.explode import move_apart
from kdkit.plan.plan import Step
from kdkit.publish.results import Results
from tests.product_files import results_of

CUPBOARD = pathlib.Path(__file__).parents[3] / "golden" / "two-doors" / "definition.yaml"


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("two-doors")


def step_of(results: Results, operation: str) -> Step:
    assert results.plan is not None
    return next(step for step in results.plan.steps if operation in step.operations)


def test_doors_stand_off_to_the_front_and_lines_run_to_their_plates(results: Results) -> None:
    assert results.plan is not None
    step = step_of(results, "mate/left_door")
    state = step_state(step, results.plan, results.joinery, results.schedules)
    apart = move_apart(
        state, results.assembly, results.joinery, results.catalogue.items, gap=40.0, item_gap=20.0
    )
    for door in ("left_door", "right_door"):
        x, y, z = apart.parts[door]
        assert (x, z) == pytest.approx((0.0, 0.0))
        assert y < -62.0  # farther than the arms of its hinges reach
    plates = {
        item.frame.origin
        for fastener in results.joinery.fasteners
        for item in fastener.items
        if item.item.startswith("mounting-plate")
    }
    ends = {guide.end for guide in apart.guides}
    assert len(plates) == 4
    assert plates <= ends


def test_hinges_are_handled_when_the_doors_are_hung(results: Results) -> None:
    assert results.plan is not None
    step = step_of(results, "mate/left_door")
    state = step_state(step, results.plan, results.joinery, results.schedules)
    adjusted = [one for one in state.items if one.adjusted]
    assert {one.item.item for one in adjusted} == {"cup-hinge-overlay-35"}
    assert len(adjusted) == 4
    assert all(one.handled and not one.new and not one.turned for one in adjusted)
    fitted = step_state(
        step_of(results, "fit/left_door/cup-hinge-overlay-35"),
        results.plan,
        results.joinery,
        results.schedules,
    )
    hinges = [one for one in fitted.items if one.item.item == "cup-hinge-overlay-35"]
    assert hinges
    assert all(one.new and not one.adjusted for one in hinges)
