"""A joint or a fixture as its sayer sees it: where the middle is, where a run begins.

What a unit says is worked out in the unit's own coordinates and among its own parts, so
that a unit that is used twice, however it is turned, is drilled alike both times.
"""

from __future__ import annotations

from collections.abc import Iterable

from kdkit.frames import Vec3, add, scaled
from kdkit.geometry.assembly import Contact, reverse_run
from kdkit.geometry.contacts import run_direction
from kdkit.geometry.surfaces import reach
from kdkit.model.resolved import Part, Standpoint

__all__ = ["Middles", "contact_seen", "contacts_seen"]


class Middles:
    """The middle of the box round what each sayer holds, worked out once for each."""

    def __init__(self, parts: Iterable[Part]) -> None:
        self._parts = tuple(parts)
        self._found: dict[str, Vec3] = {}

    def of(self, seen: Standpoint) -> Vec3:
        """Return the middle of the box round the sayer's parts, in the product.

        The box lies along the sayer's axes.
        """
        if seen.unit not in self._found:
            self._found[seen.unit] = self._middle(seen)
        return self._found[seen.unit]

    def _middle(self, seen: Standpoint) -> Vec3:
        held = [part for part in self._parts if seen.holds(part.name)]
        middle: Vec3 = (0.0, 0.0, 0.0)
        for name in ("+x", "+y", "+z") if held else ():
            axis = seen.way(name)
            middle = add(middle, scaled(axis, sum(reach(held, axis)) / 2))
        return middle


def contact_seen(contact: Contact, seen: Standpoint) -> Contact:
    """Return a contact with its run to the right, the back or the top of its sayer."""
    inside = seen.frame.vector_to_inner(contact.frame.i)
    ahead = run_direction(inside)
    turned = sum(a * b for a, b in zip(inside, ahead, strict=True)) < 0
    return reverse_run(contact) if turned else contact


def contacts_seen(contacts: Iterable[Contact], seen: Standpoint) -> tuple[Contact, ...]:
    """Return the contacts of two parts as their joint's sayer sees them, the largest first."""

    def place(contact: Contact) -> tuple[float, str, str, tuple[float, ...]]:
        origin = seen.frame.point_to_inner(contact.frame.origin)
        at = tuple(round(c, 3) for c in origin)
        return -round(contact.area, 3), contact.butting_surface, contact.receiving_surface, at

    return tuple(sorted((contact_seen(contact, seen) for contact in contacts), key=place))
