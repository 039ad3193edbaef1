"""Solids cut into convex pieces, and whether one piece, moved on, meets another.

The check of a whole stretch of directions needs convexity: if a convex piece meets a
convex piece along three directions, it does along every direction between them, since
the ways from the one to the other can be mixed. Here pieces are made by cutting a solid
along the planes of what is taken out of it, and two pieces are compared by their
outlines as seen along the direction, which is other code than the planner's.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Frame, Vec3
from kdkit.plan.verify.meeting import Prism, Solid
from kdkit.units import TOLERANCE

__all__ = ["Piece", "cut_into_pieces", "meets"]

Array = NDArray[np.float64]

_ON = 1e-7  # mm; a corner this near to a plane lies on it


@dataclass(frozen=True, eq=False)
class Piece:
    """A convex piece: where ``normals`` · p ≤ ``offsets``, and its corners."""

    normals: Array
    offsets: Array
    corners: Array
    outlines: dict[Vec3, BaseGeometry] = field(default_factory=dict)

    def outline(self, d: Vec3, across: Array) -> BaseGeometry:
        """Return its outline as seen along a direction, in two axes across it."""
        if d not in self.outlines:
            self.outlines[d] = MultiPoint(self.corners @ across.T).convex_hull
        return self.outlines[d]

    def span(self, p: Array, d: Array) -> tuple[float, float]:
        """Return from where to where p + t·d lies inside; the first is larger if nowhere."""
        towards, room = self.normals @ d, self.offsets - self.normals @ p
        low, high = -np.inf, np.inf
        for t, r in zip(towards, room, strict=True):
            if t > 1e-12:
                high = min(high, r / t)
            elif t < -1e-12:
                low = max(low, r / t)
            elif r < 0:
                return 1.0, 0.0
        return float(low), float(high)


def cut_into_pieces(solid: Solid) -> tuple[Piece, ...]:
    """Return convex pieces that fill a solid and do not overlap."""
    left = [piece for prism in solid.full for piece in _of_prism(prism)]
    for prism in solid.empty:
        for taken in _of_prism(prism):
            left = [rest for piece in left for rest in _less(piece, taken)]
    return tuple(left)


def meets(moving: Piece, standing: Piece, d: Vec3, across: Array) -> bool:
    """Tell whether a piece moved along d for ever meets another by more than the tolerance.

    Args:
        across: two unit vectors square to d and to each other, as rows.
    """
    common = shapely.intersection(moving.outline(d, across), standing.outline(d, across))
    if not isinstance(common, Polygon) or common.is_empty:
        return False
    middle = common.centroid
    if shapely.distance(common.exterior, middle) <= TOLERANCE:
        return False
    way = np.array(d)
    p = np.array([middle.x, middle.y]) @ across
    ours, theirs = moving.span(p, way), standing.span(p, way)
    return ours[0] < ours[1] and theirs[0] < theirs[1] and theirs[1] - ours[0] > TOLERANCE


def _of_prism(prism: Prism) -> Iterator[Piece]:
    polygon = prism.polygon
    if polygon.convex_hull.area - polygon.area <= 1e-6 * polygon.area:
        parts = [polygon.convex_hull]
    else:
        parts = list(shapely.get_parts(shapely.constrained_delaunay_triangles(polygon)))
    for part in parts:
        if isinstance(part, Polygon) and not part.is_empty:
            ring = np.array(part.exterior.coords)[:-1]
            turned = ring if part.exterior.is_ccw else ring[::-1]
            yield _upright(prism.frame, turned, prism.z0, prism.z1)


def _upright(frame: Frame, ring: Array, z0: float, z1: float) -> Piece:
    """The prism over a convex ring (counter-clockwise) of a frame."""
    axes, origin = np.array([frame.i, frame.j, frame.k]), np.array(frame.origin)
    along = np.roll(ring, -1, axis=0) - ring
    long = np.linalg.norm(along, axis=1)
    ring, along = ring[long > _ON], along[long > _ON] / long[long > _ON][:, None]
    n = len(ring)
    normals = np.zeros((n + 2, 3))
    normals[:n, 0], normals[:n, 1] = along[:, 1], -along[:, 0]
    normals[n, 2], normals[n + 1, 2] = 1.0, -1.0
    flat = np.zeros((2 * n, 3))
    flat[:n, :2] = flat[n:, :2] = ring
    flat[:n, 2], flat[n:, 2] = z0, z1
    corners, turned = flat @ axes + origin, normals @ axes
    return Piece(turned, (turned @ corners.T).max(axis=1), corners)


def _less(piece: Piece, taken: Piece) -> Iterator[Piece]:
    """Yield what is left of a piece without another, cut along that one's planes."""
    heights = piece.corners @ taken.normals.T - taken.offsets
    if (heights.min(axis=0) >= -_ON).any():
        yield piece
        return
    pieces, inside = [], piece
    for normal, offset in zip(taken.normals, taken.offsets, strict=True):
        beyond, within = _cut(inside, -normal, -offset), _cut(inside, normal, offset)
        if beyond is not None:
            pieces.append(beyond)
        if within is None:  # the two only touch
            yield piece
            return
        inside = within
    yield from pieces


def _cut(piece: Piece, normal: Array, offset: float) -> Piece | None:
    """Return the part of a piece where normal · p ≤ offset; None: nothing to speak of."""
    heights = piece.corners @ normal - offset
    if heights.max() <= _ON:
        return piece
    if heights.min() >= -_ON:
        return None
    normals = np.vstack([piece.normals, normal])
    offsets = np.append(piece.offsets, offset)
    triples = np.array(list(combinations(range(len(normals)), 3)))
    matrices = normals[triples]
    sharp = np.abs(np.linalg.det(matrices)) > 1e-9
    points = np.linalg.solve(matrices[sharp], offsets[triples[sharp]][:, :, None])[:, :, 0]
    points = points[(points @ normals.T <= offsets + _ON).all(axis=1)]
    corners = points[np.unique(np.round(points, 6), axis=0, return_index=True)[1]]
    if len(corners) < 4:
        return None
    used = np.isclose(normals @ corners.T, offsets[:, None], atol=1e-6).sum(axis=1) >= 3
    return Piece(normals[used], offsets[used], corners)
