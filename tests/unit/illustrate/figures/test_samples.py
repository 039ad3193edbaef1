"""A step's picture for every joint of the catalogue: every piece of hardware is in it."""

from __future__ import annotations

import pytest

from kdkit.illustrate import draw_figures, sketch_figures
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.illustrate.staging.subject import item_name, step_bodies
from kdkit.joinery.placed import Fastener
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from kdkit.publish.results import Results
from kdkit.schedule import Schedules, make_schedules
from tests.conservation import conserved
from tests.samples import JOINTS, Sample, make_sample, pairs


@pytest.fixture(scope="module")
def style() -> Style:
    found, problems = load_style()
    assert found is not None, problems
    return found


def comes_fitted(sample: Sample, fastener: Fastener, item: str) -> bool:
    actions = sample.joinery.fittings[fastener.fitting].actions
    return any(a.item == item and a.stage == "workshop" for a in actions)


def bags_agree(schedules: Schedules, plan: Plan, sample: Sample) -> list[str]:
    """Return what breaks the law of counts in a sample."""
    results = Results(
        resolved=sample.resolved,
        catalogue=sample.catalogue,
        assembly=sample.assembly,
        joinery=sample.joinery,
        plan=plan,
        schedules=schedules,
        figures={},
    )
    return conserved(results)


@pytest.mark.parametrize("key", JOINTS)
def test_every_piece_of_a_sample_is_drawn(key: str, style: Style) -> None:
    sample = make_sample(key, *pairs(key)[-1])
    plan, problems = make_plan(sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
    assert isinstance(plan, Plan), problems
    values = (sample.resolved, sample.assembly, sample.joinery, sample.catalogue, plan)
    schedules = make_schedules(*values)
    assert bags_agree(schedules, plan, sample) == []
    sketches = sketch_figures(*values, schedules, style)
    drawn: set[str] = set()
    for sketch in sketches.steps.values():
        for plate in sketch.plates:
            bodies = step_bodies(sketches.subject, plate.state, plate.apart, scale=0.2)
            names = {body.name for body in bodies if body.faces}
            for one in plate.state.items:
                if one.new:
                    assert item_name(one) in names
                    drawn.add(item_name(one))
    for fastener in sample.joinery.fasteners:
        for item in fastener.items:
            if not comes_fitted(sample, fastener, item.item):
                assert f"{fastener.id}#{item.index}" in drawn
    figures = draw_figures(sketches)
    for line in schedules.hardware:
        assert figures[f"item-{line.item}"].primitives
    assert all(figures[f"step-{step.number}"].primitives for step in plan.steps)
