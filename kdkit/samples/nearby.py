"""What of a product a joint between two parts is judged in: the parts round them.

A product that can be put together can be so without some of its parts and joints, so a no
that is found among the parts round a joint is a no of the whole. A yes says nothing of parts
further away: ``kdkit check`` plans the whole once a joint is chosen. Small products are looked
at whole.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from kdkit.geometry import Assembly
from kdkit.model import Resolved
from kdkit.model.resolved import ResolvedFixture

__all__ = ["MOST_PARTS", "look_nearby"]

MOST_PARTS = 10
"""A product of so many parts is looked at whole: it is planned in a moment."""


def look_nearby(
    resolved: Resolved, assembly: Assembly, pair: frozenset[str]
) -> tuple[Resolved, Assembly]:
    """Return two parts with all that touch them, and the joints of those with the two.

    What only hangs or runs on one of the two (doors, drawers) is put on later, when their
    joint is made. The same values where the product is small or all of it is near.
    """
    if len(resolved.parts) <= MOST_PARTS:
        return resolved, assembly
    near = set(pair)
    for contact in assembly.contacts:
        if not pair.isdisjoint((contact.butting, contact.receiving)):
            near |= {contact.butting, contact.receiving}
    if len(near) == len(resolved.parts):
        return resolved, assembly

    def within(names: Iterable[str]) -> bool:
        return near.issuperset(names)

    parts = tuple(part for part in resolved.parts if part.name in near)
    contacts = tuple(c for c in assembly.contacts if within((c.butting, c.receiving)))
    narrowed = replace(
        resolved,
        parts=parts,
        joints=tuple(
            j
            for j in resolved.joints
            if within((j.joined, j.to)) and not pair.isdisjoint((j.joined, j.to))
        ),
        fixtures=tuple(f for f in resolved.fixtures if within(_parts_of(f))),
        units=tuple(unit for unit in resolved.units if within(unit.parts)),
        order=tuple(o for o in resolved.order if within((*o.first, *o.later))),
        sequence=(),
        system_rows=tuple(r for r in resolved.system_rows if within((*r.on, *r.fronts))),
    )
    return narrowed, Assembly(parts=parts, contacts=contacts)


def _parts_of(fixture: ResolvedFixture) -> tuple[str, ...]:
    return (*fixture.on, *fixture.carries)
