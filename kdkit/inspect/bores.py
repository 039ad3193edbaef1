"""Bores: deep enough and not too deep, away from edges, with their mates."""

from __future__ import annotations

import math
from collections.abc import Iterable

from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import Vec2, Vec3, add, cross, dot, norm, scaled, sub
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.joints import ill_fitted
from kdkit.joinery.placed import Bore
from kdkit.model.panels.bevels import bevel_planes
from kdkit.parts.words import bore_noun, surface_words, with_article
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "check_bore_depths",
    "check_bore_edges",
    "check_dowel_thickness",
    "check_hand_bore_mates",
]

_SQUARE = 1e-6
_OPENS = 0.05
_DOWEL_SLACK = 0.5
_LEAST_WALL = 3.0
"""Wood between a bore typed by hand and the next edge. Common practice, no source: as the
skin under a blind bore."""

_MATING = ("dowel", "bolt", "cam bolt", "loose tenon")
"""Purposes that need a bore on the same line in the next part."""


def check_bore_depths(inspection: Inspection) -> Iterable[Problem]:
    """A blind bore leaves a skin, by default 3 mm (common practice, no source)."""
    faulty = ill_fitted(inspection)
    for bore in inspection.joinery.bores:
        if bore.through or (bore.path, bore.part) in faulty:
            continue
        room = inspection.members[bore.part].depth_through(bore.mouth, bore.into)
        skin = inspection.limits_of(bore).skin
        left = room - bore.depth
        if left <= TOLERANCE:
            yield error(
                "bore-too-deep",
                f"bore is {mm_text(bore.depth)} mm deep in {mm_text(room)} mm of wood",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"{mm_text(max(room - max(skin, 3.0), 0))} mm leaves a skin of"
                f" {mm_text(max(skin, 3.0))} mm; say `through` if it should go through",
            )
        elif left < skin - TOLERANCE:
            yield warning(
                "bore-skin-thin",
                f"bore {mm_text(bore.depth)} mm deep leaves a skin of {mm_text(left, 2)} mm,"
                f" {mm_text(skin)} mm is the least",
                bore.path,
                where=inspection.bore_words(bore),
                help="drill less deep, or use a thicker board",
            )


def check_bore_edges(inspection: Inspection) -> Iterable[Problem]:
    """A bore stays in the wood on all sides, and away from edges as its fitting asks."""
    told: set[tuple[str | None, str]] = set()
    faulty = ill_fitted(inspection)
    for bore in inspection.joinery.bores:
        nearest = _nearest_side(inspection, bore)
        if nearest is None or (bore.path, bore.part) in faulty:
            continue
        distance, radius, side = nearest
        fitting = inspection.fitting_of(bore)
        wide = bore.diameter / 2 + _LEAST_WALL
        least = fitting.limits.edge_distance if fitting is not None else wide
        if fitting is None and (bore.spare or bore.surface.startswith("edge:")):
            least = None
        if distance < radius - TOLERANCE:
            yield error(
                "bore-breaks-out",
                f"bore Ø{mm_text(bore.diameter)} runs {mm_text(radius - distance, 2)} mm out"
                f" of {with_article(side)}",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"its middle must lie at least {mm_text(radius + _LEAST_WALL)} mm from there",
            )
        elif least is not None and distance < least - TOLERANCE:
            if bore.fastener is not None and (bore.fastener, bore.part) in told:
                continue
            told.add((bore.fastener, bore.part))
            yield warning(
                "bore-near-edge",
                f"bore Ø{mm_text(bore.diameter)} stands {mm_text(distance)} mm from"
                f" {with_article(side)}, {mm_text(least)} mm is the least",
                bore.path,
                where=inspection.bore_words(bore),
                help="move it away from the edge",
            )


def _nearest_side(inspection: Inspection, bore: Bore) -> tuple[float, float, str] | None:
    """Return how near a bore's axis comes to a surface that it does not open in, and which.

    Between the two stands how much of that the bore takes up: its radius, and less where
    it leans towards the surface and only the rim of its bottom comes near.
    """
    member = inspection.members[bore.part]
    part = member.part
    start, end = bore.mouth, add(bore.mouth, scaled(bore.into, bore.depth))
    upright = abs(bore.into[2]) >= 1 - _SQUARE
    leans = not upright and abs(bore.into[2]) > _SQUARE
    radius = bore.diameter / 2
    found = _bevels_near(inspection, bore, end)
    leaning = {n for n, _, _ in bevel_planes(part)}
    if not upright:
        rim = radius * math.sqrt(1.0 - bore.into[2] ** 2) if leans else radius
        for surface, height in (("face", 0.0), ("back", -part.thickness)):
            opens = surface == bore.surface or (bore.through and abs(end[2] - height) < _OPENS)
            if not opens:
                near = min(abs(start[2] - height), abs(end[2] - height))
                found.append((near, rim, surface))
    for at, ring in enumerate(member.rings):
        for n, (a, b) in enumerate(zip(ring, (*ring[1:], ring[0]), strict=True)):
            if at == 0 and n in leaning:
                continue
            ends = (start, end) if bore.through else (start,)
            if not upright and any(_lies_across(a, b, p) for p in ends):
                continue
            name = surface_words(part, f"edge:{n}") if at == 0 else "opening"
            rim = radius
            if leans:
                length = math.dist(a, b)
                towards = (bore.into[0] * (b[1] - a[1]) - bore.into[1] * (b[0] - a[0])) / length
                rim = radius * math.sqrt(max(0.0, 1.0 - towards * towards))
            found.append((_segments_apart(start[:2], end[:2], a, b), rim, name))
    return min(found, key=lambda f: f[0] - f[1], default=None)


