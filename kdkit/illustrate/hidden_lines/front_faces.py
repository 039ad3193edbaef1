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

from kdkit.frames import Vec3
from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.hidden_lines.view import View

__all__ = ["EDGE_ON", "FrontFaces", "find_front_faces"]

Array = NDArray[np.float64]
Shapes = NDArray[np.object_]

EDGE_ON = 1e-5
"""Faces whose normal has less than this toward the viewer are seen edge-on: not drawn."""


@dataclass(frozen=True, kw_only=True)
class FrontFaces:
    """All faces that look at the viewer, on the paper plane, in product mm.

    Row f of the arrays is one face: ``shapes`` its polygon, ``planes`` (a, b, c)
    with depth = a·x + b·y + c, ``near``/``far`` the depths of its nearest and
    farthest corner, ``body`` and ``face`` where it comes from. ``placed``: for each
    body its points as (x, y, depth). ``paints``: filled marks, as ``(row, shape, mark)``.
    """

    bodies: tuple[Body, ...]
    view: View
    shapes: Shapes
    planes: Array
    near: Array
    far: Array
    body: NDArray[np.intp]
    face: NDArray[np.intp]
    placed: tuple[Array, ...]
    paints: tuple[tuple[int, shapely.Polygon, int], ...]

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The index over the faces' boxes on paper."""
        return shapely.STRtree(self.shapes)

    def rows_of(self, body: int) -> NDArray[np.intp]:
        """Return for each face of a body its row, −1 for those that do not look at the viewer."""
        rows = np.full(len(self.bodies[body].form.faces), -1, dtype=np.intp)
        mine = slice(*np.searchsorted(self.body, (body, body + 1)))
        rows[self.face[mine]] = np.arange(mine.start, mine.stop)
        return rows

    def normal(self, row: int) -> Vec3:
        """Return the normal of a face in the product frame."""
        x, y, z = self.bodies[int(self.body[row])].normals[int(self.face[row])].tolist()
        return (x, y, z)


def find_front_faces(bodies: Sequence[Body], view: View) -> FrontFaces:
    """Return the fronts of bodies in a view; the view's scale and origin are left out."""
    flat = view.at_scale(1.0)
    right, up, toward = (np.array(axis) for axis in flat.axes)
    found: list[tuple[int, int]] = []
    planes: list[Array] = []
    loops: list[Array] = []
    holes: dict[int, list[Array]] = {}
    depths: list[tuple[float, float]] = []
    painted: list[tuple[tuple[int, int], int]] = []
    paint_loops: list[Array] = []
    placed: list[Array] = []
    for b, body in enumerate(bodies):
        form = body.form
        at = flat.project_many(body.points)
        placed.append(at)
        facings = body.normals @ toward
        fronts = np.flatnonzero(facings >= EDGE_ON)
        inner = []
        for f in fronts.tolist():
            outer, *rest = (at[span] for span in form.rings[f])
            inner.append(outer.mean(axis=0))
            depths.append((float(outer[:, 2].min()), float(outer[:, 2].max())))
            if rest:
                holes[len(found)] = [hole[:, :2] for hole in rest]
            found.append((b, f))
            loops.append(outer[:, :2])
        if inner:
            planes.append(_planes(body.normals[fronts], right, up, facings[fronts], inner))
        for m, mark in enumerate(form.marks):
            shown = body.drawn is None or body.drawn[len(form.edges) + m]
            if mark.tone and mark.closed and shown and facings[mark.face] >= EDGE_ON:
                painted.append(((b, mark.face), m))
                paint_loops.append(at[form.mark_spans[m], :2])
    shapes, origin = _polygons(loops, holes)
    rows: dict[tuple[int, int], int] = {}
    for row, n in enumerate(origin):
        rows[found[n]] = row
    depth = np.array([depths[n] for n in origin], dtype=float).reshape(-1, 2)
    where = np.array([found[n] for n in origin], dtype=np.intp).reshape(-1, 2)
    paints, _ = _rings(paint_loops)
    return FrontFaces(
        bodies=tuple(bodies),
        view=flat,
        shapes=shapes,
        planes=np.concatenate([np.zeros((0, 3)), *planes])[origin],
        near=depth[:, 0],
        far=depth[:, 1],
        body=where[:, 0],
        face=where[:, 1],
        placed=tuple(placed),
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


def _planes(
    normals: Array, right: Array, up: Array, facing: Array, points: Sequence[Array]
) -> Array:
    """Return (a, b, c) of planes through paper points: depth = a·x + b·y + c."""
    slope = np.stack([normals @ right, -(normals @ up)], axis=1) / facing[:, None]
    at = np.array(points)
    return np.column_stack([slope, at[:, 2] - (slope * at[:, :2]).sum(axis=1)])
