"""What is brought together before anything joins or carries it: told, where no order avoids it."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.diagnostics import Problem, warning
from kdkit.plan.order.build import Scene
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["warn_of_unjoined"]

_MOST_NAMED = 3


def warn_of_unjoined(scene: Scene, operations: Sequence[Operation]) -> tuple[Problem, ...]:
    """Return a warning for each mating without a joint in which nothing carries what comes.

    Parts that nothing joins to the rest of the product are told of by the inspection.
    """
    names = scene.blocking.names
    number = {name: n for n, name in enumerate(names)}
    found = []
    for operation in operations:
        if operation.kind is not OperationKind.MATE or operation.joints or operation.rests:
            continue
        moving = sum(1 << number[name] for name in operation.parts)
        there = sum(1 << number[name] for name in operation.onto)
        if _is_apart(scene, moving) or _is_apart(scene, there):
            continue
        found.append(
            warning(
                "not-joined-yet",
                f"{_listed(scene, operation.parts)} must be held beside "
                f"{_listed(scene, operation.onto)}: nothing joins them yet, and nothing carries it",
                next(
                    joint.path
                    for joint in scene.joinery.joints
                    if len({joint.butting, joint.receiving} & set(operation.parts)) == 1
                ),
                where=operation.id,
                help="join the two, or let something carry it there, such as a batten, until the "
                "parts that join both are on; an order that asks for it can be changed",
            )
        )
    return tuple(found)


def _is_apart(scene: Scene, mask: int) -> bool:
    """Tell whether no joint leads out of a set of parts."""
    return not any(fact.joined & ~mask for n, fact in enumerate(scene.facts) if mask >> n & 1)


def _listed(scene: Scene, names: Sequence[str]) -> str:
    titles = [scene.titles[name] for name in names[:_MOST_NAMED]]
    if len(names) > _MOST_NAMED:
        titles.append(f"{len(names) - _MOST_NAMED} more")
    return titles[0] if len(titles) == 1 else f"{', '.join(titles[:-1])} and {titles[-1]}"
