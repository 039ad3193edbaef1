"""Stops that serve many parts: of the saw for sizes, of the drill press for bores."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from kdkit.schedule.fence_rows import FenceRow, fewest_changes
from kdkit.schedule.schedules import CutLine

__all__ = ["SawStop", "Stop", "drill_stops", "saw_stops"]

_SAME = 2  # decimals of a millimetre


@dataclass(frozen=True)
class SawStop:
    """One place of the rip fence (``width``) or of the crosscut stop (``length``)."""

    kind: str
    size: float
    lines: tuple[CutLine, ...]

    @property
    def count(self) -> int:
        """How many parts are sawn at it."""
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True)
class Stop:
    """One place of the stop at one setting of the drill: ``left`` or ``right`` of the bit."""

    side: str
    position: float
    rows: tuple[FenceRow, ...]


def saw_stops(lines: Iterable[CutLine]) -> tuple[SawStop, ...]:
    """Return every size once, so that no stop is set twice; the largest first.

    Largest first, as what is spoilt or left over may still become a smaller part. Cut sizes:
    without bands.
    """
    found: dict[tuple[str, float], list[CutLine]] = {}
    for line in lines:
        for kind, size in (("width", line.cut[1]), ("length", line.cut[0])):
            found.setdefault((kind, round(size, _SAME)), []).append(line)
    ordered = sorted(found.items(), key=lambda item: (item[0][0] != "width", -item[0][1]))
    return tuple(SawStop(kind, size, tuple(mine)) for (kind, size), mine in ordered)


def drill_stops(rows: Iterable[FenceRow]) -> tuple[Stop, ...]:
    """Return the stops of all parts in the order in which least is set anew.

    Under one setting of bit, depth and fence every place of the stop comes once: to the left
    rising, then to the right rising.
    """
    stops: list[Stop] = []
    for _, found in groupby(fewest_changes(rows), key=lambda row: row.setting):
        places: dict[tuple[str, float], list[FenceRow]] = {}
        for row in found:
            for position in row.positions:
                places.setdefault((row.stop, round(position, _SAME)), []).append(row)
        for (side, position), mine in sorted(places.items(), key=lambda item: item[0]):
            stops.append(Stop(side, position, tuple(mine)))
    return tuple(stops)
