"""In which steps parts and hardware are taken in hand: one rule for packer, slip and desk."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.placed import Joinery
from kdkit.plan.plan import Operation, OperationKind, Plan

__all__ = ["steps_of_hardware", "steps_of_parts"]

_TO_WHAT_IS_THERE = ("turn", "clamp", "adjust", "trim")
"""Actions that use nothing up: what they are done to was put in before."""


def steps_of_parts(plan: Plan) -> Mapping[str, tuple[int, ...]]:
    """Return for each part the step that first needs it, and those in which it is put on.

    They differ where hardware goes into a part before it is put on: whoever unpacks it, or has a
    new one, begins with the first.
    """
    found: dict[str, list[int]] = {}
    for step in plan.steps:
        for name in (*step.new, *step.others):
            found.setdefault(name, []).append(step.number)
        for name in step.present:
            found.setdefault(name, [step.number])
    return {name: tuple(steps) for name, steps in found.items()}


def steps_of_hardware(
    plan: Plan, joinery: Joinery, catalogue: Catalogue
) -> Mapping[str, tuple[int, ...]]:
    """Return for each item the steps that use it up, and those in which it is turned.

    A cam lock is laid in in one step and turned in a later one; a caller who has a new one needs
    both.
    """
    found: dict[str, set[int]] = {}
    for step in plan.steps:
        for item, count in step.items.items():
            if count > 0:
                found.setdefault(item, set()).add(step.number)
        for operation in map(plan.operation, step.operations):
            for item in _done_to(operation, joinery, catalogue):
                found.setdefault(item, set()).add(step.number)
    return {item: tuple(sorted(steps)) for item, steps in found.items()}


def _done_to(operation: Operation, joinery: Joinery, catalogue: Catalogue) -> set[str]:
    """Return the items that are there already and that an operation does something to."""
    if operation.kind is not OperationKind.FASTEN:
        return set()
    worked = set(operation.fasteners)
    items = set()
    for fastener in (one for one in joinery.fasteners if one.id in worked):
        fitting = joinery.fittings.get(fastener.fitting, catalogue.fittings.get(fastener.fitting))
        for action in fitting.actions if fitting is not None else ():
            does = not operation.does or action.do in operation.does
            if action.item and does and action.do in _TO_WHAT_IS_THERE:
                items.add(action.item)
    return items
