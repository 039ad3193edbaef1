"""What a saw takes off, what it is set to, and which saw makes which cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from kdkit.frames import Vec2
from kdkit.schedule.nesting.sawn import Cut
from kdkit.schedule.sheet_room import TRIM
from kdkit.schedule.views import PanelViews
from kdkit.units import TOLERANCE

__all__ = [
    "END_TRIM",
    "KEEP",
    "KERF",
    "LENGTHS",
    "Edging",
    "Saw",
    "SawKind",
    "end_slants",
    "fence_of",
    "late_cuts",
    "saw_of",
]

KERF = 4.4
"""Width of the cut of a panel saw. Common practice, no source."""

END_TRIM = 20.0
"""Cut off either end of a bar of timber first: checks and paint. Common practice, no source."""

KEEP = 400.0
"""Offcuts of timber as long as this are kept. Common practice, no source."""

LENGTHS = (2400.0, 3000.0, 3600.0, 4200.0)
"""What timber is sold in where neither board nor maker says. Common practice, no source."""

SawKind = Literal["rip", "crosscut", "mitre", "bevel-rip"]
"""Along the length, across it, across it at an angle, along it with the blade tilted."""


@dataclass(frozen=True, kw_only=True)
class Saw:
    """What a saw takes: the width of its cut, and what comes off every side first.

    Args:
        pre_mill: what the edge bander mills off every edge before it bands it, so that
            panels are sawn larger by as much.
        end_trim: cut off either end of a bar of timber, the cut included.
        lengths: what timber is bought in, whatever the catalogue says; none for its lengths.
        keep: offcuts of timber as long as this are worth keeping.
    """

    kerf: float = KERF
    trim: float = TRIM
    pre_mill: float = 0.0
    end_trim: float = END_TRIM
    lengths: tuple[float, ...] = ()
    keep: float = KEEP


@dataclass(frozen=True)
class Edging:
    """A cut at one edge of a panel that is already sawn to its size.

    Args:
        angle_deg: off square.
        tilted: the blade leans; else the fence is turned.
        long: ``face`` or ``back``, where the long point of a tilted cut lies; else "".
    """

    letter: str
    saw: SawKind
    side: str
    angle_deg: float
    tilted: bool
    long: str = ""


def saw_of(cut: Cut) -> SawKind:
    """Return the saw for a cut through a sheet: along its length it is a rip."""
    return "crosscut" if cut.across_x else "rip"


def fence_of(cut: Cut) -> float:
    """Return how far the fence stands from the blade: the part between is that wide, mm."""
    return cut.at - cut.piece[0 if cut.across_x else 1]


def late_cuts(panel: PanelViews) -> tuple[Edging, ...]:
    """Return what is sawn aslant at a panel: bevelled edges, ends slanted in its outline."""
    line = panel.cut
    found = [
        Edging(
            line.letter,
            "mitre" if bevel.side in line.x_ends else "bevel-rip",
            bevel.side,
            bevel.angle_deg,
            True,
            bevel.long,
        )
        for bevel in line.bevels
    ]
    for side, angle in zip(line.x_ends, end_slants(panel), strict=True):
        if angle:
            found.append(Edging(line.letter, "mitre", side, angle, False))
    return tuple(found)


def end_slants(panel: PanelViews) -> tuple[float, float]:
    """Return by how many degrees the near and the far end of a strip are off square.

    Only of a panel with four corners and two edges along its length; 0 for every other, whose
    outline is no work for a mitre saw.
    """
    (outline,) = panel.view("face").outlines
    if len(outline) != 4:
        return 0.0, 0.0
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    ends = [side for side in sides if abs(side[0][1] - side[1][1]) > TOLERANCE]
    if len(ends) != 2:
        return 0.0, 0.0
    near, far = sorted(ends, key=lambda side: side[0][0] + side[1][0])
    return _off_square(near), _off_square(far)


def _off_square(side: Sequence[Vec2]) -> float:
    (x0, y0), (x1, y1) = side
    angle = math.degrees(math.atan2(abs(x1 - x0), abs(y1 - y0)))
    return angle if angle > 0.01 else 0.0
