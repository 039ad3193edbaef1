"""Where and whither hands push when work is done, and how hard.

What is brought together is pushed the way it travels, at its joints. A screw, a nail or a pin
is driven along its axis; a cam is turned, and the driver is only kept in it. Clamps press from
both sides, so that they push the work nowhere.
"""

from __future__ import annotations

from collections.abc import Iterator

from kdkit.frames import Vec3, scaled
from kdkit.geometry.assembly import Contact
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.plan.choice.balance import PUSH, TURNING
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["middle_of", "push_of", "pushed_at"]

_DRIVEN = (OperationKind.FASTEN, OperationKind.CAP, OperationKind.FIXTURE)


def push_of(operation: Operation) -> float:
    """Return how hard hands push in an operation, N."""
    return TURNING if operation.does == ("turn",) else PUSH


def pushed_at(operation: Operation, joinery: Joinery) -> tuple[tuple[Vec3, Vec3], ...] | None:
    """Return where and which way hands push in an operation; None: anywhere, level, any way.

    In the product: a point, mm, and a unit vector.
    """
    if operation.kind is OperationKind.WAIT:
        return ()
    if operation.kind is OperationKind.MATE and operation.direction is not None:
        named = set(operation.joints)
        contacts = [joint.contact for joint in joinery.joints if joint.name in named]
        way = operation.direction
        return tuple((middle_of(c), way) for c in contacts) or None
    if operation.kind in _DRIVEN:
        driven = set(operation.fasteners)
        some = [f for f in joinery.fasteners if f.id in driven]
        return tuple(push for f in some for push in _driven(f, operation, joinery)) or None
    return None


def _driven(
    fastener: Fastener, operation: Operation, joinery: Joinery
) -> Iterator[tuple[Vec3, Vec3]]:
    """Yield the mouth and the way in of all that an operation drives or turns of a fastener."""
    entry = joinery.fittings.get(fastener.fitting)
    worked = set(operation.items)
    if entry is not None and not worked:
        worked = {a.item for a in entry.actions if a.item and a.do in operation.does}
    for placed in fastener.items:
        if placed.item in worked:
            yield placed.frame.origin, scaled(placed.frame.k, -1.0)


def middle_of(contact: Contact) -> Vec3:
    """Return the middle of the box round a contact."""
    across, along = ([point[n] for point in contact.polygon] for n in (0, 1))
    middle = (min(across) + max(across)) / 2, (min(along) + max(along)) / 2, 0.0
    return contact.frame.point_to_outer(middle)
