"""Fittings in their places: bores, grooves, fasteners. Lengths in mm.

A slot is a thing of its own, not a groove with round ends. It belongs to a fastener, has a
mate on the same line, and its bottom is the arc of a disc; a groove belongs to a part that
stands in another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Path
from kdkit.frames import Frame, Vec3
from kdkit.geometry.assembly import Contact
from kdkit.parts.cuts import Bore, Groove, Slot

__all__ = [
    "Bore",
    "Fastener",
    "Groove",
    "Joinery",
    "PlacedFixture",
    "PlacedItem",
    "PlacedJoint",
    "Slot",
]


@dataclass(frozen=True, kw_only=True)
class PlacedItem:
    """One piece of hardware, in the finished product.

    Args:
        frame: the item frame in the product (z = 0 at the mouth, z out of it).
        carrier: the part in which it is fixed before mating; None when it goes in
            after. Its ``home`` parts are all the parts that it stands in.
    """

    item: str
    frame: Frame
    carrier: str | None
    index: int


@dataclass(frozen=True, kw_only=True)
class Fastener:
    """One fitting at one position. ``frame``: the fastener frame in the product.

    ``fitting`` is a key of ``Joinery.fittings``; ``joint`` the name of a placed joint or
    fixture; ``butting`` is None for a fixture.
    """

    id: str
    joint: str
    fitting: str
    frame: Frame
    butting: str | None
    receiving: str
    items: tuple[PlacedItem, ...]
    path: Path


@dataclass(frozen=True, kw_only=True)
class PlacedJoint:
    """A joint with its contact and its fasteners (none for a bare or grooved one).

    Parts that touch in several places in one line have one of these for each; the
    second is named ``NAME#2``. ``workshop``: it is made before packing. ``leaves``: the
    way in which the butting part leaves, in the product, where its fitting says another
    than k of the contact.
    """

    name: str
    butting: str
    receiving: str
    contact: Contact
    fittings: tuple[str, ...]
    fasteners: tuple[str, ...]
    path: Path
    workshop: bool = False
    leaves: Vec3 | None = None

    @property
    def way(self) -> Vec3:
        """The way in which the butting part leaves square, a unit vector in the product."""
        return self.leaves if self.leaves is not None else self.contact.frame.k


@dataclass(frozen=True, kw_only=True)
class PlacedFixture:
    """A fixture with its fasteners and the loose parts it carries."""

    name: str
    fitting: str
    on: tuple[str, ...]
    fasteners: tuple[str, ...]
    carries: tuple[str, ...]
    path: Path


@dataclass(frozen=True, kw_only=True)
class Joinery:
    """Everything that is drilled, grooved and put in."""

    joints: tuple[PlacedJoint, ...]
    fixtures: tuple[PlacedFixture, ...]
    bores: tuple[Bore, ...]
    grooves: tuple[Groove, ...]
    fasteners: tuple[Fastener, ...]
    slots: tuple[Slot, ...] = ()
    fittings: Mapping[str, Fitting] = field(default_factory=dict)
    """The catalogue entries in use, options as the joints set them: by the catalogue's
    key, with changed options in brackets (``back-in-groove[clearance=2]``)."""
