"""Fixing to the wall: when the carcass is complete, before what opens is in it.

An open door or a drawer pulled out can tip what is not yet fixed over.
"""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.frames import dot
from kdkit.joinery.placed import Joinery
from kdkit.plan.order.build import Worked
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["secure_to_wall"]

_LEAST_ASIDE = 0.5  # cosine: a drawer or a door leaves aside of its joint's normal


def secure_to_wall(
    worked: Worked, operations: Sequence[Operation], joinery: Joinery, stand: str | None
) -> None:
    """Add the fixings to the wall, between the carcass and the doors and drawers.

    Doors and drawers that are in before the work stands stay there.

    Args:
        operations: what fixes it to the wall.
        stand: the id of the operation that stands the work up, None if it stands.
    """
    if not operations:
        return
    opening = {
        joint.name
        for joint in joinery.joints
        if abs(dot(joint.way, joint.contact.frame.k)) < _LEAST_ASIDE
    }
    ids = [o.id for o in worked.operations]
    standing = ids.index(stand) + 1 if stand is not None else 0
    opened = [
        o.id
        for o in worked.operations[standing:]
        if o.kind is OperationKind.MATE and not o.subassembly and opening & set(o.joints)
    ]
    after = set(opened)
    grown = True
    while grown:
        more = {later for first, later in worked.precedences if first in after} - after
        grown = bool(more)
        after |= more
    for operation in operations:
        worked.operations.append(operation)
        worked.before(
            [id for id in ids if id not in after],
            operation.id,
            "it is fixed to the wall when the rest is complete and stands in its place",
        )
        for id in opened:
            worked.before(
                [operation.id], id, "what opens could tip it over before it is fixed to the wall"
            )
