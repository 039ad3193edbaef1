"""A part cut into convex pieces, for everything that sweeps or clips solids."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, together
from kdkit.frames import Vec2, Vec3
from kdkit.model.panels.bevels import bevel_planes
from kdkit.model.resolved import Part, RoundCutOut

__all__ = [
    "ConvexPiece",
    "convex_pieces",
    "part_pieces",
    "round_polygon",
    "signed_area",
    "without_bevels",
]

_FLAT = 1e-9
_ROUND_SEGMENTS = 48
_BEYOND = 1e-7  # mm; what stands out of a plane by less is not cut off


@dataclass(frozen=True, kw_only=True)
class ConvexPiece:
    """A convex polygon (counter-clockwise, panel frame) over an interval of z.

    ``cuts``: planes (normal, offset) that bevels saw off it: it is where normal · p ≤ offset.
    """

    polygon: tuple[Vec2, ...]
    z0: float
    z1: float
    cuts: tuple[tuple[Vec3, float], ...] = ()


def convex_pieces(
    outline: Sequence[Vec2],
    cutouts: Sequence[Sequence[Vec2]] = (),
    z0: float = 0.0,
    z1: float = 1.0,
) -> tuple[ConvexPiece, ...]:
    """Return convex prisms that fill the outline less its cut-outs and do not overlap.

    A convex outline without cut-outs comes back as it is. Outlines and cut-outs
    that run along x and y only are cut into rectangles, exact to the last digit.
    Anything else is triangulated and the triangles joined while they stay convex
    (at most four times as many pieces as needed).

    Args:
        outline: simple polygon in the panel frame, either way round, mm.
        cutouts: simple polygons, either way round; what lies outside the outline
            does not count.
        z0, z1: the interval of every piece, mm.

    Source:
        S. Hertel, K. Mehlhorn, Fast triangulation of simple polygons, 1983 (from
        memory of the rule and its bound).
    """
    ring = tuple(_counter_clockwise(_without_flat_corners(outline)))
    if not cutouts and _is_convex(ring):
        polygons: list[tuple[Vec2, ...]] = [ring]
    elif _is_rectilinear(ring) and all(_is_rectilinear(c) for c in cutouts):
        polygons = _rectangles(ring, cutouts)
    else:
        polygons = _joined_triangles(_region(ring, cutouts))
    return tuple(ConvexPiece(polygon=p, z0=z0, z1=z1) for p in polygons)


def part_pieces(part: Part) -> tuple[ConvexPiece, ...]:
    """Return a part's convex pieces, in its panel frame: prisms, cut by its bevels.

    Round openings are taken as polygons around the circle, so that a rod that
    fits a round opening never seems to overlap it.
    """
    rounds = tuple(round_polygon(r) for r in part.round_cutouts)
    pieces = convex_pieces(part.outline, part.cutouts + rounds, -part.thickness, 0.0)
    return without_bevels(part, pieces)


def without_bevels(part: Part, pieces: Sequence[ConvexPiece]) -> tuple[ConvexPiece, ...]:
    """Return the pieces of a part less what its bevels saw off, empty ones left out."""
    planes = [(normal, offset) for _, normal, offset in bevel_planes(part)]
    if not planes:
        return tuple(pieces)
    found = []
    for piece in pieces:
        cuts, left = list(piece.cuts), True
        for normal, offset in planes:
            heights = [
                normal[0] * x + normal[1] * y + normal[2] * z - offset
                for x, y in piece.polygon
                for z in (piece.z0, piece.z1)
            ]
            left = left and min(heights) < -_BEYOND
            if max(heights) > _BEYOND:
                cuts.append((normal, offset))
        if left:
            found.append(replace(piece, cuts=tuple(cuts)))
    return tuple(found)


def round_polygon(opening: RoundCutOut) -> tuple[Vec2, ...]:
    """Return the polygon of 48 sides around a round opening."""
    radius = opening.diameter / 2 / math.cos(math.pi / _ROUND_SEGMENTS)
    x, y = opening.centre
    turns = [(n + 0.5) * 2 * math.pi / _ROUND_SEGMENTS for n in range(_ROUND_SEGMENTS)]
    return tuple((x + radius * math.cos(a), y + radius * math.sin(a)) for a in turns)


def _cross(a: Vec2, b: Vec2, c: Vec2) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def signed_area(ring: Sequence[Vec2]) -> float:
    """Return the area inside a ring of corners, below zero if it runs clockwise."""
    return 0.5 * sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    )


def _counter_clockwise(ring: Sequence[Vec2]) -> Sequence[Vec2]:
    return ring if signed_area(ring) > 0 else tuple(reversed(ring))


def _without_flat_corners(ring: Sequence[Vec2]) -> Sequence[Vec2]:
    kept = []
    for n, corner in enumerate(ring):
        before, after = ring[n - 1], ring[(n + 1) % len(ring)]
        reach = math.dist(before, corner) * math.dist(corner, after)
        if reach > 0 and abs(_cross(before, corner, after)) > _FLAT * reach:
            kept.append(corner)
    return kept if len(kept) >= 3 else ring


def _is_convex(ring: Sequence[Vec2]) -> bool:
    n = len(ring)
    for at in range(n):
        a, b, c = ring[at], ring[(at + 1) % n], ring[(at + 2) % n]
        if _cross(a, b, c) < -_FLAT * math.dist(a, b) * math.dist(b, c):
            return False
    return True


def _is_rectilinear(ring: Sequence[Vec2]) -> bool:
    return all(
        abs(a[0] - b[0]) <= _FLAT or abs(a[1] - b[1]) <= _FLAT
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    )


def _region(ring: Sequence[Vec2], cutouts: Sequence[Sequence[Vec2]]) -> BaseGeometry:
    region: BaseGeometry = Polygon(ring)
    if cutouts:
        region = rest_of(region, together([Polygon(c) for c in cutouts]))
    return region


def _crossings(rings: Sequence[Sequence[Vec2]], x: float) -> list[float]:
    """Return the sorted y where a vertical line crosses the rings' horizontal edges."""
    found = []
    for ring in rings:
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            if min(a[0], b[0]) < x < max(a[0], b[0]):
                found.append(a[1])
    return sorted(found)