def _bevels_near(inspection: Inspection, bore: Bore, end: Vec3) -> list[tuple[float, float, str]]:
    """Return the same for the part's bevelled edges, but the one that the bore opens in."""
    part = inspection.members[bore.part].part
    found = []
    for n, normal, offset in bevel_planes(part):
        depths = [offset - dot(normal, p) for p in (bore.mouth, end)]
        if bore.surface == f"edge:{n}" or (bore.through and abs(depths[1]) < _OPENS):
            continue
        rim = bore.diameter / 2 * math.sqrt(max(0.0, 1.0 - dot(normal, bore.into) ** 2))
        found.append((min(depths), rim, surface_words(part, f"edge:{n}")))
    return found


def _lies_across(a: Vec2, b: Vec2, p: Vec3) -> bool:
    """Tell whether a bore's end lies on the line of an outline segment."""
    length = math.dist(a, b)
    off = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    return length > 0 and abs(off) <= 2 * TOLERANCE * length


def _segments_apart(p: Vec2, q: Vec2, a: Vec2, b: Vec2) -> float:
    """Return the distance between two segments in the plane, 0 when they cross."""
    if p != q and _crosses(p, q, a, b):
        return 0.0
    return min(
        _point_apart(p, a, b), _point_apart(q, a, b), _point_apart(a, p, q), _point_apart(b, p, q)
    )


def _crosses(p: Vec2, q: Vec2, a: Vec2, b: Vec2) -> bool:
    def side(u: Vec2, v: Vec2, w: Vec2) -> float:
        return (v[0] - u[0]) * (w[1] - u[1]) - (v[1] - u[1]) * (w[0] - u[0])

    return side(p, q, a) * side(p, q, b) < 0 and side(a, b, p) * side(a, b, q) < 0


def _point_apart(p: Vec2, a: Vec2, b: Vec2) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square if square > 0 else 0.0
    along = min(1.0, max(0.0, along))
    return math.hypot(p[0] - a[0] - along * dx, p[1] - a[1] - along * dy)


def check_dowel_thickness(inspection: Inspection) -> Iterable[Problem]:
    """A dowel in an edge is at most half as thick as the board, to half a millimetre.

    Common practice, no source; the half millimetre lets 8 go into 15 and 10 into 19, which
    is just as common.
    """
    for bore in inspection.joinery.bores:
        part = inspection.part(bore.part)
        if not bore.surface.startswith("edge:") or not bore.purpose.startswith("dowel"):
            continue
        if bore.diameter > part.thickness / 2 + _DOWEL_SLACK + TOLERANCE:
            yield warning(
                "dowel-too-thick",
                f"a dowel of {mm_text(bore.diameter)} mm is more than half of the"
                f" {mm_text(part.thickness)} mm board",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"use a dowel of {mm_text(math.floor(part.thickness / 2))} mm or less",
            )


def check_hand_bore_mates(inspection: Inspection) -> Iterable[Problem]:
    """A bore typed by hand that must meet another one does."""
    neighbours: dict[str, set[str]] = {}
    for contact in inspection.assembly.contacts:
        neighbours.setdefault(contact.butting, set()).add(contact.receiving)
        neighbours.setdefault(contact.receiving, set()).add(contact.butting)
    for bore in inspection.joinery.bores:
        if bore.fastener is not None or bore.spare:
            continue
        if bore.mate is not None:
            best = _nearest_mate(inspection, bore, (bore.mate,))
            if best is not None and best <= TOLERANCE + 1e-6:
                continue
            miss = "" if best is None else f": the nearest is {mm_text(best, 2)} mm off its line"
            yield error(
                "bore-without-mate",
                f"no bore of {bore.mate} lies on the line of this one{miss}",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"drill {bore.mate} at the same place, on the same line",
            )
        elif bore.purpose in _MATING:
            best = _nearest_mate(inspection, bore, sorted(neighbours.get(bore.part, set())))
            if best is None or best > TOLERANCE + 1e-6:
                yield warning(
                    "bore-without-mate",
                    f"a {bore_noun(bore.purpose)} wants one on the same line in the next part,"
                    " there is none",
                    bore.path,
                    where=inspection.bore_words(bore),
                    help="name the part that it meets under `mate`, and drill that part too",
                )


def _nearest_mate(inspection: Inspection, bore: Bore, names: Iterable[str]) -> float | None:
    """Return how far off this bore's line the best opposed bore of these parts runs.

    Only bores count whose mouths lie together, or that are reached through this one.
    """
    frame = inspection.part(bore.part).frame
    mouth, into = frame.point_to_outer(bore.mouth), frame.vector_to_outer(bore.into)
    best: float | None = None
    for name in names:
        other_frame = inspection.part(name).frame
        for other in inspection.bores.get(name, ()):
            away = other_frame.vector_to_outer(other.into)
            if norm(cross(into, away)) > 1e-4:
                continue
            at = other_frame.point_to_outer(other.mouth)
            offset = sub(at, mouth)
            along = dot(offset, into)
            reach = bore.depth if bore.through else 0.0
            near = min(abs(along), abs(along - reach))
            if other.through:
                near = min(near, abs(along + other.depth * dot(away, into)))
            if near > 0.1:
                continue
            off = norm(sub(offset, scaled(into, along)))
            best = off if best is None else min(best, off)
    return best
