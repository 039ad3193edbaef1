"""How the first part is put down: laid on a face, or stood on an edge."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from kdkit.plan.plan import Operation, OperationKind, Posture, Step
from kdkit.publish.manual.steps import _begin
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests import handmade


@pytest.mark.parametrize(
    ("posture", "told"),
    [
        (Posture.ON_BACK, "Stand left side A on its back edge, as drawn: what will be its back"),
        (Posture.ON_LEFT, "Lay left side A on the floor: what will be its left side"),
        (Posture.STANDING, ""),
    ],
)
def test_a_panel_that_stands_on_its_edge_is_told_to_be_stood(posture: Posture, told: str) -> None:
    results = handmade.results()
    messages = load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    mate = Operation(
        id="mate/back", kind=OperationKind.MATE, parts=("back",), onto=("left_side",), items={},
        joints=(), posture=posture,
    )  # fmt: skip
    step: Step = replace(results.plan.steps[0], posture=posture)
    begun = _begin(step, [mate], results, names, messages)
    lines = [re.sub("<[^>]*>", "", line).replace("\u00a0", " ") for line in begun]
    assert len(lines) == bool(told)
    assert all(line.startswith(told) for line in lines), lines
