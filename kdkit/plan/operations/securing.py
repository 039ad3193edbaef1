"""Fixing to the wall: as soon as the work stands, before anything is put in or hung.

What stands free can be tipped over, by a door that is opened or a drawer that is pulled out
above all; and empty it is lightest to push to the wall, or to lift to its place on it. So the
restraint is screwed on while the work still lies, where it is reached so, and all restraints
are fixed to the wall in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from kdkit.frames import Vec3, dot
from kdkit.parts.postures import UP
from kdkit.plan.order.build import Worked
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["fix_before_standing", "secure_first", "secure_to_wall"]

_BELOW = -0.7  # cosine: what points further down is not reached while the work lies


def fix_before_standing(
    worked: Worked, restraint: Operation, ways: Iterable[Vec3], stand: str | None
) -> bool:
    """Put a restraint on the work before it is stood up, if it is reached; tell whether.

    Args:
        ways: out of which its fasteners are driven.
        stand: the id of the operation that stands the work up, None if it stands.
    """
    places = {o.id: n for n, o in enumerate(worked.operations)}
    if stand is None:
        return False
    lying = next(
        (
            o.posture
            for o in reversed(worked.operations[: places[stand]])
            if o.kind in (OperationKind.MATE, OperationKind.TURN) and not o.subassembly
        ),
        None,
    )
    if lying is None:  # nothing has been put together yet
        return False
    arrivals = [
        next((o.id for o in worked.operations if _brings(o, part)), None)
        for part in restraint.parts
    ]
    if any(id is None or places[id] > places[stand] for id in arrivals):
        return False
    if any(dot(way, UP[lying]) < _BELOW for way in ways):
        return False
    worked.operations.insert(places[stand], replace(restraint, posture=lying))
    worked.before(
        [id for id in arrivals if id], restraint.id, "it goes on when its part is in place"
    )
    worked.before(
        [restraint.id],
        stand,
        "it is fixed to the wall at once when it stands, so this is on by then",
    )
    return True


def secure_to_wall(
    worked: Worked,
    operations: Sequence[Operation],
    fixings: Mapping[str, str],
    carcass: Sequence[str],
    stand: str | None,
) -> None:
    """Fix the work to the wall when its carcass is whole and stands.

    Args:
        operations: what fixes it to the wall.
        fixings: for each of them the id of what puts its restraint on the work, if any.
        carcass: the ids of what must be done before, in order.
        stand: the id of the operation that stands the work up, None if it stands.
    """
    places = {o.id: n for n, o in enumerate(worked.operations)}
    before = [id for id in (*carcass, stand, *fixings.values()) if id in places]
    at = max((places[id] for id in before), default=len(worked.operations) - 1) + 1
    for operation in reversed(operations):
        worked.operations.insert(at, operation)
    for operation in operations:
        worked.before(
            carcass,
            operation.id,
            "it is fixed to the wall when its carcass is complete and stands in its place",
        )
        if operation.id in fixings:
            worked.before(
                [fixings[operation.id]], operation.id, "what is fixed to the wall is on it first"
            )
        if stand is not None:
            worked.before([stand], operation.id, "it stands in its place by then")


def secure_first(worked: Worked, secured: Sequence[str], later: str) -> None:
    """Note that something is put in or hung only when the work is fixed to the wall."""
    worked.before(
        secured,
        later,
        "what is put in or hung could tip it over, or makes it heavy: the wall comes first",
    )


def _brings(operation: Operation, part: str) -> bool:
    return operation.kind is OperationKind.MATE and part in (*operation.parts, *operation.onto)
