"""Arrows on paper: the way a part travels, the way a fastener is turned or driven.

Paper millimetres, y down. Drawn over everything else, with a white rim, so that they
read on any ground.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import LineString, Point, Polygon

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Area, Line, Primitive

__all__ = ["band_arrow", "line_arrow", "straight_arrow", "turn_over_arrow"]


def straight_arrow(start: Vec2, end: Vec2, *, width: float) -> list[Primitive]:
    """Return a filled arrow from start to end; ``width`` of its shaft, mm."""
    return band_arrow((start, end), width=width)


def band_arrow(path: Sequence[Vec2], *, width: float) -> list[Primitive]:
    """Return a filled arrow along a polyline, its head at the end.

    Args:
        path: at least two points; the head takes the last stretch of it.
        width: of the shaft, mm; the head is 2.6 times as wide and 2.8 times as long, but
            never longer than 0.6 of the path.

    Raises:
        ValueError: the path has no length.
    """
    line = LineString(path)
    if line.length < 1e-6:
        raise ValueError("an arrow needs a length")
    head = min(2.8 * width, 0.6 * line.length)
    wide = 1.3 * width
    neck = line.interpolate(line.length - head)
    tip = line.interpolate(line.length)
    kept = [p for p in path if line.project(Point(p)) < line.length - head - 1e-6]
    spine = [*kept, (neck.x, neck.y)]
    dx, dy = tip.x - neck.x, tip.y - neck.y
    size = math.hypot(dx, dy) or 1.0
    nx, ny = -dy / size, dx / size
    left, right = _sides(spine, width / 2)
    outline = (
        *left,
        (neck.x + nx * wide, neck.y + ny * wide),
        (tip.x, tip.y),
        (neck.x - nx * wide, neck.y - ny * wide),
        *reversed(right),
    )
    rim = Polygon(outline).buffer(0.45, join_style="mitre")
    shapes: list[Primitive] = []
    if isinstance(rim, Polygon):
        ring = tuple((float(x), float(y)) for x, y in rim.exterior.coords[:-1])
        shapes.append(Area(outer=ring, tone="paper"))
    shapes.append(Area(outer=outline, tone="arrow"))
    shapes.append(Line(points=outline, pen="edge", closed=True))
    return shapes


def turn_over_arrow(x: float, top: float, bottom: float) -> list[Primitive]:
    """Return the arrow from a part down to the same part turned over."""
    middle, high = (top + bottom) / 2, (bottom - top) / 2
    path = [
        (x + 3.4 * math.sin(math.pi * n / 12), middle - high * math.cos(math.pi * n / 12))
        for n in range(13)
    ]
    return band_arrow(path, width=1.4)


def line_arrow(path: Sequence[Vec2]) -> list[Primitive]:
    """Return a slender arrow along a curve, for turning: a heavy line with a filled head."""
    line = LineString(path)
    head = min(2.6, 0.4 * line.length)
    neck, tip = line.interpolate(line.length - head), line.interpolate(line.length)
    kept = [p for p in path if line.project(Point(p)) < line.length - head - 1e-6]
    spine: tuple[Vec2, ...] = (*kept, (neck.x, neck.y))
    dx, dy = tip.x - neck.x, tip.y - neck.y
    size = math.hypot(dx, dy) or 1.0
    nx, ny = -dy / size * 1.05, dx / size * 1.05
    outline = ((neck.x + nx, neck.y + ny), (tip.x, tip.y), (neck.x - nx, neck.y - ny))
    rim = LineString([*spine, (tip.x, tip.y)]).buffer(0.65)
    shapes: list[Primitive] = []
    if isinstance(rim, Polygon):
        rings = [
            tuple((float(x), float(y)) for x, y in ring.coords[:-1])
            for ring in (rim.exterior, *rim.interiors)
        ]
        shapes.append(Area(outer=rings[0], holes=tuple(rings[1:]), tone="paper"))
    shapes.append(Line(points=spine, pen="arrow"))
    shapes.append(Area(outer=outline, tone="arrow"))
    return shapes


def _sides(spine: Sequence[Vec2], half: float) -> tuple[list[Vec2], list[Vec2]]:
    """Return the two sides of a band along a polyline."""
    left: list[Vec2] = []
    right: list[Vec2] = []
    for n, (x, y) in enumerate(spine):
        before = spine[max(0, n - 1)]
        after = spine[min(len(spine) - 1, n + 1)]
        dx, dy = after[0] - before[0], after[1] - before[1]
        size = math.hypot(dx, dy) or 1.0
        nx, ny = -dy / size * half, dx / size * half
        left.append((x + nx, y + ny))
        right.append((x - nx, y - ny))
    return left, right
