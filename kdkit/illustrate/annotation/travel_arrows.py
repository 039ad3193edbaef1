"""Where the arrows of travelling parts lie: in the gap they cross, clear of guide lines."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec2
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.arrows import straight_arrow
from kdkit.illustrate.paper.figure import Primitive
from kdkit.illustrate.paper.ground import Ground
from kdkit.illustrate.staging.explode import item_frame
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject

__all__ = ["travel_arrows"]

SHAFT = 1.5
MIDDLE = 0.6
"""Where in the gap the middle of an arrow lies: a little nearer to where the part goes."""

CLEAR = 3.2
"""From an arrow's middle line to a guide line, mm."""


def travel_arrows(
    plate: Plate, view: View, subject: Subject, drops: Sequence[Vec2], ink: Ground, parts: Ground
) -> list[Primitive]:
    """Return one arrow for each travel of a plate; short gaps get none.

    Args:
        plate: what travels on it.
        view: the plate's view in its place on paper.
        subject: for the size of hardware.
        drops: where glue is shown; arrows keep off.
        parts: ground of the parts that come in; arrows lie beside them.
        ink: all lines of the drawing; an arrow covers as few of them as it can.
    """
    apart = plate.apart
    taken: list[BaseGeometry] = [Point(x, y - 2.2).buffer(1.6) for x, y in drops]
    for guide in apart.guides:
        (ax, ay, _), (bx, by, _) = view.project(guide.start), view.project(guide.end)
        taken.append(LineString(((ax, ay), (bx, by))))
    for one, shift in zip(plate.state.items, apart.items, strict=True):
        if one.new:
            frame = item_frame(one, shift)
            pieces = subject.catalogue.items[one.item.item].pieces
            ends = (min(p.z0 for p in pieces), max(p.z1 for p in pieces))
            foot, head = (view.project(frame.point_to_outer((0.0, 0.0, z))) for z in ends)
            taken.append(LineString((foot[:2], head[:2])))
    lines = shapely.union_all(taken) if taken else None
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
            cost = max(0.0, CLEAR - clear) + 0.05 * n + _covered(ink, parts, a, b)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, a, b)
        if best is not None:
            shapes += straight_arrow(best[1], best[2], width=SHAFT)
    return shapes


def _covered(ink: Ground, parts: Ground, a: Vec2, b: Vec2) -> float:
    """Return what an arrow costs for the lines and the parts that it lies on."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    size = math.hypot(dx, dy)
    off = np.array([-dy / size, dx / size])
    shifts = np.array([-SHAFT, 0.0, SHAFT])[:, None] * off
    lines, ground = ink.along(np.array(a) + shifts, np.array(b) + shifts, parts)
    return 0.25 * float(lines.sum()) + 0.5 * float(ground.sum())
