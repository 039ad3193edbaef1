"""Every fixture of the catalogue on boards of every thickness that it allows, all stages."""

from __future__ import annotations

import pytest

from kdkit.diagnostics import Severity
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from tests.fixture_samples import FIXTURES, make_fixture_sample, thicknesses
from tests.replay import replay


@pytest.mark.parametrize("key", FIXTURES)
def test_a_fixture_at_every_thickness(key: str) -> None:
    for t in thicknesses(key):
        sample = make_fixture_sample(key, t)
        assert [p for p in sample.problems if p.severity is not Severity.ADVICE] == [], t


@pytest.mark.parametrize("key", FIXTURES)
def test_a_fixture_is_put_on_once(key: str) -> None:
    sample = make_fixture_sample(key, thicknesses(key)[-1])
    values = (sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
    plan, problems = make_plan(*values)
    assert isinstance(plan, Plan), problems
    assert replay(values, plan) == len(sample.assembly.parts) - 1
    used: dict[str, int] = {}
    for step in plan.steps:
        for item, count in step.items.items():
            used[item] = used.get(item, 0) + count
    there: dict[str, int] = {}
    for fastener in sample.joinery.fasteners:
        fitting = sample.joinery.fittings[fastener.fitting]
        done = {a.item for a in fitting.actions if a.stage == "workshop"}
        for item in fastener.items:
            if item.item not in done:
                there[item.item] = there.get(item.item, 0) + 1
    assert used == there
