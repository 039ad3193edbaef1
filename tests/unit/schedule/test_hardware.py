"""Hardware counts over joints, over steps and in the list."""

from __future__ import annotations

from dataclasses import replace

from kdkit.catalogue.entries import Action
from kdkit.schedule.hardware import list_hardware
from tests import handmade


def test_counts_agree_over_joints_over_steps_and_in_the_list() -> None:
    lines = list_hardware(handmade.joinery(), handmade.catalogue(), handmade.plan())
    assert {line.item: line.quantity for line in lines} == {
        "cam-15": 4,
        "cam-bolt-24": 4,
        "dowel-8x35": 4,
        "nail-25": 4,
        "restraint-strap": 1,
    }
    for line in lines:
        assert sum(line.per_joint.values()) == line.quantity
        assert sum(line.per_step.values()) + line.workshop == line.quantity


def test_numbers_follow_the_steps() -> None:
    lines = list_hardware(handmade.joinery(), handmade.catalogue(), handmade.plan())
    first = [min(line.per_step) for line in lines]
    assert first == sorted(first)
    assert [line.number for line in lines] == [1, 2, 3, 4, 5]


def test_workshop_fitted_items_are_flagged_last() -> None:
    joinery = handmade.joinery()
    nails = joinery.fittings["nails"]
    fitted = nails.model_copy(
        update={"actions": (Action(do="nail", item="nail-25", stage="workshop"),)}
    )
    joinery = replace(joinery, fittings={**joinery.fittings, "nails": fitted})
    plan = handmade.plan()
    steps = tuple(
        replace(s, items={k: n for k, n in s.items.items() if k != "nail-25"}) for s in plan.steps
    )
    lines = list_hardware(joinery, handmade.catalogue(), replace(plan, steps=steps))
    last = lines[-1]
    assert (last.item, last.workshop, last.quantity) == ("nail-25", 4, 4)
    assert last.per_step == {}


def test_without_a_plan_nothing_is_in_a_step() -> None:
    lines = list_hardware(handmade.joinery(), handmade.catalogue(), None)
    assert all(line.per_step == {} and line.quantity > 0 for line in lines)
