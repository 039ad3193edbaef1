"""Where one part, moved straight on, would meet another: found with straight lines.

A line along the direction that first runs through the inside of the moving part and,
further on, through the inside of the standing one shows that they meet, and where.
Such a line is looked for in every cell of the parts' outlines as seen along the
direction. The planner's own sweeps (separating planes) are other code; this is the
small one that checks them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.catalogue.entries import Piece
from kdkit.frames import Frame, Vec2, Vec3, add, cross, distance, dot, scaled, unit
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE

__all__ = [
    "Meeting",
    "Prism",
    "Solid",
    "bounds_of",
    "find_meeting",
    "overlaps",
    "part_solid",
    "piece_solid",
    "prism_solid",
]

_FAR = 1e5  # mm, longer than any product
_GRID = 1e-3  # mm; lines nearer to each other than this count as one
_INSET = 0.01  # mm; lines are tried this far inside a cell
_SIDES = 24


@dataclass(frozen=True)
class Prism:
    """A polygon of a frame, from z0 to z1."""

    frame: Frame
    polygon: Polygon
    z0: float
    z1: float

    def spans(self, p: Vec3, d: Vec3) -> list[tuple[float, float]]:
        """Return the stretches t in which p + t·d lies in the prism."""
        q, v = self.frame.point_to_inner(p), self.frame.vector_to_inner(d)
        low, high = -_FAR, _FAR
        if abs(v[2]) < 1e-9:
            if not self.z0 < q[2] < self.z1:
                return []
        else:
            ends = sorted(((self.z0 - q[2]) / v[2], (self.z1 - q[2]) / v[2]))
            low, high = max(low, ends[0]), min(high, ends[1])
        flat = math.hypot(v[0], v[1])
        if flat < 1e-9:
            return [(low, high)] if self.polygon.contains(Point(q[0], q[1])) else []
        if high <= low:
            return []
        line = LineString([(q[0] + t * v[0], q[1] + t * v[1]) for t in (low, high)])
        found = []
        for piece in shapely.get_parts(line.intersection(self.polygon)):
            if isinstance(piece, LineString) and piece.length > 0:
                ts = [((x - q[0]) * v[0] + (y - q[1]) * v[1]) / flat**2 for x, y in piece.coords]
                found.append((min(ts), max(ts)))
        return found

    def lines(self) -> Iterator[tuple[Vec3, Vec3]]:
        """Yield its edges."""
        for ring in (self.polygon.exterior, *self.polygon.interiors):
            corners = [(float(x), float(y)) for x, y in ring.coords]
            for a, b in pairwise(corners):
                for z in (self.z0, self.z1):
                    yield self._outer(a, z), self._outer(b, z)
                yield self._outer(a, self.z0), self._outer(a, self.z1)

    def _outer(self, p: Vec2, z: float) -> Vec3:
        return self.frame.point_to_outer((p[0], p[1], z))


@dataclass(frozen=True)
class Solid:
    """Prisms, less other prisms cut out of them."""

    full: tuple[Prism, ...]
    empty: tuple[Prism, ...] = ()

    def spans(self, p: Vec3, d: Vec3) -> list[tuple[float, float]]:
        """Return the stretches t in which p + t·d lies inside, rising, each by itself."""
        left = [span for prism in self.full for span in prism.spans(p, d)]
        for prism in self.empty:
            for a, b in prism.spans(p, d):
                left = [
                    (low, high)
                    for x, y in left
                    for low, high in ((x, min(y, a)), (max(x, b), y))
                    if high > low
                ]
        return sorted(left)


@dataclass(frozen=True)
class Meeting:
    """On one line along the direction: where the moving part leads, and what it meets.

    Args:
        start: the hindmost point of the moving part on the line, in its place.
        end: the foremost point of the standing part on the line.
        hit: where the standing part is met first.
    """

    start: Vec3
    end: Vec3
    hit: Vec3


def part_solid(part: Part, grooves: Sequence[Groove]) -> Solid:
    """Return a part less its openings and grooves."""
    empty = _bevels(part)
    openings = [Polygon(loop) for loop in part.cutouts]
    openings += [Point(c.centre).buffer(c.diameter / 2, quad_segs=6) for c in part.round_cutouts]
    empty += [Prism(part.frame, o, -part.thickness - 1, 1.0) for o in openings]
    t = part.thickness
    for groove in grooves:
        if groove.part != part.name:
            continue
        plan = Polygon(groove.polygon)
        if groove.surface == "face":
            empty.append(Prism(part.frame, plan, -groove.depth, 1.0))
        elif groove.surface == "back":
            empty.append(Prism(part.frame, plan, -t - 1, groove.depth - t))
        else:
            edge = part.frame.frame_to_outer(surface_frame(part, groove.surface))
            empty.append(Prism(edge, plan, -groove.depth, 1.0))
    return Solid((Prism(part.frame, Polygon(part.outline), -t, 0.0),), tuple(empty))


def _bevels(part: Part) -> list[Prism]:
    """Return what bevels take off: a wedge along each, as long as the saw runs."""
    t, wedges = part.thickness, []
    for n, angle in enumerate(part.bevels):
        if angle == 0:
            continue
        (ax, ay), (bx, by) = part.outline[n], part.outline[(n + 1) % len(part.outline)]
        length = math.hypot(bx - ax, by - ay)
        along = ((bx - ax) / length, (by - ay) / length, 0.0)
        out = (along[1], -along[0], 0.0)
        # x out of the edge, y out of the face, z along the edge against its run
        edge = Frame((ax, ay, 0.0), out, (0.0, 0.0, 1.0), scaled(along, -1.0))
        far, deep = t * math.tan(math.radians(abs(angle))), 2 * t
        if angle > 0:
            plan = [(0.0, 0.0), (-far * 2, -deep), (deep, -deep), (deep, 0.0)]
        else:
            plan = [(0.0, -t), (deep, -t), (deep, t), (-far * 2, t)]
        wedges.append(Prism(part.frame.frame_to_outer(edge), Polygon(plan), -_FAR, _FAR))
    return wedges


def piece_solid(frame: Frame, pieces: Sequence[Piece]) -> Solid:
    """Return the pieces of an item; round ones as polygons around them."""
    prisms = []
    for piece in pieces:
        across = max(piece.d0, piece.d1 or 0.0) / 2
        u, v = piece.at
        if piece.kind in ("box", "lens"):
            x, y = piece.d0 / 2, (piece.d1 or piece.d0) / 2
            ring = Polygon([(u - x, v - y), (u + x, v - y), (u + x, v + y), (u - x, v + y)])
        else:
            r = across / math.cos(math.pi / _SIDES)
            turns = [2 * math.pi * n / _SIDES for n in range(_SIDES)]
            ring = Polygon([(u + r * math.cos(a), v + r * math.sin(a)) for a in turns])
        prisms.append(Prism(frame, ring, piece.z0, piece.z1))
    return Solid(tuple(prisms))


def prism_solid(frame: Frame, ring: Sequence[Vec2], z0: float, z1: float) -> Solid:
    """Return the prism over a ring of corners in (x, y) of a frame."""
    return Solid((Prism(frame, Polygon(ring), z0, z1),))


def bounds_of(solid: Solid) -> tuple[Vec3, Vec3]:
    """Return the box around a solid along the product's axes: its least and largest corner."""
    ends = [p for prism in solid.full for edge in prism.lines() for p in edge]
    low = (min(p[0] for p in ends), min(p[1] for p in ends), min(p[2] for p in ends))
    return low, (max(p[0] for p in ends), max(p[1] for p in ends), max(p[2] for p in ends))


