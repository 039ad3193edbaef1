"""True arcs found again in outlines whose curves are chains of short sides."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.frames import Vec2

__all__ = ["ArcPoint", "with_arcs"]

ArcPoint = tuple[float, float, float]
"""A corner and the bulge of what follows: a quarter of the arc's angle as a tangent, above 0
when it turns to the left; 0 for a straight side. Source: the DXF reference on polylines, from
memory."""

_FEWEST = 3  # turns of one angle that make a curve
_WIDEST = math.radians(46)  # a larger turn is a corner, not a step of a curve
_TURN = 1e-3  # radians within which two turns are one
_SIDE = 5e-3  # mm within which two sides are one


def with_arcs(ring: Sequence[Vec2]) -> tuple[ArcPoint, ...]:
    """Return a closed polygon with every even curve as one arc.

    A curve is a run of corners with one turn and one side. Its sides lie round the arc
    (openings are drawn so: the arc then begins half a side before the first corner), or its
    corners lie on the arc (the sides before and behind are then as long as the others).
    """
    count = len(ring)
    turns = [_turn(ring[n - 1], ring[n], ring[(n + 1) % count]) for n in range(count)]
    sides = [math.dist(p, ring[(n + 1) % count]) for n, p in enumerate(ring)]
    # Begin at a corner that goes not on from the one before, so that no curve is cut in two.
    start = next(
        (
            n
            for n in range(count)
            if abs(turns[n - 1] - turns[n]) > _TURN or sides[n - 1] > sides[n] + _SIDE
        ),
        None,
    )
    if start is None:  # a regular polygon is as good a circle as a polygon
        return tuple((*p, 0.0) for p in ring)
    found: list[ArcPoint] = []
    n = 0
    while n < count:
        run = [(start + n) % count]
        while n + len(run) < count and _goes_on(run, turns, sides):
            run.append((run[-1] + 1) % count)
        if len(run) < _FEWEST:
            run = run[:1]
            found.append((*ring[run[0]], 0.0))
        else:
            found += _arc(ring, run, turns[run[0]], sides)
        n += len(run)
    return _without_doubles(found)


def _without_doubles(points: Sequence[ArcPoint]) -> tuple[ArcPoint, ...]:
    """Return points without one that stands twice; what is curved there stays curved."""
    kept: list[ArcPoint] = []
    for point in points:
        if kept and math.dist(kept[-1][:2], point[:2]) < _SIDE:
            kept[-1] = (*kept[-1][:2], kept[-1][2] or point[2])
        else:
            kept.append(point)
    if len(kept) > 1 and math.dist(kept[0][:2], kept[-1][:2]) < _SIDE:
        last = kept.pop()
        kept[0] = (*kept[0][:2], kept[0][2] or last[2])
    return tuple(kept)


def _goes_on(run: Sequence[int], turns: Sequence[float], sides: Sequence[float]) -> bool:
    """Tell whether the corner after a run belongs to the same curve."""
    last = run[-1]
    after = (last + 1) % len(turns)
    return (
        1e-3 < abs(turns[last]) < _WIDEST
        and abs(turns[last] - turns[after]) < _TURN
        and (len(run) == 1 or abs(sides[run[0]] - sides[last]) < _SIDE)
    )


def _arc(
    ring: Sequence[Vec2], run: Sequence[int], turn: float, sides: Sequence[float]
) -> list[ArcPoint]:
    """Return the arc of a run of corners: its two ends, the first with its bulge."""
    side = sides[run[0]]
    before, after = run[0] - 1, (run[-1] + 1) % len(ring)
    if abs(sides[before] - side) < _SIDE and abs(sides[run[-1]] - side) < _SIDE:
        bulge = math.tan(turn * (len(run) + 1) / 4)
        # The neighbours are corners of their own and give the arc its ends.
        return [(*ring[before], bulge), (*ring[after], 0.0)]
    begin = _towards(ring[run[0]], ring[before], side / 2)
    end = _towards(ring[run[-1]], ring[after], side / 2)
    return [(*begin, math.tan(turn * len(run) / 4)), (*end, 0.0)]


def _turn(before: Vec2, p: Vec2, after: Vec2) -> float:
    """Return the angle by which a chain turns to the left in a corner, radians."""
    a, b = (p[0] - before[0], p[1] - before[1]), (after[0] - p[0], after[1] - p[1])
    return math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])


def _towards(p: Vec2, q: Vec2, far: float) -> Vec2:
    share = far / math.dist(p, q)
    return (p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share)
