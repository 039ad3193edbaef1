"""What is worked in a part: bores, grooves and slots, in its panel frame. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from kdkit.diagnostics import Path
from kdkit.frames import Vec2, Vec3

__all__ = ["Bore", "Cuts", "Groove", "Slot", "by_part"]


@dataclass(frozen=True, kw_only=True)
class Bore:
    """A bore in one part, in its panel frame.

    Args:
        surface: ``face``, ``back`` or ``edge:n``: where its mouth lies.
        mouth: centre of the mouth on that surface.
        into: unit vector into the board.
        depth: from the mouth; a through bore has the thickness it goes through.
        stage: ``workshop`` or ``home``.
        fastener: id of the fastener it serves, None for one typed by hand.
        mate: bores of one fastener with the same ``mate`` share a line; of a bore typed
            by hand, the part that it must meet, if any.
        meets: purposes of bores of the same fastener that it is meant to cross.
        sloped: a recess with the slope of a screw's head.
        spare: a system row's bore that nothing uses yet.
        deeper: so much deeper than asked it may be without harm.
        asked: the depth that was asked for, if it is bored deeper with its neighbours.
    """

    part: str
    surface: str
    mouth: Vec3
    into: Vec3
    diameter: float
    depth: float
    through: bool
    purpose: str
    path: Path
    stage: str = "workshop"
    fastener: str | None = None
    mate: str | None = None
    meets: tuple[str, ...] = ()
    sloped: bool = False
    spare: bool = False
    deeper: float = 0.0
    asked: float | None = None


@dataclass(frozen=True, kw_only=True)
class Groove:
    """A straight groove, in the panel frame.

    ``polygon`` is its plan on the surface: for ``face`` and ``back`` the (x, y) of
    the panel, for ``edge:n`` the (i, j) of that edge's frame (along it from its first
    corner, and from the face, which is j = 0); the groove is cut ``depth`` deep from that
    surface. It may run out through an edge.
    """

    part: str
    surface: str
    polygon: tuple[Vec2, ...]
    depth: float
    path: Path
    joint: str


@dataclass(frozen=True, kw_only=True)
class Slot:
    """A slot for a biscuit or a loose tenon, in the panel frame.

    Args:
        surface: as of a bore.
        mouth: the middle of its mouth on that surface.
        into, along: unit vectors, square to each other, ``along`` in the surface.
        width: across it; length: at the surface, its half-round ends included.
        disc: diameter of the cutter that is plunged in, whose arc is the bottom; None for
            a routed slot with half-round ends and a flat bottom.
        meets: purposes of bores and slots of the same fastener that it is meant to run into.
    """

    part: str
    surface: str
    mouth: Vec3
    into: Vec3
    along: Vec3
    width: float
    length: float
    depth: float
    disc: float | None
    purpose: str
    path: Path
    stage: str = "workshop"
    fastener: str | None = None
    mate: str | None = None
    meets: tuple[str, ...] = ()


class Cuts(Protocol):
    """What is worked in all parts of a product; a ``Joinery`` has it."""

    @property
    def bores(self) -> Sequence[Bore]: ...

    @property
    def grooves(self) -> Sequence[Groove]: ...

    @property
    def slots(self) -> Sequence[Slot]: ...


_Cut = TypeVar("_Cut", Bore, Groove, Slot)


def by_part(cuts: Iterable[_Cut]) -> dict[str, list[_Cut]]:
    """Return bores, grooves or slots under the names of their parts."""
    found: dict[str, list[_Cut]] = {}
    for cut in cuts:
        found.setdefault(cut.part, []).append(cut)
    return found
