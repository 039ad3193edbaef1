"""Cut list, drilling and hardware as values; nothing is rounded here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.schedule.bags import Bag

__all__ = [
    "BevelLine",
    "BoughtLine",
    "CutLine",
    "DrillLine",
    "DrilledPanel",
    "GrooveLine",
    "HardwareLine",
    "Schedules",
    "SlotLine",
]


@dataclass(frozen=True, kw_only=True)
class BevelLine:
    """An edge sawn aslant: degrees off square; ``long`` is ``face`` or ``back``."""

    side: str
    angle_deg: float
    long: str


@dataclass(frozen=True, kw_only=True)
class CutLine:
    """Identical panels merged into one.

    Args:
        letter: A, B, C … in the manual.
        parts: the parts it stands for.
        finished, cut: (length, width), mm; cut is without the bands; of a shaped
            panel the rectangle around it.
        bands: side → thickness; "other" for an edge that looks to no side.
        bevels: the edges sawn aslant; ``finished`` and ``cut`` are then those of the long
            points, ``short`` is (length, width) at the short ones.
        grain: ``length`` or ``none``.
        mass_kg: of one.
        area: of one finished face without its openings, mm².
        pair: letter of its mirror image, or None.
    """

    letter: str
    title: str
    parts: tuple[str, ...]
    quantity: int
    board: str
    material: str
    thickness: float
    finished: tuple[float, float]
    cut: tuple[float, float]
    bands: Mapping[str, float]
    grain: str
    mass_kg: float
    area: float
    pair: str | None
    shaped: bool
    x_ends: tuple[str, str] = ("", "")
    """The sides at the near and far end of the length."""
    y_ends: tuple[str, str] = ("", "")
    """The sides at the near and far end of the width."""
    bevels: tuple[BevelLine, ...] = ()
    short: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class BoughtLine:
    """Identical bought parts merged into one; ``mass_kg`` is of one."""

    letter: str
    title: str
    parts: tuple[str, ...]
    quantity: int
    size: tuple[float, float, float]
    mass_kg: float


@dataclass(frozen=True, kw_only=True)
class DrillLine:
    """One bore as the workshop reads it: x and y from the datum of its surface.

    On ``face`` and ``back`` x runs along the length and y along the width, from the
    datum corner, also on the back (seen from behind they then run mirrored); on an
    edge x runs along the edge from the datum and y from the face into the thickness, of a
    bevelled edge down its slope; x counts from the long points everywhere.

    Args:
        surface: ``face``, ``back``, ``edge:front`` (for the side that the edge looks
            to) or, for an edge that looks to none, ``edge:3``: counted round from
            the datum, along x first.
        sloped: a recess for a screw's head, of this diameter at its mouth.
        angle_deg: between the axis and the surface.
        towards_deg: which way a slanted bore runs, in the surface's x and y, from x
            towards y; None for a square bore.
        asked: the depth that its fitting asks for, where the bore is a little deeper so
            that one depth stop serves it and others.
    """

    surface: str
    x: float
    y: float
    diameter: float
    depth: float
    through: bool
    purpose: str
    stage: str
    fastener: str | None
    spare: bool
    sloped: bool = False
    angle_deg: float = 90.0
    towards_deg: float | None = None
    asked: float | None = None


@dataclass(frozen=True, kw_only=True)
class GrooveLine:
    """A groove: two corners from the datum, depth.

    ``slanted``: it runs aslant, and the corners are those of the rectangle around it.
    """

    surface: str
    x: tuple[float, float]
    y: tuple[float, float]
    depth: float
    slanted: bool = False


@dataclass(frozen=True, kw_only=True)
class SlotLine:
    """A slot: the ends of its middle line on the surface, from the datum.

    Args:
        start, end: (x, y), its half-round ends included.
        width: across it.
        disc: diameter of the cutter that is plunged in; None for a routed slot.
    """

    surface: str
    start: tuple[float, float]
    end: tuple[float, float]
    width: float
    depth: float
    disc: float | None
    purpose: str
    stage: str
    fastener: str | None


@dataclass(frozen=True, kw_only=True)
class DrilledPanel:
    """All machining of one letter, in mm from its datum corner.

    ``datum`` names the corner by the sides that meet there ("front bottom");
    ``x_runs`` and ``y_runs`` are the sides towards which x (along the length) and y
    grow ("top", "back"). A mirror image has the mirrored corner, so that a pair shows
    the same numbers.

    ``named_on``: the part of this letter for which the side words hold; another one may
    be turned in its place. ``face_looks``: the side that its face looks to, before any
    turn.
    """

    letter: str
    title: str
    quantity: int
    datum: str
    x_runs: str
    y_runs: str
    bores: tuple[DrillLine, ...]
    grooves: tuple[GrooveLine, ...]
    slots: tuple[SlotLine, ...] = ()
    named_on: str = ""
    face_looks: str = ""


@dataclass(frozen=True, kw_only=True)
class HardwareLine:
    """One item: its number in the manual, how many in all and in each step.

    Args:
        per_step: step number → how many; Σ plus ``workshop`` is the quantity.
        per_joint: joint or fixture → how many; Σ is the quantity.
        mass_g: of one.
        workshop: how many come fitted.
        supplied: False for what the buyer chooses.
        bags: names of the bags that it lies in; none for what comes fitted or is not supplied.
    """

    number: int
    item: str
    title: str
    size: str
    quantity: int
    per_step: Mapping[int, int]
    per_joint: Mapping[str, int]
    mass_g: float
    workshop: int = 0
    supplied: bool = True
    bags: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Schedules:
    """Everything that is counted, cut, drilled and bagged."""

    cut: tuple[CutLine, ...]
    bought: tuple[BoughtLine, ...]
    drilling: tuple[DrilledPanel, ...]
    hardware: tuple[HardwareLine, ...]
    mass_kg: float
    bags: tuple[Bag, ...] = ()

    def letter_of(self, part: str) -> str:
        """Return the letter under which the manual shows a part."""
        lines: tuple[CutLine | BoughtLine, ...] = (*self.cut, *self.bought)
        for line in lines:
            if part in line.parts:
                return line.letter
        raise KeyError(part)
