"""The faces that look at the viewer, laid out on the paper plane.

Takes bodies and a view, gives polygons with the depth of their planes, in product mm:
what surfaces and lines are compared with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec3, dot
from kdkit.illustrate.solids import Body
from kdkit.illustrate.view import View

__all__ = ["EDGE_ON", "Scene", "set_scene"]

Array = NDArray[np.float64]
Shapes = NDArray[np.object_]

EDGE_ON = 1e-5
"""Faces whose normal has less than this toward the viewer are seen edge-on: not drawn."""


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
