"""Visible surface: which part of every face the viewer sees.

Takes bodies and a view at scale 1, gives for every face (and filled mark) that
looks at the viewer the polygon of it that nothing nearer covers. Two faces that
overlap on paper are compared by depth; both planes being linear in x and y, one
is in front of the other on one side of a line, so faces that pass through each
other are cut where they do. Faces of one plane do not hide each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec3, dot
from kdkit.illustrate.overlay import intersect, join, subtract
from kdkit.illustrate.solids import Body
from kdkit.illustrate.view import View

__all__ = ["EDGE_ON", "TOUCH", "Crossing", "Scene", "Surfaces", "find_surfaces", "set_scene"]

Array = NDArray[np.float64]
Shapes = NDArray[np.object_]

EDGE_ON = 1e-5
"""Faces whose normal has less than this toward the viewer are seen edge-on: not drawn."""

TOUCH = 2e-3
"""Depths (mm) that differ by less are the same depth: surfaces that touch."""

_FEW = 8  # up to so many covers are cut off one by one, more are joined first

_SLIVER = 1e-3  # mm², and mm of mean width: less is noise of the overlay

_NOTHING = shapely.Polygon()


@dataclass(frozen=True, kw_only=True)
class Scene:
    """All faces that look at the viewer, on the paper plane, in product mm.

    Row f of the arrays is one face: ``shapes`` its polygon, ``planes`` (a, b, c)
    with depth = a·x + b·y + c, ``near``/``far`` the depths of its nearest and
    farthest corner, ``body`` and ``face`` where it comes from. ``paints``: filled
    marks, as ``(row, shape, tone)``.
    """

    bodies: tuple[Body, ...]
    view: View
    shapes: Shapes
    planes: Array
    near: Array
    far: Array
    body: NDArray[np.intp]
    face: NDArray[np.intp]
    paints: tuple[tuple[int, shapely.Polygon, int], ...]

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The index over the faces' boxes on paper."""
        return shapely.STRtree(self.shapes)

    @cached_property
    def row_of(self) -> dict[tuple[int, int], int]:
        """Where the face of a body is, if it looks at the viewer."""
        pairs = zip(self.body.tolist(), self.face.tolist(), strict=True)
        return {pair: row for row, pair in enumerate(pairs)}


@dataclass(frozen=True, kw_only=True)
class Crossing:
    """A line on paper where two faces pass through each other: rows, and its ends."""

    rows: tuple[int, int]
    start: tuple[float, float]
    end: tuple[float, float]


def set_scene(bodies: Sequence[Body], view: View) -> Scene:
    """Return the scene of bodies in a view; the view's scale and origin are left out."""
    flat = view.at_scale(1.0)
    toward = flat.toward
    right, up, _ = flat.axes
    found: list[tuple[int, int]] = []
    planes: list[tuple[float, float, float]] = []
    loops: list[Array] = []
    holes: dict[int, list[Array]] = {}
    depths: list[tuple[float, float]] = []
    painted: list[tuple[tuple[int, int], int]] = []
    paint_loops: list[Array] = []
    for b, body in enumerate(bodies):
        facings = np.array([f.normal for f in body.faces]).reshape(-1, 3) @ np.array(toward)
        fronts = np.flatnonzero(facings >= EDGE_ON).tolist()
        marks = [
            (m, mark)
            for m, mark in enumerate(body.marks)
            if mark.tone and mark.closed and facings[mark.face] >= EDGE_ON
        ]
        rings = [body.faces[f].outer for f in fronts]
        rings += [hole for f in fronts for hole in body.faces[f].holes]
        rings += [mark.points for _, mark in marks]
        if not rings:
            continue
        placed = flat.project_many(np.array([p for ring in rings for p in ring], dtype=float))
        parts = iter(np.split(placed, np.cumsum([len(ring) for ring in rings])[:-1]))
        for f in fronts:
            outer = next(parts)
            at = tuple(outer.mean(axis=0).tolist())
            planes.append(_plane(body.faces[f].normal, right, up, float(facings[f]), at))
            depths.append((float(outer[:, 2].min()), float(outer[:, 2].max())))
            found.append((b, f))
            loops.append(outer[:, :2])
        first = len(found) - len(fronts)
        for n, f in enumerate(fronts):
            for _ in body.faces[f].holes:
                holes.setdefault(first + n, []).append(next(parts)[:, :2])
        for m, mark in marks:
            painted.append(((b, mark.face), m))
            paint_loops.append(next(parts)[:, :2])
    shapes, origin = _polygons(loops, holes)
    rows: dict[tuple[int, int], int] = {}
    for row, n in enumerate(origin):
        rows[found[n]] = row
    depth = np.array([depths[n] for n in origin], dtype=float).reshape(-1, 2)
    where = np.array([found[n] for n in origin], dtype=np.intp).reshape(-1, 2)
    paints, _ = _rings(paint_loops)
    return Scene(
        bodies=tuple(bodies),
        view=flat,
        shapes=shapes,
        planes=np.array([planes[n] for n in origin], dtype=float).reshape(-1, 3),
        near=depth[:, 0],
        far=depth[:, 1],
        body=where[:, 0],
        face=where[:, 1],
        paints=tuple(
            (rows[face], paint, m)
            for (face, m), paint in zip(painted, paints, strict=True)
            if face in rows
        ),
    )


