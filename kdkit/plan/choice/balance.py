"""Whether work stands by itself: its leaning margin, and the push that it bears.

A body stands when its centre of mass lies over the hull of what carries it, with a margin
against leaning (the angle by which it may lean before it tips) and against the push of the
hands that work on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from kdkit.frames import Vec2, Vec3

__all__ = [
    "BRACED",
    "GRAVITY",
    "LEAN",
    "LEVEL_WAY",
    "PUSH",
    "SLIDES",
    "TURNING",
    "depth_along",
    "depth_inside",
    "hull_of",
    "lean_deg",
    "push_along",
    "push_to_tip",
    "stands",
]

GRAVITY = 9.81  # m/s²

LEAN = 10.0
"""Degrees by which what stands may lean before it tips.

Source:
    Common practice; by analogy with clause 20.1 of IEC 60335-1, stability of appliances, as
    quoted in a secondary text.
"""

LEVEL_WAY = 0.1
"""Sine up to which a push along a way is level: common practice, no source."""

PUSH = 50.0
"""N of hands at work, where and whither the work pushes: common practice, no source."""

TURNING = 20.0
"""N with which a driver is kept in what it only turns, a cam: common practice, no source."""

BRACED = 0.5
"""Of a push that the other hand takes, where one hand works: common practice, no source."""

SLIDES = 0.5
"""Of its weight: pushed level with more, what stands on the floor slides and is not tipped. Wood
or board on a blanket or a carpet: common practice, no source."""


def hull_of(points: Iterable[Vec2]) -> tuple[Vec2, ...]:
    """Return the convex hull of points, anticlockwise; () where they lie on one line.

    Source:
        Convex hull by Andrew's monotone chain.
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ()
    hull: list[Vec2] = []
    for chain in (ordered, ordered[::-1]):
        start = len(hull)
        for p in chain:
            while len(hull) >= start + 2 and _turn(hull[-2], hull[-1], p) <= 0:
                hull.pop()
            hull.append(p)
        hull.pop()
    return tuple(hull) if len(hull) >= 3 else ()


def depth_inside(point: Vec2, hull: Sequence[Vec2]) -> float:
    """Return how far a point lies inside a hull, mm; below 0 outside it, −1 without one."""
    if not hull:
        return -1.0
    depth = float("inf")
    for a, b in zip(hull, (*hull[1:], hull[0]), strict=True):
        length = math.hypot(b[0] - a[0], b[1] - a[1])
        depth = min(depth, _turn(a, b, point) / length)
    return depth


def depth_along(point: Vec2, hull: Sequence[Vec2], way: Vec2) -> float:
    """Return how far a point lies inside a hull against a push, mm.

    A push aslant to a tipping line counts by its share square to it, so this is the length
    along ``way`` to the nearest line ahead; below 0 outside the hull, −1 without one.
    """
    if depth_inside(point, hull) < 0:
        return -1.0
    depth = float("inf")
    for a, b in zip(hull, (*hull[1:], hull[0]), strict=True):
        share = _turn(a, b, (a[0] - way[0], a[1] - way[1]))
        if share > 1e-6:
            depth = min(depth, _turn(a, b, point) / share)
    return depth


def lean_deg(depth: float, height: float) -> float:
    """Return the angle by which a body may lean before it tips; below 0 if it tips at once.

    Args:
        depth: mm from under the centre of mass to the nearest tipping line.
        height: mm of the centre of mass over what carries it.
    """
    if height <= 0:
        return 90.0 if depth >= 0 else -90.0
    return math.degrees(math.atan(depth / height))


def push_to_tip(mass: float, depth: float, height: float) -> float:
    """Return the level push that tips a body, N: m·g·d = F·h.

    Args:
        mass: kg; ``depth``: mm as for ``lean_deg``; ``height``: mm of the push.
    """
    if height <= 0:
        return float("inf")
    return max(0.0, mass * GRAVITY * depth / height)


def push_along(mass: float, at: Vec2, hull: Sequence[Vec2], spot: Vec3, way: Vec3) -> float:
    """Return the push along a way that tips a body, N; infinite where no push that way does.

    About a tipping line the body's weight rights it by m·g·d. A push rights it or tips it by
    its level part at its height, and by its upright part at its distance from the line: what
    presses straight down within the hull tips nothing.

    Args:
        mass: kg; ``at``: where the centre of mass stands, as the hull, mm.
        spot: where it is pushed, level and over what carries the body, mm.
        way: unit vector, level and upwards.
    """
    if depth_inside(at, hull) < 0:
        return 0.0
    least = float("inf")
    for a, b in zip(hull, (*hull[1:], hull[0]), strict=True):
        length = math.hypot(b[0] - a[0], b[1] - a[1])
        ahead = _turn(a, b, (a[0] - way[0], a[1] - way[1])) / length
        beside = _turn(a, b, (spot[0], spot[1])) / length
        arm = ahead * max(spot[2], 0.0) + way[2] * beside
        if arm > 1e-6:
            least = min(least, mass * GRAVITY * _turn(a, b, at) / length / arm)
    return max(0.0, least)


def stands(lean: float, push: float) -> bool:
    """Tell whether both margins are kept."""
    return lean >= LEAN and push >= PUSH


def _turn(a: Vec2, b: Vec2, c: Vec2) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
