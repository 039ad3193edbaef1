"""A small picture of a part on the drill's table: the fence behind it, the stop at its end."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from kdkit.frames import Vec2, Vec3
from kdkit.publish.workshop.drawings.drawing_sheet import Box, DrawingSheet
from kdkit.schedule.fence_rows import FenceRow

__all__ = ["draw_posture", "on_table"]

_BACK = 0.4
"""How far to the right and up a millimetre away from the eye is drawn; oblique projection
of our own choice."""

_LEAST = 1.2  # mm on paper; what is thinner is drawn so thick
_DOT = 0.45  # least radius of a bore on paper

Put = Callable[[Vec3], Vec2]
"""Where a point is drawn."""


def on_table(row: FenceRow, p: Vec2) -> Vec2:
    """Return a point of the surface, from its datum, as it lies: x to the right, y to the fence."""
    x, y = row.view.seen(p)
    if row.fence == "x":
        return (y, -x)
    return (x, y) if row.view.y_down else (-x, -y)


def draw_posture(sheet: DrawingSheet, row: FenceRow, box: Box) -> None:
    """Draw the part with the row's bores black, as large as the box holds."""
    rings = [[on_table(row, p) for p in ring] for ring in row.view.outlines]
    points = [p for ring in rings for p in ring]
    left, right = min(p[0] for p in points), max(p[0] for p in points)
    near, far = min(p[1] for p in points), max(p[1] for p in points)
    deep = _depth(row)
    wide = (right - left) + _BACK * (far - near)
    high = _BACK * (far - near) + deep
    scale = min((box[2] - box[0] - 9) / wide, (box[3] - box[1] - 6) / max(high, 1.0))
    thick = max(deep * scale, _LEAST)

    def plan(p: Vec2) -> Vec2:
        return ((p[0] - left) * scale, (p[1] - near) * scale)

    x0 = box[0] + 3.5
    y0 = box[3] - 1.5 - thick

    def put(p: Vec3) -> Vec2:
        """Return where a point is drawn: right, away and up from the near left upper corner."""
        return (x0 + p[0] + _BACK * p[1], y0 - p[2] - _BACK * p[1])

    across = (right - left) * scale
    away = (far - near) * scale
    _block(sheet, put, (-3.0, away + 0.3, -thick), (across + 3.0, away + 1.5, 2.0), hatched=True)
    for ring in rings:
        _prism(sheet, put, [plan(p) for p in ring], thick)
    for opening in row.view.openings:
        ring = [plan(on_table(row, p)) for p in opening]
        sheet.polyline([put((*p, 0.0)) for p in ring], "edge", closed=True)
    for bore in row.view.bores:
        mine = bore in row.bores
        if not mine and bore.diameter / 2 * scale < _DOT:
            continue  # it would look as black as those of the step
        middle = plan(on_table(row, (bore.x, bore.y)))
        radius = max(bore.diameter / 2 * scale, _DOT)
        ring = [
            (middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t))
            for t in (math.tau * n / 16 for n in range(16))
        ]
        shown = [put((*p, 0.0)) for p in ring]
        if mine:
            sheet.area(shown, "#000")
        else:
            sheet.polyline(shown, "dimension", closed=True)
    at = across + 0.2 if row.stop == "right" else -1.7
    _block(sheet, put, (at, max(0.0, away - 2.5), -min(thick, 3.0)), (at + 1.5, away + 0.3, 1.0),
           fill="#000")  # fmt: skip


def _depth(row: FenceRow) -> float:
    """Return how far the part reaches down from the surface that is up."""
    cut = row.panel.cut
    if not row.view.is_edge:
        return cut.thickness
    span = max(p[0] for ring in row.view.outlines for p in ring)
    # The side of the panel's rectangle that is not the one along this edge.
    return min(cut.finished, key=lambda size: (abs(size - span) < 0.5, size))


def _prism(sheet: DrawingSheet, put: Put, ring: Sequence[Vec2], thick: float) -> None:
    """Draw a solid below a polygon: what of its walls is seen, then the polygon."""
    area = sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(ring, (*ring[1:], ring[0]), strict=True))
    turn = 1.0 if area > 0 else -1.0
    walls = []
    for p, q in zip(ring, (*ring[1:], ring[0]), strict=True):
        out = (turn * (q[1] - p[1]), turn * (p[0] - q[0]))
        if out[0] * _BACK - out[1] > 0:
            walls.append((_BACK * (p[0] + q[0]) - (p[1] + q[1]), p, q))
    for _, p, q in sorted(walls):
        corners = [(*p, 0.0), (*q, 0.0), (*q, -thick), (*p, -thick)]
        sheet.polyline([put(c) for c in corners], "edge", closed=True, fill="#fff")
    sheet.polyline([put((*p, 0.0)) for p in ring], "edge", closed=True, fill="#fff")


def _block(
    sheet: DrawingSheet,
    put: Put,
    low: Vec3,
    high: Vec3,
    *,
    hatched: bool = False,
    fill: str = "#fff",
) -> None:
    """Draw a box by its near, upper and right sides."""
    (a, b, c), (d, e, f) = low, high
    sides = (
        ((a, b, c), (d, b, c), (d, b, f), (a, b, f)),
        ((a, b, f), (d, b, f), (d, e, f), (a, e, f)),
        ((d, b, c), (d, e, c), (d, e, f), (d, b, f)),
    )
    for side in sides:
        sheet.polyline([put(p) for p in side], "dimension", closed=True, fill=fill)
    if hatched:
        x = a
        while x < d:
            sheet.line(put((x, b, f)), put((min(x + 1.2, d), e, f)), "dimension")
            x += 1.6
