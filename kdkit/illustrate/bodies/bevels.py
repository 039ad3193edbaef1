"""Bevelled edges of a part to draw: its upright body sawn off aslant. Panel frame, mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.frames import Frame, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.clipping import Points, piece_faces
from kdkit.geometry.convex import ConvexPiece, convex_pieces
from kdkit.geometry.surfaces import surface_frame
from kdkit.illustrate.bodies.body import Face
from kdkit.joinery.placed import Groove
from kdkit.model.panels.bevels import bevel_planes
from kdkit.model.resolved import Part

__all__ = ["saw_bevels"]

_LEAST = 1e-6  # mm²
_NEAR = 1e-9  # mm
_FAR = 1e5  # mm

_Plane = tuple[Vec3, float]


def saw_bevels(
    part: Part, plan: Polygon, grooves: Iterable[Groove], faces: Sequence[Face]
) -> list[Face]:
    """Return the faces of a part less what its bevels take off, with the bevels themselves.

    Args:
        plan: the outline less its openings.
        grooves: the part's own.
        faces: of the part as if its edges were square, grooves cut.
    """
    planes: list[_Plane] = [(normal, offset) for _, normal, offset in bevel_planes(part)]
    found = []
    for face in faces:
        found += _sawn(face, planes)
    wood = convex_pieces(
        [(float(x), float(y)) for x, y in plan.exterior.coords[:-1]],
        [[(float(x), float(y)) for x, y in ring.coords[:-1]] for ring in plan.interiors],
        -part.thickness,
        0.0,
    )
    solid = [piece_faces(piece) for piece in wood]
    holes = [faces for groove in grooves for faces in _groove_solids(part, groove)]
    for n, (normal, offset) in enumerate(planes):
        if any(_same(planes[m], planes[n]) for m in range(n)):
            continue  # two edges in one line are sawn in one go
        origin, i, j = _axes(normal, offset)
        cap = together([_section(s, normal, offset, (origin, i, j)) for s in solid])
        cap = rest_of(cap, together([_section(h, normal, offset, (origin, i, j)) for h in holes]))
        cap = shapely.simplify(cap, 1e-7)
        for other, beyond in planes:
            if not _same((other, beyond), planes[n]):
                cap = shared(cap, _half_plane((origin, i, j), other, beyond))
        found += _faces_of(cap, (origin, i, j), normal, -1)
    return found


def _groove_solids(part: Part, groove: Groove) -> list[list[Points]]:
    t = part.thickness
    frame: Frame | None = None
    z0, z1 = -groove.depth, 0.0
    if groove.surface == "back":
        z0, z1 = -t, groove.depth - t
    elif groove.surface != "face":
        frame = surface_frame(part, groove.surface)
    found = []
    for piece in convex_pieces(groove.polygon, (), z0, z1):
        faces = piece_faces(ConvexPiece(polygon=piece.polygon, z0=z0, z1=z1))
        if frame is not None:
            axes, origin = np.array([frame.i, frame.j, frame.k]), np.array(frame.origin)
            faces = [face @ axes + origin for face in faces]
        found.append(faces)
    return found


def _same(a: _Plane, b: _Plane) -> bool:
    return dot(a[0], b[0]) > 1 - 1e-12 and abs(a[1] - b[1]) < 1e-6


def _axes(normal: Vec3, offset: float) -> tuple[Vec3, Vec3, Vec3]:
    """Return a point of a plane and two axes in it, the first along the panel."""
    i = unit(cross((0.0, 0.0, 1.0), normal))
    return scaled(normal, offset), i, cross(normal, i)


def _section(
    faces: Sequence[Points], normal: Vec3, offset: float, axes: tuple[Vec3, Vec3, Vec3]
) -> BaseGeometry:
    """Return where a plane cuts a convex body, in the plane's axes."""
    n, points = np.array(normal), []
    for face in faces:
        heights = face @ n - offset
        for p, q, hp, hq in zip(
            face, np.roll(face, -1, axis=0), heights, np.roll(heights, -1), strict=True
        ):
            if abs(hp) < _NEAR:
                points.append(p)
            elif abs(hq) >= _NEAR and hp * hq < 0:
                points.append(p + (q - p) * (hp / (hp - hq)))
    if len(points) < 3:
        return Polygon()
    origin, i, j = (np.array(a) for a in axes)
    flat = [(float((p - origin) @ i), float((p - origin) @ j)) for p in points]
    hull = shapely.MultiPoint(flat).convex_hull
    return hull if isinstance(hull, Polygon) else Polygon()


def _half_plane(axes: tuple[Vec3, Vec3, Vec3], normal: Vec3, offset: float) -> Polygon:
    """Return the part of a plane that lies behind another one, in the plane's axes."""
    origin, i, j = axes
    a, b, c = dot(normal, i), dot(normal, j), offset - dot(normal, origin)
    size = (a * a + b * b) ** 0.5
    if size < 1e-12:
        return shapely.box(-_FAR, -_FAR, _FAR, _FAR) if c >= -_NEAR else Polygon()
    a, b, c = a / size, b / size, c / size
    x, y = a * c, b * c
    return Polygon(
        [
            (x - b * _FAR, y + a * _FAR),
            (x + b * _FAR, y - a * _FAR),
            (x + b * _FAR - a * _FAR, y - a * _FAR - b * _FAR),
            (x - b * _FAR - a * _FAR, y + a * _FAR - b * _FAR),
        ]
    )


def _sawn(face: Face, planes: Sequence[_Plane]) -> list[Face]:
    """Return what is left of a face behind all planes."""
    cutting = [
        (normal, offset)
        for normal, offset in planes
        if max(dot(normal, p) for p in face.outer) > offset + _NEAR
    ]
    if not cutting:
        return [face]
    start = face.outer[0]
    i = unit(sub(face.outer[1], start))
    axes = (start, i, cross(face.normal, i))

    def flat(loop: Sequence[Vec3]) -> list[tuple[float, float]]:
        return [(dot(sub(p, start), axes[1]), dot(sub(p, start), axes[2])) for p in loop]

    left: BaseGeometry = Polygon(flat(face.outer), [flat(hole) for hole in face.holes])
    for normal, offset in cutting:
        left = shared(left, _half_plane(axes, normal, offset))
    return _faces_of(left, axes, face.normal, face.group)


def _faces_of(
    region: BaseGeometry, axes: tuple[Vec3, Vec3, Vec3], normal: Vec3, group: int
) -> list[Face]:
    origin, i, j = axes

    def placed(ring: shapely.LinearRing) -> tuple[Vec3, ...]:
        return tuple(
            add(origin, add(scaled(i, float(x)), scaled(j, float(y)))) for x, y in ring.coords[:-1]
        )

    found = []
    for piece in shapely.get_parts(region):
        if isinstance(piece, Polygon) and piece.area > _LEAST:
            piece = shapely.geometry.polygon.orient(piece)
            found.append(
                Face(
                    outer=placed(piece.exterior),
                    holes=tuple(placed(ring) for ring in piece.interiors),
                    normal=normal,
                    group=group,
                )
            )
    return found
