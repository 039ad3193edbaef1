"""Arrows in a detail: how a piece is turned about its axis, or pushed in along it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import LineString

from kdkit.frames import Frame, Vec2, Vec3, cross, dot, scaled
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.arrows import band_arrow
from kdkit.illustrate.paper.figure import Primitive

__all__ = ["push_arrow", "round_path"]


def round_path(frame: Frame, top: float, around: float, view: View) -> list[Vec3]:
    """Return three quarters of a circle about the axis, clockwise seen on the head."""
    z = top + 0.5
    side = cross(frame.k, view.toward)
    start = math.atan2(dot(side, frame.j), dot(side, frame.i))
    return [
        frame.point_to_outer((around * math.cos(start - a), around * math.sin(start - a), z))
        for a in (math.radians(15 + 250 * n / 20) for n in range(21))
    ]


def push_arrow(
    frame: Frame,
    wide: float,
    view: View,
    head: Vec2,
    radius: float,
    others: Sequence[tuple[Vec2, Vec2]] = (),
    *,
    out: bool = False,
) -> list[Primitive]:
    """Return a short arrow beside the piece, along the way it goes in, or nothing.

    Args:
        frame: the item frame of the piece; it goes in along −z.
        wide: of the piece, mm of product.
        head: its upper end on paper.
        radius: of the window round (0, 0).
        others: axes of other pieces in the window, on paper; the arrow keeps off.
        out: it comes out again.
    """
    dx, dy = view.direction(scaled(frame.k, -1.0))
    size = math.hypot(dx, dy)
    if size < 0.25 * view.scale:
        return []
    dx, dy = dx / size, dy / size
    off = wide * view.scale / 2 + 2.2
    taken = [LineString(axis) for axis in others]
    for side in (off, -off):
        start = (head[0] - dy * side, head[1] + dx * side)
        end = (start[0] + dx * 6.0, start[1] + dy * 6.0)
        inside = max(math.hypot(*start), math.hypot(*end)) <= radius - 0.5
        if inside and all(LineString((start, end)).distance(t) > 2.5 for t in taken):
            return band_arrow((end, start) if out else (start, end), width=0.8)
    return []