def find_meeting(moving: Solid, standing: Solid, d: Vec3) -> Meeting | None:
    """Return a line that shows that one solid, moved along d for ever, meets the other.

    Args:
        d: unit vector, product frame.

    Returns:
        The line found on which they meet soonest, or None if there is none: then the
        one can be moved away without touching the other by more than the tolerance.
    """
    best: tuple[float, Meeting] | None = None
    for p in _lines_to_try(moving, standing, d):
        ours, theirs = moving.spans(p, d), standing.spans(p, d)
        if not ours or not theirs or theirs[-1][1] - ours[0][0] <= TOLERANCE:
            continue
        way, hit = min(
            (max(0.0, c - b), c) for a, b in ours for c, e in theirs if e - a > TOLERANCE
        )
        if best is None or way < best[0] - TOLERANCE:
            best = (
                way,
                Meeting(
                    start=add(p, scaled(d, ours[0][0])),
                    end=add(p, scaled(d, theirs[-1][1])),
                    hit=add(p, scaled(d, hit)),
                ),
            )
    return None if best is None else best[1]


def overlaps(one: Solid, other: Solid, d: Vec3) -> bool:
    """Tell whether two solids already stand in each other, looking along d."""
    for p in _lines_to_try(one, other, d):
        for a, b in one.spans(p, d):
            for c, e in other.spans(p, d):
                if min(b, e) - max(a, c) > TOLERANCE:
                    return True
    return False


def _lines_to_try(one: Solid, other: Solid, d: Vec3) -> Iterator[Vec3]:
    """Yield a point on each line worth trying: inside and near the corners of each cell."""
    u, v = _across(d)
    shapes = []
    for solid in (one, other):
        shapes.append([_seen(edge, u, v) for prism in solid.full for edge in prism.lines()])
    boxes = [shapely.box(*shapely.total_bounds(lines)) for lines in shapes]
    window = boxes[0].intersection(boxes[1])
    if window.area <= 0:
        return
    lines = [*shapes[0], *shapes[1]]
    for solid in (one, other):
        lines += [_seen(edge, u, v) for prism in solid.empty for edge in prism.lines()]
    lines.append(window.boundary)
    near = [line for line in shapely.intersection(lines, window) if not line.is_empty]
    drawn = shapely.union_all(near, grid_size=_GRID)
    for cell in shapely.get_parts(shapely.polygonize([drawn])):
        inner: BaseGeometry = cell.buffer(-_INSET)
        for piece in shapely.get_parts(inner):
            if piece.is_empty:
                continue
            middle = piece.representative_point()
            corners = shapely.get_coordinates(piece)[:-1]
            for x, y in [(middle.x, middle.y), *corners]:
                yield add(scaled(u, float(x)), scaled(v, float(y)))


def _across(d: Vec3) -> tuple[Vec3, Vec3]:
    """Return two unit vectors square to d and to each other."""
    least = min(range(3), key=lambda n: abs(d[n]))
    axis: Vec3 = (float(least == 0), float(least == 1), float(least == 2))
    u = unit(cross(d, axis))
    return u, cross(d, u)


def _seen(edge: tuple[Vec3, Vec3], u: Vec3, v: Vec3) -> BaseGeometry:
    a, b = ((dot(p, u), dot(p, v)) for p in edge)
    return Point(a) if distance((*a, 0.0), (*b, 0.0)) < _GRID else LineString([a, b])
