"""Where parts touch and nothing can be joined: on the walls of openings, and on round parts.

These are no contacts, which joints are made on. But they bound how parts can move: a ring
round a post does not turn, and a rod in its hole goes along itself alone.

A round part is the true cylinder here, and the walls of round openings are the sides of the
polygon round the circle, so that each touches a rod that fits in the middle of the side.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from kdkit.areas import shared
from kdkit.frames import Frame, Vec2, Vec3, add, dot, scaled, sub
from kdkit.geometry.boxes import near_pairs
from kdkit.geometry.contacts import CONTACT_GAP, LEAST_WIDTH, shared_region
from kdkit.geometry.convex import round_polygon, signed_area
from kdkit.geometry.surfaces import Surface, corners_of, part_box, part_middle, surfaces_of
from kdkit.model.resolved import Part

__all__ = ["Touch", "inner_touches"]

_ALONG = 1e-9
"""1 − cosine, and sine, of the angle between what counts as parallel."""


_BULGE = 0.01
"""More than what a circle stands out of its polygon's box, for its width."""


@dataclass(frozen=True)
class Touch:
    """Two parts that touch in the points of a flat region, or along a line.

    Args:
        way: unit vector, product frame: ``one`` leaves ``other`` by moving along it.
        points: corners of the region or ends of the line, product frame, mm.
    """

    one: str
    other: str
    way: Vec3
    points: tuple[Vec3, ...]


def inner_touches(parts: Sequence[Part]) -> tuple[Touch, ...]:
    """Return where parts touch on the walls of openings or on a round part's curve.

    Two round parts that touch each other side by side are left out.
    """
    boxes = np.array([part_box(part) for part in parts]).reshape(-1, 6)
    found: list[Touch] = []
    for n, m in near_pairs(boxes, CONTACT_GAP):
        a, b = parts[n], parts[m]
        inner = _walls(a, b), _walls(b, a)
        if not (inner[0] or inner[1] or a.smooth or b.smooth):
            continue
        outer = surfaces_of(a), surfaces_of(b)
        for one, other in (
            *_facing(inner[0], (*outer[1], *inner[1])),
            *_facing(outer[0], inner[1]),
        ):
            found += _flat(a.name, one, b.name, other)
        for rod, stands, surfaces in (
            (a, b, (*outer[1], *inner[1])),
            (b, a, (*outer[0], *inner[0])),
        ):
            if rod.smooth:
                found += _round(rod, stands.name, surfaces)
    return tuple(found)


def _walls(part: Part, other: Part) -> tuple[Surface, ...]:
    """Return the walls of a part's openings that another part reaches.

    k looks into the opening: out of the wood.
    """
    if not (part.cutouts or part.round_cutouts):
        return ()
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    corners = (corners_of(other) - np.array(part.frame.origin)) @ axes.T
    low, high = corners.min(axis=0), corners.max(axis=0)
    slack = CONTACT_GAP + (_BULGE * float((high - low).max()) if other.smooth else 0.0)
    low, high = low - slack, high + slack
    if high[2] < LEAST_WIDTH - part.thickness or low[2] > -LEAST_WIDTH:
        return ()
    found = []
    for n, said in enumerate((*part.cutouts, *(round_polygon(r) for r in part.round_cutouts))):
        ring = tuple(said) if signed_area(said) < 0 else tuple(reversed(said))
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
            if any(max(a[c], b[c]) < low[c] or min(a[c], b[c]) > high[c] for c in (0, 1)):
                continue
            frame = part.frame.frame_to_outer(_upright(a, b))
            region = shapely.box(0.0, -part.thickness, math.dist(a, b), 0.0)
            found.append(Surface(f"opening:{n}", frame, region))
    return tuple(found)


def _facing(
    some: Sequence[Surface], others: Sequence[Surface]
) -> Iterator[tuple[Surface, Surface]]:
    """Yield the pairs of surfaces that look at each other."""
    if some and others:
        cosines = np.array([s.frame.k for s in some]) @ np.array([s.frame.k for s in others]).T
        for n, m in np.argwhere(cosines < _ALONG - 1.0):
            yield some[n], others[m]


def _upright(a: Vec2, b: Vec2) -> Frame:
    """Return the frame of a wall from a to b in the panel frame: k to the right of its run."""
    length = math.dist(a, b)
    x, y = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    return Frame((a[0], a[1], 0.0), (x, y, 0.0), (0.0, 0.0, 1.0), (y, -x, 0.0))


def _flat(a: str, one: Surface, b: str, other: Surface) -> Iterator[Touch]:
    """Two flat surfaces that lie on each other."""
    k = other.frame.k
    if abs(dot(sub(one.frame.origin, other.frame.origin), k)) > CONTACT_GAP:
        return
    region = shared_region(one, other)
    for piece in getattr(region, "geoms", [region]):
        if piece.geom_type != "Polygon" or piece.buffer(-LEAST_WIDTH / 2).is_empty:
            continue
        corners = piece.exterior.coords[:-1]
        yield Touch(a, b, k, tuple(other.frame.point_to_outer((x, y, 0.0)) for x, y in corners))


def _round(rod: Part, other: str, surfaces: Sequence[Surface]) -> Iterator[Touch]:
    """A round part that lies along flat surfaces of another part."""
    axis, middle = rod.frame.k, part_middle(rod)
    centre = rod.frame.point_to_inner(middle)
    radius = max(math.dist(corner, centre[:2]) for corner in rod.outline)
    half = scaled(axis, rod.thickness / 2)
    for surface in surfaces:
        k = surface.frame.k
        off = dot(sub(middle, surface.frame.origin), k)
        if abs(dot(axis, k)) > _ALONG or abs(off - radius) > CONTACT_GAP:
            continue
        foot = add(middle, scaled(k, -off))
        ends = [surface.frame.point_to_inner(p)[:2] for p in (sub(foot, half), add(foot, half))]
        line = shared(LineString(ends), surface.polygon)
        for piece in getattr(line, "geoms", [line]):
            if piece.geom_type == "LineString" and piece.length > LEAST_WIDTH:
                at = (surface.frame.point_to_outer((x, y, 0.0)) for x, y in piece.coords)
                yield Touch(rod.name, other, k, tuple(at))
