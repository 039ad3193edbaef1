"""Bodies as corners, triangles and edges by number: small enough to travel inside a page.

Takes a body's form, gives a ``Mesh``. Two forms that look the same give equal meshes, so
that forty like screws travel once.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec2, Vec3, cross, dot, unit
from kdkit.illustrate.bodies.body import Form

__all__ = ["GRAIN", "Mesh", "MeshEdge", "MeshFace", "MeshMark", "mesh_of"]

GRAIN = 0.05
"""Corners are kept in steps of this many mm."""

Numbers = tuple[int, ...]


@dataclass(frozen=True)
class MeshFace:
    """A planar face: corners of its triangles, three by three, counter-clockwise seen from
    where ``normal`` points, out of the solid."""

    triangles: Numbers
    normal: Vec3


@dataclass(frozen=True)
class MeshEdge:
    """An edge between two corners, and the faces that meet there. A smooth one is seen only
    where one of its faces is turned to the reader and the other away."""

    start: int
    end: int
    faces: Numbers
    sharp: bool


@dataclass(frozen=True)
class MeshMark:
    """Something on a face: a bore's mouth, a recess, a thread. ``tone``: "" is a line, else
    ``triangles`` fill it, or none where a fan from the first corner of the ring does."""

    ring: Numbers
    face: int
    closed: bool
    tone: str
    triangles: Numbers


@dataclass(frozen=True)
class Mesh:
    """A solid, or several that belong together.

    ``corners``: whole numbers of ``GRAIN`` in the frame of its form.
    """

    corners: tuple[tuple[int, int, int], ...]
    faces: tuple[MeshFace, ...]
    edges: tuple[MeshEdge, ...]
    marks: tuple[MeshMark, ...]


def mesh_of(form: Form) -> Mesh:
    """Return a form as corners and numbers. The cost grows with its corners."""
    known: dict[tuple[int, int, int], int] = {}

    def number(p: Vec3) -> int:
        x, y, z = (round(c / GRAIN) for c in p)
        return known.setdefault((x, y, z), len(known))

    faces = tuple(
        MeshFace(tuple(map(number, _triangles((f.outer, *f.holes), f.normal))), f.normal)
        for f in form.faces
    )
    edges = tuple(
        MeshEdge(number(edge.start), number(edge.end), edge.faces, edge.sharp)
        for edge in form.edges
    )
    marks = []
    for mark in form.marks:
        filled: list[Vec3] = []
        if mark.closed and mark.tone:
            filled = _triangles((mark.points,), form.faces[mark.face].normal)
            if filled[: 3 * len(mark.points) : 3] == [mark.points[0]] * (len(mark.points) - 2):
                filled = []
        marks.append(
            MeshMark(
                ring=tuple(map(number, mark.points)),
                face=mark.face,
                closed=mark.closed,
                tone=mark.tone,
                triangles=tuple(map(number, filled)),
            )
        )
    return Mesh(tuple(known), faces, edges, tuple(marks))


def _triangles(rings: tuple[tuple[Vec3, ...], ...], normal: Vec3) -> list[Vec3]:
    """Return the corners of the triangles that fill planar rings, the outer one first.

    Source: constrained Delaunay triangulation by GEOS; a triangle and a convex outline
    without holes are a fan.
    """
    aside = min(
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda a: abs(dot(a, normal))
    )
    i = unit(cross(aside, normal))
    j = cross(normal, i)
    flat: list[list[Vec2]] = [[(dot(p, i), dot(p, j)) for p in ring] for ring in rings]
    if len(rings) == 1 and _is_convex(flat[0]):
        outer = rings[0] if _turn(flat[0]) > 0 else rings[0][::-1]
        return [p for a, b in pairwise(outer[1:]) for p in (outer[0], a, b)]
    polygon: BaseGeometry = shapely.Polygon(flat[0], flat[1:])
    if not polygon.is_valid:
        polygon = shapely.make_valid(polygon)
    corners = np.array([p for ring in flat for p in ring])
    solid = [p for ring in rings for p in ring]
    found: list[Vec3] = []
    for triangle in shapely.get_parts(shapely.constrained_delaunay_triangles(polygon)):
        three = np.asarray(triangle.exterior.coords)[:3]
        if _turn([(float(x), float(y)) for x, y in three]) < 0:
            three = three[::-1]
        for at in three:
            found.append(solid[int(np.argmin(((corners - at) ** 2).sum(axis=1)))])
    return found


def _turn(ring: list[Vec2]) -> float:
    """Return twice the area inside a ring, positive when it runs counter-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))


def _is_convex(ring: list[Vec2]) -> bool:
    """Tell whether a ring turns one way all round (and once, as outlines of faces do)."""
    turns = [
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        for a, b, c in zip(ring, (*ring[1:], ring[0]), (*ring[2:], *ring[:2]), strict=True)
    ]
    return min(turns) >= -1e-9 or max(turns) <= 1e-9
