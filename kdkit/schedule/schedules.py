"""Cut list, drilling and hardware as values; nothing is rounded here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = [
    "BoughtLine",
    "CutLine",
    "DrillLine",
    "DrilledPanel",
    "GrooveLine",
    "HardwareLine",
    "Schedules",
]


@dataclass(frozen=True, kw_only=True)
class CutLine:
    """Identical panels merged into one.

    Args:
        letter: A, B, C … in the manual.
        parts: the parts it stands for.
        finished, cut: (length, width); cut is without the bands.
        bands: side name → thickness.
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


@dataclass(frozen=True, kw_only=True)
class BoughtLine:
    """Identical bought parts merged into one."""

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
    datum corner; on an edge x runs along the edge from the datum and y from the face
    into the thickness.
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
    angle_deg: float = 90.0


@dataclass(frozen=True, kw_only=True)
class GrooveLine:
    """A groove: two corners from the datum, depth."""

    surface: str
    x: tuple[float, float]
    y: tuple[float, float]
    depth: float


@dataclass(frozen=True, kw_only=True)
class DrilledPanel:
    """All machining of one letter; ``datum`` in words ("front bottom corner")."""

    letter: str
    title: str
    quantity: int
    datum: str
    x_runs: str
    y_runs: str
    bores: tuple[DrillLine, ...]
    grooves: tuple[GrooveLine, ...]


@dataclass(frozen=True, kw_only=True)
class HardwareLine:
    """One item: its number in the manual, how many in all and in each step."""

    number: int
    item: str
    title: str
    size: str
    quantity: int
    per_step: Mapping[int, int]
    per_joint: Mapping[str, int]
    mass_g: float
    bag: str


@dataclass(frozen=True, kw_only=True)
class Schedules:
    """Everything that is counted, cut and drilled."""

    cut: tuple[CutLine, ...]
    bought: tuple[BoughtLine, ...]
    drilling: tuple[DrilledPanel, ...]
    hardware: tuple[HardwareLine, ...]
    mass_kg: float

    def letter_of(self, part: str) -> str:
        """Return the letter under which the manual shows a part."""
        lines: tuple[CutLine | BoughtLine, ...] = (*self.cut, *self.bought)
        for line in lines:
            if part in line.parts:
                return line.letter
        raise KeyError(part)
