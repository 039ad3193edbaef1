"""Visible surface: which part of every face the viewer sees.

Takes the faces that look at the viewer, gives for each (and for each filled mark) the
polygon of it that nothing nearer covers. First each body hides what it hides of itself;
then faces of different bodies are compared pair by pair. Where all of a body that lies
over a face lies in front of it, its silhouette is cut out in one go. Faces that pass
through each other are cut where they do; faces of one plane do not hide each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from kdkit.areas import intersect
from kdkit.illustrate.hidden_lines.covers import NOTHING, drop_slivers, take_off
from kdkit.illustrate.hidden_lines.depth_order import (
    TOUCH,
    Crossing,
    Order,
    cut_crossed,
    extremes,
    order_pairs,
)
from kdkit.illustrate.hidden_lines.front_faces import FrontFaces
from kdkit.illustrate.hidden_lines.own_look import OwnLooks, look_at_bodies

__all__ = ["VisibleSurfaces", "find_visible_surfaces"]

Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]
Shapes = NDArray[np.object_]


@dataclass(frozen=True, kw_only=True)
class VisibleSurfaces:
    """What is seen of faces and marks.

    Args:
        seen: the visible part of every row of the fronts, then of every paint, as
            polygons or multipolygons; empty where nothing is left, the very same
            object as in the fronts where nothing covers it.
        crossings: where faces pass through each other.
        shared: rows that gave a piece of their plane to another body's flush face;
            their lines may be seen even where nothing of them is left.
    """

    seen: tuple[BaseGeometry, ...]
    crossings: tuple[Crossing, ...] = ()
    shared: frozenset[int] = frozenset()


def find_visible_surfaces(fronts: FrontFaces) -> VisibleSurfaces:
    """Return the visible surface of a fronts."""
    if not len(fronts.shapes):
        return VisibleSurfaces(seen=())
    own = look_at_bodies(fronts)
    hidden = _behind_one(fronts) | shapely.is_empty(own.shapes)
    a, b = fronts.tree.query(fronts.shapes, predicate="intersects")
    two = (a < b) & (fronts.body[a] != fronts.body[b])
    a, b = a[two], b[two]
    counts = ~(hidden[a] | hidden[b])
    order = order_pairs(own.shapes, fronts.planes, a, b, counts)
    crossed = cut_crossed(order)
    under = _under_flush(fronts, order)
    targets, covers = _covers(fronts, own, order, ~(hidden[order.a] | hidden[order.b]))
    seen = take_off(
        own.shapes,
        np.concatenate([targets, under, crossed.rows]),
        np.concatenate([covers, order.overlap[order.flush], crossed.covers]),
    )
    seen[hidden] = NOTHING
    return VisibleSurfaces(
        seen=(*seen, *_paints_seen(fronts, seen)),
        crossings=(*own.crossings, *crossed.lines),
        shared=frozenset(under.tolist()),
    )


def _behind_one(fronts: FrontFaces) -> Flags:
    """Tell which faces lie wholly behind a single other one.

    What such a face covers the other one covers as well, so it is compared with nothing.
    """
    over, under = fronts.tree.query(fronts.shapes, predicate="contains_properly")
    over, under = over[over != under], under[over != under]
    _, high = extremes(fronts.shapes[under], fronts.planes[over] - fronts.planes[under])
    result = np.zeros(len(fronts.shapes), dtype=bool)
    result[under[high < -TOUCH]] = True
    return result


def _under_flush(fronts: FrontFaces, order: Order) -> Rows:
    """Return for each pair of one plane (a plug flush in a panel) which is not painted there.

    The smaller face is.
    """
    under: list[int] = []
    flush = order.flush
    for pair in zip(order.a[flush].tolist(), order.b[flush].tolist(), strict=True):
        rank = [(round(fronts.shapes[t].area, 2), -int(fronts.body[t]), t) for t in pair]
        under.append(max(rank)[-1])
    return np.array(under, dtype=np.intp)


def _covers(fronts: FrontFaces, own: OwnLooks, order: Order, counts: Flags) -> tuple[Rows, Shapes]:
    """Return rows, and what nearer bodies take of each: one shape for each body."""
    target = np.concatenate([order.a, order.b])
    nearer = np.concatenate([order.b, order.a])
    hides = np.concatenate([order.b_nearer, order.a_nearer])
    wanted = hides & np.tile(counts, 2)
    groups, group = np.unique(
        target * len(fronts.bodies) + fronts.body[nearer], return_inverse=True
    )
    in_front = np.bincount(group, weights=~hides, minlength=len(groups)) == 0
    several = np.bincount(group, weights=wanted, minlength=len(groups)) > 1
    whole = np.flatnonzero(several & in_front)
    rows, bodies = np.divmod(groups, len(fronts.bodies))
    drawn, which = np.unique(bodies[whole], return_inverse=True)
    single = wanted & ~several[group]
    found = [(rows[whole], own.outlines(drawn.tolist())[which])]
    found.append((target[single], own.shapes[nearer[single]]))
    # Of a body that stands in something only the faces that lie in front are taken.
    known: dict[tuple[int, ...], BaseGeometry] = {}
    some = np.flatnonzero(wanted & (several & ~in_front)[group])
    some = some[np.lexsort((nearer[some], group[some]))]
    for part in np.split(some, np.flatnonzero(np.diff(group[some])) + 1) if len(some) else ():
        faces = tuple(nearer[part].tolist())
        if faces not in known:
            known[faces] = own.joined(faces)
        found.append((target[part[:1]], np.array([known[faces]], dtype=object)))
    return (
        np.concatenate([targets for targets, _ in found]),
        np.concatenate([covers for _, covers in found]),
    )


def _paints_seen(fronts: FrontFaces, seen: Shapes) -> Shapes:
    """Return what is seen of each filled mark: what is seen of its face there."""
    host = np.array([row for row, _, _ in fronts.paints], dtype=np.intp)
    paints = np.array([shape for _, shape, _ in fronts.paints], dtype=object)
    result = paints.copy()
    ground = seen[host]
    part = ground != fronts.shapes[host]
    shapely.prepare(ground[part])
    part[part] = ~shapely.covers(ground[part], paints[part])
    left = intersect(paints[part].tolist(), ground[part].tolist())
    result[part] = drop_slivers(left, paints[part])
    return result
