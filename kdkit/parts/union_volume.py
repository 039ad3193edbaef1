"""The volume of a union of convex bodies inside a panel, slice by slice. Lengths in mm.

Source:
    Volume by slices (Cavalieri).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kdkit.frames import unit
from kdkit.parts.quadrature import NOISE, Effort, Values, integrate
from kdkit.parts.taken_out import SQUARE, Body, Cylinder, Prism

__all__ = ["union_volume"]

_LOOSER, _LOOSEST = 50.0, 5e5  # for a double integral; of slanted bores
_EFFORT, _LESS_EFFORT = 20_000, 4_000  # stretches that it looks at, about 4000 a second


def union_volume(bodies: Sequence[Body], panel: Sequence[Prism], error: float) -> float:
    """Return the volume of the union of the bodies inside the panel.

    Every slice of a square cylinder or an upright prism is a rectangle if it is taken
    across one axis and along another; then one integral over exact areas will do.
    Otherwise lines are laid along the first slanted bore.
    """
    axes = [np.array(body.axis) for body in bodies if isinstance(body, Cylinder)]
    flat = [axis for axis in axes if 1.0 - abs(axis[2]) > SQUARE]
    slanted = [axis for axis in flat if abs(axis[2]) > SQUARE]
    u = (slanted or flat or [np.array([1.0, 0.0, 0.0])])[0]
    v = np.array(unit((-float(u[1]), float(u[0]), 0.0)))
    w = np.cross(u, v)
    if not slanted:
        for across, one, other in ((v, u, w), (w, u, v)):
            if all(_slices_square(body, one, other) for body in (*bodies, *panel)):
                sides = (across, one, other)

                def area(at: Values, sides: tuple[Values, Values, Values] = sides) -> Values:
                    return _area_of_slices(bodies, panel, sides, at)

                return integrate(area, _breaks(bodies, panel, across), error)
    breaks = _breaks(bodies, panel, v)
    error *= _LOOSEST if slanted else _LOOSER
    effort = Effort(_LESS_EFFORT if slanted else _EFFORT)
    finer = error * NOISE / (breaks[-1] - breaks[0])

    def slice_area(x: float) -> float:
        def length(at: Values) -> Values:
            return _union_length(*_clipped(bodies, panel, x * v + at[:, None] * w, u))

        ends = [e for body in (*bodies, *panel) for e in _slice_breaks(body, x, v, w)]
        reach = [e for body in bodies for e in _slice_breaks(body, x, v, w)]
        if len(reach) < 2:
            return 0.0
        return integrate(length, [e for e in ends if min(reach) <= e <= max(reach)], finer, effort)

    return integrate(lambda at: np.array([slice_area(float(x)) for x in at]), breaks, error, effort)


def _slices_square(body: Body, u: Values, w: Values) -> bool:
    """Tell whether slices in the plane of u and w are rectangles along u and w."""
    if isinstance(body, Cylinder):
        axis = np.array(body.axis)
        return bool(max(abs(axis @ u), abs(axis @ w)) >= 1.0 - SQUARE)
    on_u, on_w = np.abs(body.normals @ u), np.abs(body.normals @ w)
    return bool((np.minimum(on_u, on_w) < 1e-12).all())


def _breaks(bodies: Sequence[Body], panel: Sequence[Prism], v: Values) -> list[float]:
    """Return where along v the bodies and the panel begin, end and have corners."""
    found: list[float] = []
    for body in bodies:
        if isinstance(body, Cylinder):
            axis, start = np.array(body.axis), np.array(body.start)
            across = body.radius * math.sqrt(max(0.0, 1.0 - float(axis @ v) ** 2))
            for end in (start, start + axis * body.length):
                found += [float(end @ v) - across, float(end @ v), float(end @ v) + across]
        else:
            found += [float(x) for x in body.corners @ v]
    low, high = min(found), max(found)
    corners = [float(x) for piece in panel for x in piece.corners @ v]
    return sorted({round(x, 9) for x in found + [x for x in corners if low < x < high]})


def _slice_breaks(body: Body, x: float, v: Values, w: Values) -> list[float]:
    """Return where along w a slice at x begins, ends and has corners."""
    if isinstance(body, Prism):
        starts, ends = body.edges[:, 0], body.edges[:, 1]
        at, along = body.corners @ v, body.corners @ w
        a, b = at[starts], at[ends]
        crossed = (a < x) != (b < x)
        share = (x - a[crossed]) / (b[crossed] - a[crossed])
        first, last = along[starts][crossed], along[ends][crossed]
        return [float(e) for e in first + share * (last - first)]
    axis, start = np.array(body.axis), np.array(body.start)
    found: list[float] = []
    p = v - float(v @ axis) * axis
    for end in (start, start + axis * body.length):  # the rims
        size, ahead = float(np.linalg.norm(p)), x - float(end @ v)
        if size > 1e-9 and abs(ahead) <= body.radius * size:
            near = p / size
            side = np.cross(axis, near)
            reach = ahead / size
            chord = math.sqrt(max(0.0, body.radius**2 - reach**2))
            middle = float((end + reach * near) @ w)
            found += [middle - chord * float(side @ w), middle + chord * float(side @ w)]
    u = np.cross(v, w)
    across = np.cross(axis, u)
    if np.linalg.norm(across) > 1e-9 and abs(float(across @ w)) > 1e-9:  # where lines graze it
        across /= np.linalg.norm(across)
        offset = float(across @ start) - x * float(across @ v)
        slope = float(across @ w)
        found += [(offset - body.radius) / slope, (offset + body.radius) / slope]
    low = body.box()
    corners = np.array([[low[n], low[m], low[k]] for n in (0, 3) for m in (1, 4) for k in (2, 5)])
    spread = corners @ w
    return [e for e in found if spread.min() <= e <= spread.max()]


def _area_of_slices(
    bodies: Sequence[Body],
    panel: Sequence[Prism],
    sides: tuple[Values, Values, Values],
    at: Values,
) -> Values:
    """Return, for each place across, the area of the union of rectangles over (u, w)."""
    rows = [_rectangle(body, sides, at) for body in bodies]
    stack = []
    for piece in panel:
        p = _rectangle(piece, sides, at)
        for r in rows:
            low_u, high_u = np.maximum(r[0], p[0]), np.minimum(r[1], p[1])
            stack.append((low_u, high_u, np.maximum(r[2], p[2]), np.minimum(r[3], p[3])))
    u0, u1, w0, w1 = (np.array([row[n] for row in stack]).T for n in range(4))
    empty = (u1 <= u0) | (w1 <= w0)
    bottom = float(np.where(empty, np.inf, w0).min())
    if not math.isfinite(bottom):
        return np.zeros(len(at))
    w0, w1 = np.where(empty, bottom, w0), np.where(empty, bottom, w1)
    levels = np.sort(np.concatenate([w0, w1], axis=1), axis=1)
    area = np.zeros(len(at))
    for n in range(levels.shape[1] - 1):
        below, above = levels[:, n], levels[:, n + 1]
        middle = ((below + above) / 2)[:, None]
        there = (w0 < middle) & (middle < w1)
        area += (above - below) * _union_length(np.where(there, u0, 0.0), np.where(there, u1, 0.0))
    return area


def _rectangle(
    body: Body, sides: tuple[Values, Values, Values], at: Values
) -> tuple[Values, Values, Values, Values]:
    """Return the slices of a body that ``_slices_square``: u0, u1, w0, w1."""
    v, u, w = sides
    ones = np.ones(len(at))
    if isinstance(body, Prism):
        middle = body.corners.mean(axis=0)
        points = at[:, None] * v
        low, high = body.along_lines(points + float(middle @ w) * w, u)
        below, above = body.along_lines(points + ((low + high) / 2)[:, None] * u, w)
        return low, high, below, above
    start = np.array(body.start)
    end = start + np.array(body.axis) * body.length
    half = np.sqrt(np.maximum(body.radius**2 - (at - float(start @ v)) ** 2, 0.0))
    spans = []
    for side in (u, w):
        if abs(float(np.array(body.axis) @ side)) > 0.5:
            near, far = sorted((float(start @ side), float(end @ side)))
            spans += [near * ones, far * ones]
        else:
            spans += [float(start @ side) - half, float(start @ side) + half]
    return spans[0], spans[1], spans[2], spans[3]


def _clipped(
    bodies: Sequence[Body], panel: Sequence[Prism], points: Values, u: Values
) -> tuple[Values, Values]:
    """Return every body's stretch of every line inside every piece, shape (lines, n)."""
    pieces = [piece.along_lines(points, u) for piece in panel]
    found = [
        (np.maximum(low, p_low), np.minimum(high, p_high))
        for low, high in (body.along_lines(points, u) for body in bodies)
        for p_low, p_high in pieces
    ]
    return np.array([f[0] for f in found]).T, np.array([f[1] for f in found]).T


def _union_length(low: Values, high: Values) -> Values:
    """Return the length that the stretches of each row cover together."""
    order = np.argsort(low, axis=1, kind="stable")
    low, high = np.take_along_axis(low, order, 1), np.take_along_axis(high, order, 1)
    covered = np.zeros(len(low))
    reached = np.full(len(low), -np.inf)
    for n in range(low.shape[1]):
        start = np.maximum(low[:, n], reached)
        end = high[:, n]
        grows = (end > start) & (end > low[:, n])
        covered += np.where(grows, end - start, 0.0)
        reached = np.where(grows, end, reached)
    return covered
