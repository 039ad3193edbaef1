"""A part as it is drilled: its surfaces, and how far a bore can go in it.

Everything here is in the panel frame unless a name says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2, Vec3, dot
from kdkit.geometry.convex import round_polygon
from kdkit.model.panels.bevels import bevel_planes
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE

__all__ = ["Member"]

_SURFACE_TOLERANCE = 2 * TOLERANCE
_ALONG = 1e-6  # sine of the angle under which a bore runs along a surface


@dataclass(frozen=True)
class Member:
    """A part with its outline and openings as rings.

    ``rings``: the outline first, then every cut-out.
    """

    part: Part
    rings: tuple[tuple[Vec2, ...], ...]

    @classmethod
    def of(cls, part: Part) -> Member:
        """Return the member for a part."""
        rounds = (tuple(round_polygon(r)) for r in part.round_cutouts)
        return cls(part, (part.outline, *part.cutouts, *rounds))

    def covers(self, p: Vec2) -> bool:
        """Tell whether a point lies in the plan of the part, its border included."""
        outline, *openings = self.rings
        if not (_inside(outline, p) or _near_border(outline, p)):
            return False
        return not any(_inside(hole, p) and not _near_border(hole, p) for hole in openings)

    def border_distance(self, p: Vec2) -> float:
        """Return how far a point is from the nearest outline or opening."""
        return min(
            _distance_to_segment(a, b, p)
            for ring in self.rings
            for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
        )

    def nearest_in(self, p: Vec2) -> Vec2:
        """Return the point of the plan's outline that is nearest to one outside it."""
        outline = self.part.outline
        feet = [
            _foot_on_segment(a, b, p)
            for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)
        ]
        return min(feet, key=lambda f: math.hypot(p[0] - f[0], p[1] - f[1]))

    def edge_length(self, surface: str) -> float:
        """Return the length of ``edge:n``."""
        n = int(surface.removeprefix("edge:"))
        outline = self.part.outline
        a, b = outline[n], outline[(n + 1) % len(outline)]
        return math.hypot(b[0] - a[0], b[1] - a[1])

    def surface_at(self, mouth: Vec3, into: Vec3) -> str | None:
        """Return the surface in which a bore's mouth lies, None when it lies in none.

        ``into`` must lead into the part there: a mouth on an arris, which lies in two
        surfaces, belongs to the one that the bore crosses most squarely.
        """
        x, y, z = mouth
        found: list[tuple[float, str]] = []
        if self.part.bevels and not self._within_bevels(mouth):
            return None
        if abs(z) <= _SURFACE_TOLERANCE and into[2] < -_ALONG and self.covers((x, y)):
            found.append((-into[2], "face"))
        at_back = abs(z + self.part.thickness) <= _SURFACE_TOLERANCE
        if at_back and into[2] > _ALONG and self.covers((x, y)):
            found.append((into[2], "back"))
        if -self.part.thickness - _SURFACE_TOLERANCE <= z <= _SURFACE_TOLERANCE:
            outline = self.part.outline
            for n, (a, b) in enumerate(zip(outline, (*outline[1:], outline[0]), strict=True)):
                if self.part.bevels and self.part.bevels[n]:
                    continue
                if _distance_to_segment(a, b, (x, y)) <= _SURFACE_TOLERANCE:
                    square = -_outward(a, b, into)
                    if square > _ALONG:
                        found.append((square, f"edge:{n}"))
            for n, normal, offset in bevel_planes(self.part):
                square = -dot(normal, into)
                on_it = abs(dot(normal, mouth) - offset) <= _SURFACE_TOLERANCE
                if on_it and square > _ALONG and self.covers((x, y)):
                    found.append((square, f"edge:{n}"))
        return max(found, key=lambda f: (round(f[0], 6), f[1]))[1] if found else None

    def depth_through(self, mouth: Vec3, into: Vec3) -> float:
        """Return how much of the part lies on a line from a mouth, until it leaves.

        Returns:
            mm; 0 when the line leaves at once.
        """
        x, y, z = mouth
        dx, dy, dz = into
        reach = math.inf
        if dz < -_ALONG:
            reach = (z + self.part.thickness) / -dz
        elif dz > _ALONG:
            reach = -z / dz
        if abs(dx) > _ALONG or abs(dy) > _ALONG:
            for ring in self.rings:
                for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
                    crossing = _ray_meets(a, b, (x, y), (dx, dy))
                    if crossing is not None and 2 * _SURFACE_TOLERANCE < crossing < reach:
                        reach = crossing
        for _, normal, offset in bevel_planes(self.part):
            rise = dot(normal, into)
            if rise > _ALONG:
                reach = min(reach, (offset - dot(normal, mouth)) / rise)
        return max(0.0, reach) if math.isfinite(reach) else 0.0

    def _within_bevels(self, p: Vec3) -> bool:
        """Tell whether a point lies behind all bevels, or on one."""
        planes = bevel_planes(self.part)
        return all(dot(n, p) <= offset + _SURFACE_TOLERANCE for _, n, offset in planes)


def _outward(a: Vec2, b: Vec2, direction: Vec3) -> float:
    """Return the part of a direction that points out of an outline segment."""
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    return (direction[0] * (b[1] - a[1]) - direction[1] * (b[0] - a[0])) / length


def _inside(ring: Sequence[Vec2], p: Vec2) -> bool:
    x, y = p
    inside = False
    for (ax, ay), (bx, by) in zip(ring, (*ring[1:], ring[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            inside = not inside
    return inside


def _near_border(ring: Sequence[Vec2], p: Vec2) -> bool:
    return any(
        _distance_to_segment(a, b, p) <= _SURFACE_TOLERANCE
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
    )


def _foot_on_segment(a: Vec2, b: Vec2, p: Vec2) -> Vec2:
    dx, dy = b[0] - a[0], b[1] - a[1]
    along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    along = min(1.0, max(0.0, along))
    return (a[0] + along * dx, a[1] + along * dy)


def _distance_to_segment(a: Vec2, b: Vec2, p: Vec2) -> float:
    foot = _foot_on_segment(a, b, p)
    return math.hypot(p[0] - foot[0], p[1] - foot[1])


def _ray_meets(a: Vec2, b: Vec2, p: Vec2, d: Vec2) -> float | None:
    """Return how far along p + s·d a segment is met, None when it is missed.

    Source:
        Two lines in the plane, solved by Cramer's rule.
    """
    ex, ey = b[0] - a[0], b[1] - a[1]
    below = d[0] * ey - d[1] * ex
    if abs(below) < 1e-9 * math.hypot(ex, ey):
        return None
    qx, qy = a[0] - p[0], a[1] - p[1]
    along = (qx * d[1] - qy * d[0]) / below
    if not -1e-9 <= along <= 1 + 1e-9:
        return None
    return (qx * ey - qy * ex) / below
