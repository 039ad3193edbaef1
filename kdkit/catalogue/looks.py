"""What an item looks like where its pieces do not tell: for pictures alone.

Pieces are what is weighed, bored for and kept clear of; a look changes none of that. It
stands inside the pieces' extent, in the item frame (``entries.py``); lengths in mm.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StrictBool

from kdkit.catalogue.entry import Entry, Place, Size
from kdkit.model.words import Number

__all__ = ["Drum", "Look", "Prism", "Sign"]

Side = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
Corner = tuple[Place, Place]


class Prism(Entry):
    """A straight solid over an outline.

    Args:
        outline: counter-clockwise, in (x, y) along z, in (y, z) along x, in (z, x) along y.
        along: the axis that it follows from ``low`` to ``high``.
        round: radius of all its corners.
        holes: round ones right through, ``[u, v, diameter]``.
    """

    outline: Annotated[tuple[Corner, ...], Field(min_length=3, max_length=24)]
    along: Literal["x", "y", "z"] = "z"
    low: Place
    high: Place
    round: Size = 0.0
    holes: tuple[tuple[Place, Place, Size], ...] = ()


class Drum(Entry):
    """A cylinder about the item's axis, open towards +y.

    Args:
        opening: width of the opening.
        ends: y at which the opening ends; below 0 it reaches beyond the axis.
    """

    low: Place
    high: Place
    diameter: Size
    opening: Size
    ends: Place = 0.0


class Sign(Entry):
    """Something on a flat surface that tells the item or the way it is turned.

    Args:
        kind: ``hole`` is round, ``slot`` as long as ``size`` and ``wide``, ``arrow`` a
            solid arrow head of length ``size``.
        at: its middle.
        side: the way that the surface faces.
        to: the way that an arrow points or a slot runs.
        tells: the one sign that is kept, and drawn large, where the item is small on paper.
    """

    kind: Literal["hole", "slot", "arrow"]
    at: tuple[Place, Place, Place]
    side: Side = "+z"
    size: Size
    wide: Size = 0.0
    to: Side = "+y"
    tells: StrictBool = False


class Look(Entry):
    """The shape that is drawn.

    Args:
        own_pieces: the item's pieces are drawn too.
        recess: width of the drive's recess; None: as the head's width says.
        turn_deg: how far it is turned when it locks, clockwise seen from +z.
    """

    own_pieces: StrictBool = True
    prisms: tuple[Prism, ...] = ()
    drums: tuple[Drum, ...] = ()
    signs: tuple[Sign, ...] = ()
    recess: Size | None = None
    turn_deg: Annotated[Number, Field(ge=0, le=360)] = 0.0
