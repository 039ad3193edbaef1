"""Which stage of the assembly a step belongs to: hardware of one stage lies in one bag."""

from __future__ import annotations

from itertools import pairwise

from kdkit.plan.plan import OperationKind, Plan, Step

__all__ = ["stages_of"]

_CLOSING = frozenset(
    {
        OperationKind.FIXTURE,
        OperationKind.LOAD,
        OperationKind.SECURE,
        OperationKind.STAND,
        OperationKind.TURN,
        OperationKind.CAP,
    }
)


def stages_of(plan: Plan) -> dict[int, int]:
    """Return the stage of every step that takes hardware, counted from 1.

    A stage is a run of steps on one body of work, a subassembly or the product; the last
    steps, which bring no parts together any more, are one of their own. Neighbours that take
    the same items are one stage: subassemblies that are nearly alike.
    """
    steps = [step for step in plan.steps if step.items]
    closing = len(steps)
    while closing and _closes(steps[closing - 1], plan):
        closing -= 1
    runs: list[list[Step]] = []
    for n, step in enumerate(steps):
        if not runs or n == closing or steps[n - 1].subassembly != step.subassembly:
            runs.append([])
        runs[-1].append(step)
    stage = 1
    found = {step.number: stage for step in runs[0]} if runs else {}
    for before, run in pairwise(runs):
        stage += _taken(before) != _taken(run)
        found |= {step.number: stage for step in run}
    return found


def _closes(step: Step, plan: Plan) -> bool:
    return all(plan.operation(o).kind in _CLOSING for o in step.operations)


def _taken(run: list[Step]) -> set[str]:
    return {item for step in run for item in step.items}
