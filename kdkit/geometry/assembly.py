"""Parts in their places and where they touch. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kdkit.frames import Frame, Vec2
from kdkit.model.resolved import Part

__all__ = ["Assembly", "Contact", "ContactKind"]


class ContactKind(StrEnum):
    """How two parts meet. ``SUNK``: the butting part's edge stands inside the other."""

    EDGE_FACE = "edge-face"
    EDGE_EDGE = "edge-edge"
    FACE_FACE = "face-face"
    SUNK = "sunk"


@dataclass(frozen=True, kw_only=True)
class Contact:
    """A stretch of surface that two parts share.

    ``frame``: in the product; k out of the receiving part into the butting part; i
    along the run (the longer side), looking right, back or up; origin at the
    start of the run and the middle across it. The butting part is the one whose
    edge touches a face; where both touch with an edge, or both with a face, the
    first by name (``contact_between`` turns it round when a joint says otherwise).

    Surfaces are ``face``, ``back`` or ``edge:n`` with n the outline segment.

    Args:
        polygon: in (i, j) of the frame, counter-clockwise.
        sunk: depth to which the butting part stands in the other, 0 when it only touches.
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

    @property
    def run(self) -> float:
        """The length of the contact along i."""
        return max(p[0] for p in self.polygon) - min(p[0] for p in self.polygon)


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """Every part in its place, every contact between two of them."""

    parts: tuple[Part, ...]
    contacts: tuple[Contact, ...]

    def part(self, name: str) -> Part:
        """Return the part of that name; KeyError is a fault in kdkit."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)
