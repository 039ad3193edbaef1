"""Cutting and joining areas so that it neither fails nor loses anything.

Borders that run within rounding of each other are the normal case here: panels are
flush. In floating point the geometry library may refuse such input, and a union of
many areas may even silently lose one; on a grid of ``GRID`` mm (snap rounding) it
does neither. What two areas share is found in floating point, which the library
checks by itself, and on the grid if it refuses.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

__all__ = ["GRID", "intersect", "join", "join_touching", "subtract"]

Shapes = NDArray[np.object_]

GRID = 1e-5
"""mm; far below the tolerance of the model, far above the rounding of coordinates."""

_NOTHING = shapely.Polygon()
_AREAS = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)


def intersect(first: Sequence[BaseGeometry], second: Sequence[BaseGeometry]) -> Shapes:
    """Return what each pair of areas shares, areas only."""
    one, two = _areas_only(first), _areas_only(second)
    try:
        return _areas_only(list(shapely.intersection(one, two)))
    except shapely.errors.GEOSException:
        return _areas_only(list(shapely.intersection(one, two, grid_size=GRID)))


def subtract(first: Sequence[BaseGeometry], second: Sequence[BaseGeometry]) -> Shapes:
    """Return what the second of each pair of areas leaves of the first, areas only."""
    one, two = _areas_only(first), _areas_only(second)
    try:
        return _areas_only(list(shapely.difference(one, two)))
    except shapely.errors.GEOSException:
        return _areas_only(list(shapely.difference(one, two, grid_size=GRID)))


def join(shapes: Sequence[BaseGeometry], grid: float = GRID) -> BaseGeometry:
    """Return the union of areas, areas only."""
    return _areas(shapely.union_all(_areas_only(shapes), grid_size=grid))


def join_touching(shapes: Sequence[BaseGeometry], grid: float = GRID) -> BaseGeometry:
    """Return the union of areas; those that lie apart from all others stay as they are."""
    kept = _areas_only(shapes)
    low, high = shapely.bounds(kept).reshape(-1, 2, 2).transpose(1, 0, 2)
    near = (low[:, None] <= high[None] + 2 * grid).all(axis=2)
    near &= near.T
    alone = near.sum(axis=1) == 1
    if not alone.any():
        return join(shapes, grid)
    joined = [join(kept[~alone].tolist(), grid)] if not alone.all() else []
    parts = shapely.get_parts(np.array([*kept[alone], *joined], dtype=object))
    whole = shapely.multipolygons(parts)
    assert isinstance(whole, shapely.MultiPolygon)
    return whole


def _areas_only(shapes: Sequence[BaseGeometry]) -> Shapes:
    """Return shapes without the lines and points that a touching border adds to them."""
    kept = np.empty(len(shapes), dtype=object)
    kept[:] = shapes
    kinds = shapely.get_type_id(kept)
    for n in np.flatnonzero((kinds != _AREAS[0]) & (kinds != _AREAS[1])).tolist():
        kept[n] = _areas(kept[n])
    return kept


def _areas(shape: BaseGeometry) -> BaseGeometry:
    if isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
        return shape
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, shapely.Polygon)]
    return shapely.MultiPolygon(parts) if parts else _NOTHING
