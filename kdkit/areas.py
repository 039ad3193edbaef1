"""Row 1: cutting and joining areas so that it neither fails nor loses anything.

Borders that run within rounding of each other are the normal case here: panels are
flush. In floating point the geometry library may refuse such input, and a union of
many areas may even silently lose one; on a grid of ``GRID`` mm (snap rounding) it
does neither. What two areas share is found in floating point, which the library
checks by itself, and on the grid if it refuses. An area whose border crosses itself by
rounding, a sliver seen from the side, is mended before it is refused for good.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

__all__ = [
    "GRID",
    "intersect",
    "join",
    "join_touching",
    "rest_of",
    "shared",
    "subtract",
    "together",
]

Shapes = NDArray[np.object_]

GRID = 1e-5
"""mm; far below the tolerance of the model, far above the rounding of coordinates."""

_NOTHING = shapely.Polygon()
_AREAS = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)
_SAME = 1e-9  # relative; what a union may lose or gain by rounding


def shared(one: BaseGeometry, other: BaseGeometry, grid: float | None = None) -> BaseGeometry:
    """Return what two shapes share, with the lines and points in which they only touch.

    ``grid`` (mm): snap the corners to it, also where it would go without.
    """
    found: BaseGeometry = _cut(shapely.intersection, one, other, grid)
    return found


def rest_of(one: BaseGeometry, other: BaseGeometry, grid: float | None = None) -> BaseGeometry:
    """Return what the other leaves of the first; ``grid`` as in ``shared``."""
    found: BaseGeometry = _cut(shapely.difference, one, other, grid)
    return found


def together(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the union of a few areas, corners unmoved where that loses none of them."""
    try:
        whole: BaseGeometry = shapely.union_all(shapes)
    except shapely.errors.GEOSException:
        return join(shapes)
    areas = [shape.area for shape in shapes]
    slack = _SAME * sum(areas)
    if max(areas, default=0.0) - slack <= whole.area <= sum(areas) + slack:
        return whole
    return join(shapes)


def intersect(first: Sequence[BaseGeometry], second: Sequence[BaseGeometry]) -> Shapes:
    """Return what each pair of areas shares, areas only."""
    return _areas_only(list(_cut(shapely.intersection, _areas_only(first), _areas_only(second))))


def subtract(first: Sequence[BaseGeometry], second: Sequence[BaseGeometry]) -> Shapes:
    """Return what the second of each pair of areas leaves of the first, areas only."""
    return _areas_only(list(_cut(shapely.difference, _areas_only(first), _areas_only(second))))


def join(shapes: Sequence[BaseGeometry], grid: float = GRID) -> BaseGeometry:
    """Return the union of areas, areas only."""
    kept = _areas_only(shapes)
    try:
        return _areas(shapely.union_all(kept, grid_size=grid))
    except shapely.errors.GEOSException:
        return _areas(
            shapely.union_all(_areas_only(shapely.make_valid(kept).tolist()), grid_size=grid)
        )


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


def _cut(operation: Callable[..., Any], one: Any, other: Any, first: float | None = None) -> Any:
    """Return an operation on two shapes, or on arrays of them: as asked if it can be done."""
    for grid in (first, GRID):
        try:
            return operation(one, other, grid_size=grid)
        except shapely.errors.GEOSException:
            continue
    return operation(_mended(one), _mended(other), grid_size=GRID)


def _mended(shapes: Any) -> Any:
    """Return a shape or an array of them made valid; areas stay areas.

    A sliver that folds onto itself becomes an area with a line, which no operation takes.
    """
    if isinstance(shapes, np.ndarray):
        mended = np.empty(len(shapes), dtype=object)
        mended[:] = [_mended(shape) for shape in shapes.tolist()]
        return mended
    valid = shapely.make_valid(shapes)
    return _areas(valid) if shapely.get_type_id(shapes) in _AREAS else valid


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
