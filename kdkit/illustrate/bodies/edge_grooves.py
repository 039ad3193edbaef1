"""Grooves in edges taken out of a panel's faces. Panel frame, lengths in mm.

A groove in an edge is a convex prism, or several. Each face of the panel loses what lies
in the prism, and the prism's walls are added where there is wood behind them. Both are
looked at a hair inside the wood, so that surfaces in one plane need no special case.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.convex import convex_pieces
from kdkit.geometry.surfaces import surface_frame
from kdkit.illustrate.bodies.body import Face
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part

__all__ = ["cut_edge_grooves"]

_HAIR = 1e-5
_SLIVER = 1e-4  # mm²
_FAR = 1e5
_GRID = 1e-7


@dataclass(frozen=True)
class _Wall:
    """A flat side of a prism, its normal out of the prism."""

    corners: tuple[Vec3, ...]
    normal: Vec3

    @property
    def offset(self) -> float:
        return dot(self.normal, self.corners[0])


_Prism = tuple[_Wall, ...]


def cut_edge_grooves(
    part: Part, plan: Polygon, grooves: Sequence[Groove], faces: Sequence[Face]
) -> list[Face]:
    """Return the faces of a panel with the grooves in its edges cut in.

    Args:
        plan: of the panel, its openings as they are drawn.
        grooves: of this part; those in face and back are in the faces already.
        faces: of the panel with those grooves, closed.
    """
    flat = [g for g in grooves if not g.surface.startswith("edge:")]
    result = list(faces)
    done: list[_Prism] = []
    for groove in grooves:
        if not groove.surface.startswith("edge:"):
            continue
        frame = surface_frame(part, groove.surface)
        for piece in convex_pieces(groove.polygon, (), -groove.depth, 0.0):
            prism = _prism(frame, piece.polygon, piece.z0, piece.z1)
            walls = [w for wall in prism for w in _cut_wall(part, plan, flat, done, wall)]
            result = [left for face in result for left in _less(face, prism)] + walls
            done.append(prism)
    return result


def _prism(frame: Frame, polygon: Sequence[Vec2], z0: float, z1: float) -> _Prism:
    low = [frame.point_to_outer((x, y, z0)) for x, y in polygon]
    high = [frame.point_to_outer((x, y, z1)) for x, y in polygon]
    walls = [
        _Wall(tuple(high), frame.k),
        _Wall(tuple(reversed(low)), scaled(frame.k, -1.0)),
    ]
    n = len(polygon)
    for a in range(n):
        b = (a + 1) % n
        along = unit(sub(low[b], low[a]))
        walls.append(_Wall((low[a], low[b], high[b], high[a]), cross(along, frame.k)))
    return tuple(walls)


def _basis(normal: Vec3) -> tuple[Vec3, Vec3]:
    """Return two directions in a plane; where it stands upright the second one is z."""
    if abs(normal[2]) < 1e-9:
        return (-normal[1], normal[0], 0.0), (0.0, 0.0, 1.0)
    i = unit((normal[2], 0.0, -normal[0]))
    return i, cross(normal, i)


def _section(prism: _Prism, origin: Vec3, i: Vec3, j: Vec3) -> Polygon:
    """Return where a plane cuts a prism, in (i, j) from the origin."""
    ring: list[Vec2] = [(-_FAR, -_FAR), (_FAR, -_FAR), (_FAR, _FAR), (-_FAR, _FAR)]
    for wall in prism:
        a, b = dot(wall.normal, i), dot(wall.normal, j)
        ring = _half(ring, a, b, wall.offset - dot(wall.normal, origin))
        if len(ring) < 3:
            return Polygon()
    return Polygon(ring)


def _half(ring: Sequence[Vec2], a: float, b: float, c: float) -> list[Vec2]:
    """Return the part of a convex ring in which a·x + b·y ≤ c."""
    kept: list[Vec2] = []
    for n, p in enumerate(ring):
        q = ring[(n + 1) % len(ring)]
        hp, hq = a * p[0] + b * p[1] - c, a * q[0] + b * q[1] - c
        if hp <= 0:
            kept.append(p)
        if hp * hq < 0:
            share = hp / (hp - hq)
            kept.append((p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share))
    return kept


def _less(face: Face, prism: _Prism) -> Iterator[Face]:
    """Yield what a prism leaves of a face."""
    i, j = _basis(face.normal)
    inside = sub(face.outer[0], scaled(face.normal, _HAIR))
    taken = _section(prism, inside, i, j)
    region = Polygon(
        _flat_ring(face.outer, i, j, inside), [_flat_ring(h, i, j, inside) for h in face.holes]
    )
    if taken.is_empty or shared(region, taken).area < _SLIVER:
        yield face
        return
    for piece in _pieces(rest_of(region, taken, _GRID)):
        yield _lifted(piece, face.outer[0], i, j, face.normal, face.group)


def _flat_ring(ring: Sequence[Vec3], i: Vec3, j: Vec3, origin: Vec3) -> list[Vec2]:
    return [(dot(sub(p, origin), i), dot(sub(p, origin), j)) for p in ring]


def _lifted(piece: Polygon, origin: Vec3, i: Vec3, j: Vec3, normal: Vec3, group: int) -> Face:
    outer, *holes = (
        tuple(add(origin, add(scaled(i, x), scaled(j, y))) for x, y in ring.coords[:-1])
        for ring in (piece.exterior, *piece.interiors)
    )
    return Face(outer=outer, holes=tuple(holes), normal=normal, group=group)


def _pieces(shape: BaseGeometry) -> list[Polygon]:
    found = [p for p in shapely.get_parts(shape).tolist() if isinstance(p, Polygon)]
    return [shapely.geometry.polygon.orient(p) for p in found if p.area > _SLIVER]


def _joined(shape: BaseGeometry) -> BaseGeometry:
    """Return the areas of a shape without stray lines and points."""
    areas = [p for p in shapely.get_parts(shape).tolist() if isinstance(p, Polygon)]
    return together(areas)


def _cut_wall(
    part: Part, plan: Polygon, grooves: Sequence[Groove], done: Sequence[_Prism], wall: _Wall
) -> Iterator[Face]:
    """Yield a wall of a groove as a face of the panel, as far as wood lies behind it."""
    i, j = _basis(wall.normal)
    region: BaseGeometry = Polygon(_flat_ring(wall.corners, i, j, wall.corners[0]))
    for side in (_HAIR, -_HAIR):  # wood behind the wall, and wood that was cut away before it
        at = add(wall.corners[0], scaled(wall.normal, side))
        if abs(wall.normal[2]) < 1e-9:
            wood = _upright_slice(part, plan, grooves, at, i)
        else:
            wood = _level_slice(part, plan, grooves, at, wall.normal, i, j)
        region = _joined(shared(region, _joined(wood), _GRID))
        for prism in done:
            cut = _section(prism, at, i, j)
            region = _joined(rest_of(region, cut, _GRID))
    for piece in _pieces(region):
        yield _lifted(piece, wall.corners[0], i, j, scaled(wall.normal, -1.0), -1)


def _upright_slice(
    part: Part, plan: Polygon, grooves: Sequence[Groove], origin: Vec3, i: Vec3
) -> BaseGeometry:
    """Return the wood in an upright plane, in (i, z) from the origin."""
    t, z = part.thickness, origin[2]
    wood = together([shapely.box(a, -t - z, b, -z) for a, b in _stretches(plan, origin, i)])
    for groove in grooves:
        low, high = (-groove.depth, 0.0) if groove.surface == "face" else (-t, groove.depth - t)
        for a, b in _stretches(Polygon(groove.polygon), origin, i):
            wood = rest_of(wood, shapely.box(a, low - z, b, high - z))
    return wood


def _stretches(plan: Polygon, origin: Vec3, i: Vec3) -> Iterator[tuple[float, float]]:
    """Yield where a line through the plan runs inside it, measured from the origin."""
    x, y = origin[0], origin[1]
    line = shapely.LineString(
        [(x - _FAR * i[0], y - _FAR * i[1]), (x + _FAR * i[0], y + _FAR * i[1])]
    )
    for part in shapely.get_parts(shared(plan, line)).tolist():
        if isinstance(part, shapely.LineString) and part.length > _HAIR:
            ends = [(p[0] - x) * i[0] + (p[1] - y) * i[1] for p in part.coords]
            yield min(ends), max(ends)


def _level_slice(
    part: Part,
    plan: Polygon,
    grooves: Sequence[Groove],
    origin: Vec3,
    normal: Vec3,
    i: Vec3,
    j: Vec3,
) -> BaseGeometry:
    """Return the wood in a plane that is not upright, in (i, j) from the origin."""

    def on_plane(shape: Polygon) -> Polygon:
        def lifted(ring: Sequence[Sequence[float]]) -> list[Vec2]:
            found = []
            for x, y in ring[:-1]:
                off = (x - origin[0], y - origin[1])
                rise = -(normal[0] * off[0] + normal[1] * off[1]) / normal[2]
                p = (off[0], off[1], rise)
                found.append((dot(p, i), dot(p, j)))
            return found

        return Polygon(
            lifted(list(shape.exterior.coords)), [lifted(list(h.coords)) for h in shape.interiors]
        )

    def between(low: float, high: float) -> Polygon:
        ring: list[Vec2] = [(-_FAR, -_FAR), (_FAR, -_FAR), (_FAR, _FAR), (-_FAR, _FAR)]
        ring = _half(ring, i[2], j[2], high - origin[2])
        if len(ring) >= 3:
            ring = _half(ring, -i[2], -j[2], origin[2] - low)
        return Polygon(ring) if len(ring) >= 3 else Polygon()

    t = part.thickness
    wood: BaseGeometry = shared(on_plane(plan), between(-t, 0.0))
    for groove in grooves:
        low, high = (-groove.depth, 0.0) if groove.surface == "face" else (-t, groove.depth - t)
        cut = shared(on_plane(Polygon(groove.polygon)), between(low, high))
        wood = rest_of(wood, cut)
    return wood
