"""What a manual says of doors: hang, adjust three ways, fingers, off first."""

from __future__ import annotations

import pathlib
import re

import pytest

from kdkit.publish.manual.steps import StepContent, write_steps
from kdkit.publish.manual.taking_apart import write_taking_apart
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.product_files import results_of

CUPBOARD = pathlib.Path(__file__).parents[3] / "golden" / "two-doors" / "definition.yaml"
SAY = load_messages("en")


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("two-doors")


@pytest.fixture(scope="module")
def names(results: Results) -> Names:
    return Names(results.resolved, results.catalogue, results.schedules, SAY, {})


@pytest.fixture(scope="module")
def steps(results: Results, names: Names) -> tuple[StepContent, ...]:
    return write_steps(results, names, SAY, lambda key, words: None)


def shown(markup: str) -> str:
    return re.sub("<[^>]*>", "", markup).replace("\u00a0", " ")


def test_the_last_step_hangs_and_adjusts_the_doors(steps: tuple[StepContent, ...]) -> None:
    step = steps[-1]
    assert shown(step.title).startswith("Hang left door")
    told = " ".join(shown(line) for line in step.lines)
    assert "hook the arm of each hinge onto its plate" in told
    for way in ("sideways", "in and out", "up and down"):
        assert way in told
    assert "Adjust 2 × cup hinge" in told  # of each door
    assert "gaps are even" in shown(step.result)
    assert step.items == ()  # nothing new goes in


def test_fingers_are_warned_of_where_doors_are_hung_and_nowhere_else(
    steps: tuple[StepContent, ...],
) -> None:
    warned = [
        step.number for step in steps if any("Fingers" in shown(c.text) for c in step.cautions)
    ]
    assert warned == [steps[-1].number]


def test_taking_apart_begins_with_the_doors(results: Results, names: Names) -> None:
    told = [shown(line) for line in write_taking_apart(results, names, SAY)]
    assert "hold left door" in told[0]
    assert "upper ones last" in told[0]  # hung by them first
    assert "take out shelf" in told[1]
    assert not any("Undo" in line and "hinge" in line for line in told)


def test_hardware_of_hinges_is_counted_once(results: Results) -> None:
    counts = {line.item: line.quantity for line in results.schedules.hardware}
    assert counts["cup-hinge-overlay-35"] == 4
    assert counts["mounting-plate-h2"] == 4
    assert counts["screw-3.5x13-pan"] == 8
    assert counts["plate-screw-6.3x13"] == 8
