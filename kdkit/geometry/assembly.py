"""Parts in their places and where they touch. Lengths in mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from kdkit.frames import Frame, Vec2, Vec3, add, scaled
from kdkit.model.resolved import Part

__all__ = ["Assembly", "Contact", "ContactKind", "contact_between", "reverse_run", "turn_round"]


class ContactKind(StrEnum):
    """How two parts meet. ``SUNK``: the butting part's edge stands inside the other.
    ``MITRE``: two bevelled edges lie on each other, k square to the plane of the mitre.

    ``FACING`` and ``HUNG`` do not touch; they are made on demand (``meetings``).
    """

    EDGE_FACE = "edge-face"
    EDGE_EDGE = "edge-edge"
    MITRE = "mitre"
    FACE_FACE = "face-face"
    SUNK = "sunk"
    FACING = "facing"
    HUNG = "hung"


@dataclass(frozen=True, kw_only=True)
class Contact:
    """A stretch of surface that two parts share.

    ``frame``: in the product; k out of the receiving part into the butting part; i
    along the run, looking right, back or up (``reverse_run`` where who says a joint sees
    these otherwise); origin at the start of the run and the
    middle across it. The run follows the butting edge; where no edge butts (face
    to face) it follows the longer side of the contact. The butting part is the one
    whose edge touches a face; where both touch with an edge, or both with a face, the
    first by name (``contact_between`` turns it round when a joint says otherwise).

    Surfaces are ``face``, ``back`` or ``edge:n`` with n the outline segment.

    Args:
        polygon: in (i, j) of the frame, counter-clockwise.
        sunk: depth to which the butting part stands in the other, 0 when it only touches;
            the polygon then lies in the receiving surface, where the part goes in.
        gap: between two parts that only face each other; of a door, from its inner
            surface to the front edge of what it hangs on.
        overlay: of a door, how far its hinge edge lies beyond the inner surface of what it
            hangs on; below 0 when it is inset.
        behind: how far the front end of a part that faces another lies behind the front
            end of that one's surface.
        worked: j of the fasteners' frames where the meeting itself says it: the way
            that a drawer or a door comes off.
    """

    butting: str
    receiving: str
    kind: ContactKind
    frame: Frame
    polygon: tuple[Vec2, ...]
    butting_surface: str
    receiving_surface: str
    area: float
    sunk: float = 0.0
    gap: float = 0.0
    overlay: float = 0.0
    behind: float = 0.0
    worked: Vec3 | None = None

    @property
    def run(self) -> float:
        """The length of the contact along i."""
        return max(p[0] for p in self.polygon) - min(p[0] for p in self.polygon)

    @property
    def width(self) -> float:
        """The extent of the contact along j."""
        return max(p[1] for p in self.polygon) - min(p[1] for p in self.polygon)


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """Every part in its place, every contact between two of them."""

    parts: tuple[Part, ...]
    contacts: tuple[Contact, ...]

    def part(self, name: str) -> Part:
        """Return the part of that name; KeyError is a fault in kdkit."""
        return self.parts_by_name[name]

    @cached_property
    def parts_by_name(self) -> Mapping[str, Part]:
        """The parts under their names."""
        return {part.name: part for part in self.parts}

    @cached_property
    def contacts_by_pair(self) -> Mapping[frozenset[str], tuple[Contact, ...]]:
        """The contacts of each pair of parts that touch, largest first."""
        pairs: dict[frozenset[str], list[Contact]] = {}
        for contact in self.contacts:
            pairs.setdefault(frozenset((contact.butting, contact.receiving)), []).append(contact)
        return {
            pair: tuple(sorted(found, key=lambda c: -round(c.area, 3)))
            for pair, found in pairs.items()
        }


_SYMMETRIC = (ContactKind.EDGE_EDGE, ContactKind.MITRE, ContactKind.FACE_FACE)


def turn_round(contact: Contact) -> Contact:
    """Return the contact as the other part sees it: butting and receiving change places."""
    frame = contact.frame
    return replace(
        contact,
        butting=contact.receiving,
        receiving=contact.butting,
        butting_surface=contact.receiving_surface,
        receiving_surface=contact.butting_surface,
        frame=Frame(frame.origin, frame.i, scaled(frame.j, -1.0), scaled(frame.k, -1.0)),
        polygon=tuple((x, -y) for x, y in reversed(contact.polygon)),
    )


def reverse_run(contact: Contact) -> Contact:
    """Return the contact with its run counted from the other end."""
    frame, run = contact.frame, contact.run
    return replace(
        contact,
        frame=Frame(
            add(frame.origin, scaled(frame.i, run)),
            scaled(frame.i, -1.0),
            scaled(frame.j, -1.0),
            frame.k,
        ),
        polygon=tuple((run - x, -y) for x, y in contact.polygon),
    )


def contact_between(assembly: Assembly, butting: str, receiving: str) -> tuple[Contact, ...]:
    """Return the contacts of two parts, the largest first; () when they do not touch.

    Edge to edge and face to face contacts come with the wanted part as the butting
    one. An edge that meets a face (or stands in it) butts whatever is asked for.
    """
    found = assembly.contacts_by_pair.get(frozenset((butting, receiving)), ())
    turned = []
    for contact in found:
        symmetric = contact.kind in _SYMMETRIC
        swap = symmetric and contact.butting != butting
        turned.append(turn_round(contact) if swap else contact)
    return tuple(turned)
