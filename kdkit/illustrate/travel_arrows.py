"""Where the arrows of travelling parts lie: in the gap they cross, clear of guide lines."""

from __future__ import annotations

import math

from shapely.geometry import LineString, MultiLineString

from kdkit.frames import Vec2
from kdkit.illustrate.arrows import straight_arrow
from kdkit.illustrate.explode import Apart
from kdkit.illustrate.figure import Primitive
from kdkit.illustrate.view import View

__all__ = ["travel_arrows"]

SHAFT = 1.5
MIDDLE = 0.6
"""Where in the gap the middle of an arrow lies: a little nearer to where the part goes."""

CLEAR = 3.2
"""From an arrow's middle line to a guide line, mm."""


def travel_arrows(apart: Apart, view: View) -> list[Primitive]:
    """Return one arrow for each travel of the picture; short gaps get none."""
    guides = []
    for guide in apart.guides:
        (ax, ay, _), (bx, by, _) = view.project(guide.start), view.project(guide.end)
        guides.append(((ax, ay), (bx, by)))
    lines = MultiLineString(guides) if guides else None
    shapes: list[Primitive] = []
    for travel in apart.travels:
        best: tuple[float, Vec2, Vec2] | None = None
        for n, (start, end) in enumerate(travel.places):
            (sx, sy, _), (ex, ey, _) = view.project(start), view.project(end)
            length = math.hypot(ex - sx, ey - sy)
            if length < 4.0:
                continue
            half = min(0.36, 5.5 / length)
            low, high = MIDDLE - half, MIDDLE + half
            a = (sx + (ex - sx) * low, sy + (ey - sy) * low)
            b = (sx + (ex - sx) * high, sy + (ey - sy) * high)
            clear = LineString((a, b)).distance(lines) if lines is not None else CLEAR
            cost = max(0.0, CLEAR - clear) + 0.05 * n
            if best is None or cost < best[0] - 1e-9:
                best = (cost, a, b)
        if best is not None:
            shapes += straight_arrow(best[1], best[2], width=SHAFT)
    return shapes