def _rings(loops: Sequence[Array]) -> tuple[Shapes, NDArray[np.bool_]]:
    """Return loops as polygons, and which of them are valid."""
    if not loops:
        return np.zeros(0, dtype=object), np.zeros(0, dtype=bool)
    index = np.repeat(np.arange(len(loops)), [len(loop) for loop in loops])
    rings = shapely.linearrings(np.concatenate(loops), indices=index)
    made: Shapes = np.asarray(shapely.polygons(rings), dtype=object)
    return made, np.asarray(shapely.is_valid(made), dtype=bool)


def _polygons(loops: Sequence[Array], holes: dict[int, list[Array]]) -> tuple[Shapes, list[int]]:
    """Return faces as valid polygons, and which loop each is of."""
    made, valid = _rings(loops)
    shapes: list[BaseGeometry] = []
    origin: list[int] = []
    for n, shape in enumerate(made.tolist()):
        if n in holes or not valid[n]:
            for part in _valid(shapely.Polygon(loops[n], holes.get(n, []))):
                shapes.append(part)
                origin.append(n)
        else:
            shapes.append(shape)
            origin.append(n)
    result = np.empty(len(shapes), dtype=object)
    result[:] = shapes
    return result, origin


def _valid(shape: shapely.Polygon) -> list[shapely.Polygon]:
    """Return a face's outline as polygons that do not cross or touch themselves."""
    if shape.is_valid:
        return [shape]
    parts = shapely.get_parts(shapely.make_valid(shape)).tolist()
    return [part for part in parts if isinstance(part, shapely.Polygon)]


def _plane(
    normal: Vec3, right: Vec3, up: Vec3, facing: float, point: tuple[float, ...]
) -> tuple[float, float, float]:
    """Return (a, b, c) of a plane through a paper point: depth = a·x + b·y + c."""
    a = dot(normal, right) / facing
    b = -dot(normal, up) / facing
    return a, b, point[2] - a * point[0] - b * point[1]


@dataclass(frozen=True, kw_only=True)
class Surfaces:
    """What is seen of faces and marks.

    Args:
        seen: the visible part of every row of the scene, then of every paint, as
            polygons or multipolygons; empty where nothing is left, the very same
            object as in the scene where nothing covers it.
        crossings: where faces pass through each other.
        shared: rows that gave a piece of their plane to another body's flush face;
            their lines may be seen even where nothing of them is left.
    """

    seen: tuple[BaseGeometry, ...]
    crossings: tuple[Crossing, ...] = ()
    shared: frozenset[int] = frozenset()


