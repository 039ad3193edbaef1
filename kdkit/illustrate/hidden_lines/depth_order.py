"""Which of two faces that overlap on paper lies in front.

Both planes being linear in x and y, the difference of their depths is largest and
least at corners of what the faces share. Most pairs are settled by the boxes that they
share; only of the others the overlap is worked out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from kdkit.areas import intersect, shared, subtract
from kdkit.illustrate.hidden_lines.covers import NOTHING, SLIVER

__all__ = ["TOUCH", "Crossing", "Crossings", "Order", "cut_crossed", "extremes", "order_pairs"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]
Shapes = NDArray[np.object_]

TOUCH = 2e-3
"""Depths (mm) that differ by less are the same depth: surfaces that touch."""


@dataclass(frozen=True, kw_only=True)
class Crossing:
    """A line on paper where two faces pass through each other: rows, and its ends."""

    rows: tuple[int, int]
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Order:
    """Pairs of faces, and how each pair lies.

    Args:
        a, b: rows; pairs that only touch on paper are left out.
        a_nearer, b_nearer: one lies in front of all that they share.
        crosses: they pass through each other.
        flush: they lie in one plane.
        overlap: what they share on paper, where they cross or are flush.
    """

    a: Rows
    b: Rows
    tilt: Array
    a_nearer: Flags
    b_nearer: Flags
    crosses: Flags
    flush: Flags
    overlap: Shapes


def order_pairs(shapes: Shapes, planes: Array, a: Rows, b: Rows, needed: Flags) -> Order:
    """Return how pairs of faces lie.

    Args:
        shapes, planes: of all rows.
        a, b: the pairs.
        needed: the others are only looked at as far as their boxes tell.
    """
    tilt = planes[b] - planes[a]  # depth of b less depth of a; negative: b in front
    low, high = _over_boxes(shapes, a, b, tilt)
    unclear = np.flatnonzero(needed & (low <= TOUCH) & (high >= -TOUCH))
    overlap = intersect(shapes[a[unclear]].tolist(), shapes[b[unclear]].tolist())
    big = shapely.area(overlap) > SLIVER
    meet = np.ones(len(a), dtype=bool)
    meet[unclear[~big]] = False
    unclear, overlap = unclear[big], overlap[big]
    low[unclear], high[unclear] = extremes(overlap, tilt[unclear])
    known = np.zeros(len(a), dtype=bool)
    known[unclear] = True
    shared = np.full(len(a), NOTHING, dtype=object)
    shared[unclear] = overlap
    return Order(
        a=a[meet],
        b=b[meet],
        tilt=tilt[meet],
        a_nearer=((low >= -TOUCH) & (high > TOUCH) & (known | (low > TOUCH)))[meet],
        b_nearer=((low < -TOUCH) & (high <= TOUCH) & (known | (high < -TOUCH)))[meet],
        crosses=(known & (low < -TOUCH) & (high > TOUCH))[meet],
        flush=(known & (low >= -TOUCH) & (high <= TOUCH))[meet],
        overlap=shared[meet],
    )


def _over_boxes(shapes: Shapes, a: Rows, b: Rows, tilt: Array) -> tuple[Array, Array]:
    """Return the least and the largest of a linear function where two shapes' boxes overlap."""
    box = shapely.bounds(shapes).reshape(-1, 4)
    first = np.maximum(box[a, :2], box[b, :2]) * tilt[:, :2]
    last = np.minimum(box[a, 2:], box[b, 2:]) * tilt[:, :2]
    low: Array = np.minimum(first, last).sum(axis=1) + tilt[:, 2]
    high: Array = np.maximum(first, last).sum(axis=1) + tilt[:, 2]
    return low, high


def extremes(shapes: Shapes, tilt: Array) -> tuple[Array, Array]:
    """Return the least and the largest of a linear function over each shape's corners."""
    if not len(shapes):
        return np.zeros(0), np.zeros(0)
    at, index = shapely.get_coordinates(shapes, return_index=True)
    value = (at * tilt[index, :2]).sum(axis=1) + tilt[index, 2]
    starts = np.flatnonzero(np.r_[True, index[1:] != index[:-1]])
    return np.minimum.reduceat(value, starts), np.maximum.reduceat(value, starts)


@dataclass(frozen=True, kw_only=True)
class Crossings:
    """Where faces pass through each other: the lines, and what to cut out of which row."""

    lines: tuple[Crossing, ...]
    rows: Rows
    covers: Shapes


def cut_crossed(order: Order) -> Crossings:
    """Return the pairs that pass through each other, cut where they do."""
    which = order.crosses
    a, b, overlap = order.a[which], order.b[which], order.overlap[which]
    halves, borders = _halves(overlap, order.tilt[which])
    nearer = intersect(overlap.tolist(), halves.tolist())
    farther = subtract(overlap.tolist(), halves.tolist())
    lines = []
    for shape, border, i, j in zip(overlap, borders, a.tolist(), b.tolist(), strict=True):
        for part in shapely.get_parts(shared(shape, border)).tolist():
            if part.geom_type == "LineString" and part.length > 0.01:
                (x0, y0), (x1, y1) = part.coords[0], part.coords[-1]
                lines.append(Crossing(rows=(i, j), start=(x0, y0), end=(x1, y1)))
    return Crossings(
        lines=tuple(lines),
        rows=np.concatenate([a, b]),
        covers=np.concatenate([nearer, farther]),
    )


def _halves(shapes: Shapes, tilt: Array) -> tuple[Shapes, Shapes]:
    """Return for each shape the half-plane where the function is negative, and its border."""
    if not len(shapes):
        return np.zeros(0, dtype=object), np.zeros(0, dtype=object)
    box = shapely.bounds(shapes)
    middle = (box[:, :2] + box[:, 2:]) / 2
    reach = 2 * np.hypot(*(box[:, 2:] - box[:, :2]).T)[:, None] + 1
    steep = np.hypot(tilt[:, 0], tilt[:, 1])[:, None]
    normal = tilt[:, :2] / steep
    value = (middle * tilt[:, :2]).sum(axis=1, keepdims=True) + tilt[:, 2:]
    foot = middle - normal * (value / steep)
    along = np.stack([-normal[:, 1], normal[:, 0]], axis=1) * reach
    back = normal * reach
    corners = np.stack([foot - along, foot + along, foot + along - back, foot - along - back], 1)
    halves: Shapes = np.asarray(shapely.polygons(corners), dtype=object)
    borders: Shapes = np.asarray(shapely.linestrings(corners[:, :2]), dtype=object)
    return halves, borders
