"""What a body hides of itself, and its silhouette.

Neither depends on where the body lies, so bodies posed alike share the answer: the
twenty dowels of a figure, and a panel in all steps of one view.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from kdkit.areas import join
from kdkit.illustrate.hidden_lines.covers import NOTHING, take_off
from kdkit.illustrate.hidden_lines.depth_order import Crossing, cut_crossed, order_pairs
from kdkit.illustrate.hidden_lines.front_faces import FrontFaces

__all__ = ["OwnLooks", "look_at_bodies"]

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
Shapes = NDArray[np.object_]

_DECIMALS = 6  # of mm, to which bodies posed alike are alike
_SAME = 1e-6  # share of its area by which a silhouette may differ from its faces


@dataclass(frozen=True, kw_only=True)
class _Look:
    """One body near (0, 0): which faces it hides something of, what is left of them."""

    cut: tuple[int, ...]
    left: tuple[BaseGeometry, ...]
    crossings: tuple[Crossing, ...]
    outline: BaseGeometry


@dataclass(frozen=True, kw_only=True)
class OwnLooks:
    """What is left of every face of a fronts behind nothing but its own body.

    Args:
        shapes: by row; the very same object as in the fronts where nothing is lost.
        crossings: where faces of one body pass through each other.
    """

    shapes: Shapes
    crossings: tuple[Crossing, ...]
    _looks: tuple[_Look | None, ...]
    _places: Array

    def outlines(self, bodies: Sequence[int]) -> Shapes:
        """Return the silhouettes of some bodies that look at the viewer."""
        looks = [self._looks[b] for b in bodies]
        return _moved([look.outline for look in looks if look], self._places[list(bodies)])

    def joined(self, rows: Sequence[int]) -> BaseGeometry:
        """Return some faces of one body as one area."""
        return _as_one(self.shapes[list(rows)])


def look_at_bodies(fronts: FrontFaces) -> OwnLooks:
    """Return what each body of a fronts hides of itself."""
    bodies = len(fronts.bodies)
    starts = np.searchsorted(fronts.body, np.arange(bodies + 1))
    at, owner = shapely.get_coordinates(shapely.get_rings(fronts.shapes), return_index=True)
    ring_row = shapely.get_rings(fronts.shapes, return_index=True)[1]
    ring_size = np.bincount(owner, minlength=len(ring_row))
    ring_starts = np.searchsorted(ring_row, starts)
    point_starts = np.concatenate([[0], np.cumsum(ring_size)])[ring_starts]
    places = np.zeros((bodies, 2))
    shapes = fronts.shapes.copy()
    looks: list[_Look | None] = []
    crossings: list[Crossing] = []
    rows: list[int] = []
    left: list[BaseGeometry] = []
    whose: list[int] = []
    for b in range(bodies):
        first, last = int(starts[b]), int(starts[b + 1])
        if first == last:
            looks.append(None)
            continue
        place = at[point_starts[b]]
        places[b] = place
        planes = fronts.planes[first:last].copy()
        planes[:, 2] += planes[:, :2] @ place
        planes[:, 2] -= planes[0, 2]
        rings = slice(int(ring_starts[b]), int(ring_starts[b + 1]))
        look = _look(
            _bytes(at[point_starts[b] : point_starts[b + 1]] - place),
            ring_size[rings].tobytes(),
            (ring_row[rings] - first).tobytes(),
            _bytes(planes),
        )
        looks.append(look)
        rows += [first + n for n in look.cut]
        left += look.left
        whose += [b] * len(look.cut)
        x, y = place.tolist()
        crossings += [
            Crossing(
                rows=(first + c.rows[0], first + c.rows[1]),
                start=(c.start[0] + x, c.start[1] + y),
                end=(c.end[0] + x, c.end[1] + y),
            )
            for c in look.crossings
        ]
    shapes[rows] = _moved(left, places[whose])
    return OwnLooks(shapes=shapes, crossings=tuple(crossings), _looks=tuple(looks), _places=places)


def _bytes(values: Array) -> bytes:
    return (np.round(values, _DECIMALS) + 0.0).tobytes()


@lru_cache(maxsize=2048)
def _look(points: bytes, ring_size: bytes, ring_row: bytes, planes: bytes) -> _Look:
    """Return a body's look; everything is given as bytes so that equal bodies are found.

    Args:
        points: of all rings, (N, 2); the first at (0, 0).
        ring_size, ring_row: of each ring its number of points and its face.
        planes: of each face, (M, 3).
    """
    at = np.frombuffer(points, dtype=np.float64).reshape(-1, 2)
    sizes, rows = (np.frombuffer(one, dtype=np.intp) for one in (ring_size, ring_row))
    rings = shapely.linearrings(at, indices=np.repeat(np.arange(len(sizes)), sizes))
    shapes = np.asarray(shapely.polygons(np.asarray(rings), indices=rows), dtype=object)
    depth = np.frombuffer(planes, dtype=np.float64).reshape(-1, 3)
    a, b = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    a, b = a[a < b], b[a < b]
    order = order_pairs(shapes, depth, a, b, np.ones(len(a), dtype=bool))
    crossed = cut_crossed(order)
    seen = take_off(
        shapes,
        np.concatenate([order.a[order.b_nearer], order.b[order.a_nearer], crossed.rows]),
        np.concatenate(
            [shapes[order.b[order.b_nearer]], shapes[order.a[order.a_nearer]], crossed.covers]
        ),
    )
    cut = tuple(n for n in range(len(shapes)) if seen[n] is not shapes[n])
    return _Look(
        cut=cut,
        left=tuple(seen[n] for n in cut),
        crossings=crossed.lines,
        outline=_as_one(seen[~shapely.is_empty(seen)]),
    )


def _as_one(faces: Shapes) -> BaseGeometry:
    """Return visible faces of a body, none over another, as one area."""
    area = float(shapely.area(faces).sum())
    for unite in (shapely.coverage_union_all, shapely.union_all):
        try:
            whole: BaseGeometry = unite(faces)
        except shapely.errors.GEOSException:
            continue
        if abs(whole.area - area) <= _SAME * area and whole.is_valid:
            return whole
    return join(faces.tolist())


def _moved(shapes: Sequence[BaseGeometry], by: Array) -> Shapes:
    """Return shapes, each shifted on paper."""
    result = np.empty(len(shapes), dtype=object)
    result[:] = shapes
    at, index = shapely.get_coordinates(result, return_index=True)
    moved: Shapes = np.asarray(shapely.set_coordinates(result, at + by[index]), dtype=object)
    moved[shapely.is_empty(moved)] = NOTHING
    return moved