def find_surfaces(scene: Scene) -> Surfaces:
    """Return the visible surface of a scene."""
    count = len(scene.shapes)
    host = np.array([row for row, _, _ in scene.paints], dtype=np.intp)
    targets = np.concatenate(
        [scene.shapes, np.array([s for _, s, _ in scene.paints], dtype=object)]
    )
    row = np.concatenate([np.arange(count), host]).astype(np.intp)
    if not count:
        return Surfaces(seen=())
    a, b = scene.tree.query(targets, predicate="intersects")
    # Two faces are compared once, whichever is in front; a paint only with what may cover it.
    once = np.where(a < count, a < b, row[a] != b)
    sharing = (scene.near[b] < scene.far[row[a]] + TOUCH) | (a < count)
    behind_one = _behind_one(scene)
    alive = ~(behind_one[row[a]] | behind_one[b])
    a, b = a[once & sharing & alive], b[once & sharing & alive]
    overlap = intersect(targets[a].tolist(), scene.shapes[b].tolist())
    big = shapely.area(overlap) > _SLIVER
    a, b, overlap = a[big], b[big], overlap[big]

    planes = scene.planes[row]
    tilt = scene.planes[b] - planes[a]  # depth of b less depth of a; negative: b in front
    low, high = _extremes(overlap, tilt)
    covered: dict[int, list[BaseGeometry]] = {}
    mixed = (low < -TOUCH) & (high > TOUCH)
    first_behind = ~mixed & (low < -TOUCH)
    second_behind = ~mixed & (high > TOUCH) & (a < count)
    for n in np.flatnonzero(first_behind):
        covered.setdefault(int(a[n]), []).append(overlap[n])
    for n in np.flatnonzero(second_behind):
        covered.setdefault(int(b[n]), []).append(overlap[n])
    shared: set[int] = set()
    same = ~mixed & (low >= -TOUCH) & (high <= TOUCH) & (a < count)
    for n in np.flatnonzero(same & (scene.body[row[a]] != scene.body[b])):
        # One plane, two bodies (a plug flush in a panel): the smaller face is painted.
        rank = [(round(targets[t].area, 2), -int(scene.body[t]), int(t)) for t in (a[n], b[n])]
        under = max(rank)[-1]
        shared.add(under)
        covered.setdefault(under, []).append(overlap[n])
    crossings: list[Crossing] = []
    which = np.flatnonzero(mixed)
    halves, lines = _halves(overlap[which], tilt[which])
    in_front = intersect(overlap[which].tolist(), halves.tolist())
    behind = subtract(overlap[which].tolist(), halves.tolist())
    for n, nearer, farther, line in zip(which, in_front, behind, lines, strict=True):
        covered.setdefault(int(a[n]), []).append(nearer)
        if a[n] < count:
            covered.setdefault(int(b[n]), []).append(farther)
            crossings.extend(_crossings(overlap[n], line, (int(a[n]), int(b[n]))))
    seen = _uncovered(targets, covered)
    for hidden in np.flatnonzero(behind_one[row]).tolist():
        seen[hidden] = _NOTHING
    return Surfaces(
        seen=tuple(seen),
        crossings=tuple(crossings),
        shared=frozenset(shared),
    )


def _behind_one(scene: Scene) -> NDArray[np.bool_]:
    """Tell which faces lie wholly behind a single other one.

    What such a face covers the other one covers as well, so it is compared with nothing.
    """
    over, under = scene.tree.query(scene.shapes, predicate="contains_properly")
    over, under = over[over != under], under[over != under]
    _, high = _extremes(scene.shapes[under], scene.planes[over] - scene.planes[under])
    result = np.zeros(len(scene.shapes), dtype=bool)
    result[under[high < -TOUCH]] = True
    return result


def _extremes(shapes: Shapes, tilt: Array) -> tuple[Array, Array]:
    """Return the least and the largest of a linear function over each shape's corners."""
    if not len(shapes):
        return np.zeros(0), np.zeros(0)
    at, index = shapely.get_coordinates(shapes, return_index=True)
    value = (at * tilt[index, :2]).sum(axis=1) + tilt[index, 2]
    starts = np.flatnonzero(np.r_[True, index[1:] != index[:-1]])
    return np.minimum.reduceat(value, starts), np.maximum.reduceat(value, starts)


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


def _crossings(
    overlap: BaseGeometry, line: BaseGeometry, rows: tuple[int, int]
) -> Iterator[Crossing]:
    for part in shapely.get_parts(shapely.intersection(overlap, line)):
        if part.geom_type == "LineString" and part.length > 0.01:
            (x0, y0), (x1, y1) = part.coords[0], part.coords[-1]
            yield Crossing(rows=rows, start=(x0, y0), end=(x1, y1))


def _uncovered(targets: Shapes, covered: dict[int, list[BaseGeometry]]) -> list[BaseGeometry]:
    """Return each target less its covers, without slivers."""
    left = targets.copy()
    area = shapely.area(targets)
    for target, covers in covered.items():
        sizes = shapely.area(covers)
        if sizes.max() > area[target] - _SLIVER:
            left[target] = _NOTHING
            covered[target] = []
        elif len(covers) > _FEW:
            covered[target] = [join(covers)]
    for turn in range(_FEW):
        now = [t for t, covers in covered.items() if len(covers) > turn]
        left[now] = subtract(left[now].tolist(), [covered[t][turn] for t in now])
    cut = np.array(sorted(covered), dtype=np.intp)
    sizes, around = shapely.area(left[cut]), shapely.length(left[cut])
    plain = shapely.get_type_id(left[cut]) == shapely.GeometryType.POLYGON
    whole = plain & (sizes > _SLIVER) & (sizes > _SLIVER * around)
    for target, keep, size in zip(cut.tolist(), whole.tolist(), sizes.tolist(), strict=True):
        if not keep:
            left[target] = _without_slivers(left[target]) if size > _SLIVER else _NOTHING
    return list(left)


def _without_slivers(shape: BaseGeometry) -> BaseGeometry:
    kept = [
        p
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and p.area > _SLIVER and p.area > _SLIVER * p.length
    ]
    return shapely.MultiPolygon(kept) if kept else _NOTHING