_HAIR = 1e-9
"""A strip thinner than this, mm, holds nothing."""


def _rectangles(ring: Sequence[Vec2], cutouts: Sequence[Sequence[Vec2]]) -> list[tuple[Vec2, ...]]:
    """Cut at every x of a corner; join neighbouring strips of the same height."""
    xs = sorted({p[0] for p in ring} | {p[0] for c in cutouts for p in c})
    strips: list[tuple[float, float, float, float]] = []
    growing: dict[tuple[float, float], float] = {}
    last = xs[0]
    for left, right in pairwise(xs):
        if right - left < _HAIR:
            continue  # its middle may be a corner again, where crossings do not pair
        middle = (left + right) / 2
        spans = set(_spans(ring, cutouts, middle))
        for span in [s for s in growing if s not in spans]:
            strips.append((growing.pop(span), left, *span))
        for span in spans:
            growing.setdefault(span, left)
        last = right
    strips += [(start, last, *span) for span, start in growing.items()]
    return [((x0, y0), (x1, y0), (x1, y1), (x0, y1)) for x0, x1, y0, y1 in sorted(strips)]


def _spans(
    ring: Sequence[Vec2], cutouts: Sequence[Sequence[Vec2]], x: float
) -> list[tuple[float, float]]:
    """Return the stretches of solid along a vertical line."""
    outer = _crossings([ring], x)
    solid = list(zip(outer[::2], outer[1::2], strict=True))
    for cutout in cutouts:
        ys = _crossings([cutout], x)
        for low, high in zip(ys[::2], ys[1::2], strict=True):
            solid = [
                piece
                for y0, y1 in solid
                for piece in ((y0, min(y1, low)), (max(y0, high), y1))
                if piece[1] > piece[0]
            ]
    return solid


def _joined_triangles(region: BaseGeometry) -> list[tuple[Vec2, ...]]:
    """Triangulate and take out diagonals while what is left stays convex."""
    collection = shapely.constrained_delaunay_triangles(region)
    pieces: dict[int, tuple[Vec2, ...]] = {}
    sides: dict[tuple[Vec2, Vec2], int] = {}
    for triangle in collection.geoms:
        corners = shapely.get_coordinates(triangle)[:-1].tolist()
        ring = tuple(_counter_clockwise([(x, y) for x, y in corners]))
        if signed_area(ring) <= _FLAT:
            continue
        at = len(pieces)
        pieces[at] = ring
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
            sides[a, b] = at
    diagonals = sorted(
        ((a, b) for a, b in sides if (b, a) in sides and a < b),
        key=lambda s: (-math.dist(*s), s),
    )
    for a, b in diagonals:
        left, right = sides[a, b], sides[b, a]
        if left == right:
            continue
        merged = _merge(pieces[left], pieces[right], a, b)
        if not _is_convex(merged):
            continue
        pieces[left] = merged
        del pieces[right]
        for c, d in zip(merged, (*merged[1:], merged[0]), strict=True):
            sides[c, d] = left
    return sorted(_canonical(tuple(_without_flat_corners(p))) for p in pieces.values())


def _merge(left: tuple[Vec2, ...], right: tuple[Vec2, ...], a: Vec2, b: Vec2) -> tuple[Vec2, ...]:
    """Join two rings over their common side, a to b in the left one."""
    at, to = left.index(b), right.index(a)
    return (*left[at:], *left[:at], *(right[to + 1 :] + right[:to])[:-1])


def _canonical(ring: tuple[Vec2, ...]) -> tuple[Vec2, ...]:
    start = ring.index(min(ring))
    return ring[start:] + ring[:start]
