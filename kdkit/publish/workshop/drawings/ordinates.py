"""Running dimensions from one origin: where their numbers stand along an axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from kdkit.frames import Vec2

__all__ = ["chosen_values", "marked_corners", "spread"]

_SAME = 0.05  # mm; nearer values have one number
_SMOOTH = math.cos(math.radians(20))
_LONGER = 2.5  # times; a side so much longer than the next is no part of the same curve
_RUN = 4  # so many values at one pitch may be told by the first and the last


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> tuple[float, ...]:
    """Return places at least ``gap`` apart, as near to the wanted ones as can be.

    Args:
        wanted: rising.
        low, high: no place lies outside, if there is room for all.

    Source:
        Least squares under an order, by pooling neighbours that violate it (Ayer et
        al. 1955, from memory).
    """
    pools: list[list[float]] = []  # mean, count
    for n, place in enumerate(wanted):
        pools.append([place - n * gap, 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            mean, count = pools.pop()
            before, many = pools[-1]
            pools[-1] = [(before * many + mean * count) / (many + count), many + count]
    flat = [mean for mean, count in pools for _ in range(int(count))]
    least, most = low, high - gap * (len(wanted) - 1)
    return tuple(min(max(f, least), max(most, least)) + n * gap for n, f in enumerate(flat))


def marked_corners(ring: Sequence[Vec2]) -> tuple[Vec2, ...]:
    """Return the corners of an outline that get numbers.

    The sides that stand for a curve meet at small angles; of those corners only the ones
    count at which the curve begins or ends, and the furthest along each axis.
    """
    kept = []
    bounds = [f((p[axis] for p in ring), default=0.0) for axis in (0, 1) for f in (min, max)]
    for n, p in enumerate(ring):
        before, after = ring[n - 1], ring[(n + 1) % len(ring)]
        a, b = math.dist(before, p), math.dist(p, after)
        along = (p[0] - before[0]) * (after[0] - p[0]) + (p[1] - before[1]) * (after[1] - p[1])
        smooth = along > a * b * _SMOOTH and max(a, b) < _LONGER * min(a, b)
        furthest = any(
            abs(p[axis] - bound) < _SAME for axis, bound in zip((0, 0, 1, 1), bounds, strict=True)
        )
        if furthest or not smooth:
            kept.append(p)
    return tuple(kept)


def chosen_values(values: Sequence[float], room: int) -> tuple[tuple[float, ...], bool]:
    """Return the values that get a number, rising, and whether all of them do.

    Where there is room for all, all; else the inner ones of rows at one pitch go, then
    every second and so on, but never the first and the last.
    """
    rising: list[float] = []
    for value in sorted(values):
        if not rising or value - rising[-1] > _SAME:
            rising.append(value)
    if len(rising) <= room:
        return tuple(rising), True
    kept = [v for n, v in enumerate(rising) if not _in_a_run(rising, n)]
    step = 2
    while len(kept) > max(2, room):
        kept = [*kept[:-1][::step], kept[-1]]
    return tuple(kept), False


def _in_a_run(rising: Sequence[float], n: int) -> bool:
    """Tell whether a value stands inside a run of values at one pitch."""
    for first in range(max(0, n - _RUN + 2), n):
        run = rising[first : first + _RUN]
        if len(run) == _RUN and first < n < first + _RUN - 1:
            steps = [b - a for a, b in pairwise(run)]
            if max(steps) - min(steps) < _SAME:
                return True
    return False
