"""Taking off what is covered: nearer faces cut out of farther ones, without slivers."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from kdkit.areas import subtract

__all__ = ["NOTHING", "SLIVER", "drop_slivers", "take_off"]

Rows = NDArray[np.intp]
Shapes = NDArray[np.object_]

SLIVER = 1e-3
"""mm², and mm of mean width: less is noise of the overlay."""

NOTHING = shapely.Polygon()


def take_off(shapes: Shapes, targets: Rows, covers: Shapes) -> Shapes:
    """Return shapes less their covers, without slivers.

    Args:
        targets: for each cover the number of the shape that it is cut out of.

    Returns:
        the very same objects where nothing is lost, ``NOTHING`` where nothing is left.
    """
    left = shapes.copy()
    order = np.lexsort((-shapely.area(covers), targets))
    targets, covers = targets[order], covers[order]
    starts = np.flatnonzero(np.r_[True, targets[1:] != targets[:-1]][: len(targets)])
    turn = np.arange(len(targets)) - np.repeat(starts, np.diff(np.r_[starts, len(targets)]))
    for n in range(int(turn.max(initial=-1)) + 1):
        now = np.flatnonzero(turn == n)
        now = now[~shapely.is_empty(left[targets[now]])]
        left[targets[now]] = subtract(left[targets[now]].tolist(), covers[now].tolist())
    cut = targets[starts]
    left[cut] = drop_slivers(left[cut], shapes[cut])
    return left


def drop_slivers(left: Shapes, whole: Shapes) -> Shapes:
    """Return what is left of shapes without slivers; the whole ones if they lost none but those."""
    result = left.copy()
    sizes, around = shapely.area(left), shapely.length(left)
    plain = shapely.get_type_id(left) == shapely.GeometryType.POLYGON
    good = plain & (sizes > SLIVER) & (sizes > SLIVER * around)
    kept = shapely.area(whole) - sizes < SLIVER
    result[kept] = whole[kept]
    result[sizes <= SLIVER] = NOTHING
    for n in np.flatnonzero(~good & ~kept & (sizes > SLIVER)).tolist():
        result[n] = _without_slivers(left[n])
    return result


def _without_slivers(shape: BaseGeometry) -> BaseGeometry:
    kept = [
        p
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and p.area > SLIVER and p.area > SLIVER * p.length
    ]
    return shapely.MultiPolygon(kept) if kept else NOTHING
