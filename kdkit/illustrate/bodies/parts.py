"""Panels, members and bought parts as bodies to draw. Lengths in mm.

A part is a prism; grooves take strips off its face, back and edges, cut-outs go right
through, bores and slots show as dark mouths on the surface they open in.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, norm, scaled, sub, unit
from kdkit.illustrate.bodies.bevels import saw_bevels
from kdkit.illustrate.bodies.body import Body, Face, Mark, close_body
from kdkit.illustrate.bodies.edge_grooves import cut_edge_grooves
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.resolved import Part

__all__ = ["LEAST_BORE", "box_body", "part_body", "round_steps"]

LEAST_BORE = 2.0
"""Bores thinner than this (pilot marks) are not drawn."""

_NEAR = 1e-5  # mm, for "lies on this line" inside one panel's plan
_Region = tuple[float, Polygon]  # depth below the surface, plan
_Height = Callable[[float], float]


def round_steps(diameter: float, scale: float = 1.0) -> int:
    """Return how many sides stand for a circle drawn at a scale: 8 to 48, a multiple of 4.

    A side is about 0.6 mm on paper, which reads as round beside a 0.25 mm pen
    (common practice, no source).
    """
    wanted = math.pi * diameter * scale / 0.6
    return 4 * max(2, min(12, math.ceil(wanted / 4)))


def part_body(
    part: Part,
    grooves: Iterable[Groove] = (),
    bores: Iterable[Bore] = (),
    slots: Iterable[Slot] = (),
    *,
    role: str = "existing",
    scale: float = 1.0,
) -> Body:
    """Return a part as it looks after machining, in its place in the product.

    Args:
        part: the prism.
        grooves, bores, slots: those of other parts are passed over.
        role: the body's role.
        scale: mm on paper for one mm, for the fineness of round things.
    """
    whole = _plan(part, scale)
    mine = [g for g in grooves if g.part == part.name]
    face_regions = _regions(whole, [g for g in mine if g.surface == "face"], part.thickness)
    back_regions = _regions(whole, [g for g in mine if g.surface == "back"], part.thickness)
    t = part.thickness
    flat: list[Face] = []
    for depth, plan in face_regions:
        flat.append(_flat_face(plan, -depth, (0.0, 0.0, 1.0)))
    for depth, plan in back_regions:
        flat.append(_flat_face(plan, depth - t, (0.0, 0.0, -1.0)))
    flat.extend(_groove_walls(face_regions, lambda depth: -depth))
    flat.extend(_groove_walls(back_regions, lambda depth: depth - t))
    flat.extend(_rim(part, whole, face_regions, back_regions))
    if any(g.surface.startswith("edge:") for g in mine):
        flat = cut_edge_grooves(part, whole, mine, flat)
    if part.bevels:
        flat = saw_bevels(part, whole, mine, flat)
    marks = [
        mark
        for bore in bores
        if bore.part == part.name and bore.diameter >= LEAST_BORE - 1e-9
        for mark in _mouths(bore, flat, scale)
    ]
    marks += [
        mark for slot in slots if slot.part == part.name for mark in _slot_mouths(slot, flat, scale)
    ]
    return close_body(part.name, flat, marks, role).placed(part.frame)


def box_body(name: str, low: Vec3, high: Vec3, *, role: str = "existing") -> Body:
    """Return a plain box between two corners of the product frame."""
    w, d, h = (high[n] - low[n] for n in range(3))
    frame = Frame((low[0], low[1], high[2]), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    part = Part(
        name=name,
        title=name,
        kind="panel",
        path=(),
        frame=frame,
        outline=((0.0, 0.0), (w, 0.0), (w, d), (0.0, d)),
        thickness=h,
    )
    return part_body(part, role=role)


def _plan(part: Part, scale: float) -> Polygon:
    """Return the outline without its openings, counter-clockwise."""
    shape: BaseGeometry = Polygon(part.outline)
    openings: list[BaseGeometry] = [Polygon(loop) for loop in part.cutouts]
    for cut in part.round_cutouts:
        openings.append(
            Polygon(_circle(cut.centre, cut.diameter, round_steps(cut.diameter, scale)))
        )
    if openings:
        shape = rest_of(shape, together(openings))
    return max(_polygons(shape), key=lambda p: p.area)


def _circle(centre: Vec2, diameter: float, steps: int) -> list[Vec2]:
    r = diameter / 2
    turns = (2 * math.pi * n / steps for n in range(steps))
    return [(centre[0] + r * math.cos(a), centre[1] + r * math.sin(a)) for a in turns]


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    """Return the areas of a shape, turned counter-clockwise, slivers left out."""
    found = [g for g in shapely.get_parts(shape).tolist() if isinstance(g, Polygon)]
    return [shapely.geometry.polygon.orient(p) for p in found if p.area > 1e-6]


def _regions(whole: Polygon, grooves: Sequence[Groove], thickness: float) -> list[_Region]:
    """Return the surface cut up by depth; where grooves cross, the deeper one counts."""
    left: BaseGeometry = whole
    regions: list[_Region] = []
    for groove in sorted(grooves, key=lambda g: -g.depth):
        strip = shapely.make_valid(Polygon(groove.polygon))
        depth = min(groove.depth, thickness)
        regions.extend((depth, p) for p in _polygons(shared(left, strip)))
        left = rest_of(left, strip)
    return [(0.0, p) for p in _polygons(left)] + regions


def _rings(plan: Polygon) -> Iterator[list[Vec2]]:
    """Yield the rings, the inside always at the left."""
    for ring in (plan.exterior, *plan.interiors):
        yield [(float(x), float(y)) for x, y in ring.coords[:-1]]


def _sides(plan: Polygon) -> Iterator[tuple[Vec2, Vec2]]:
    for ring in _rings(plan):
        yield from zip(ring, ring[1:] + ring[:1], strict=True)


def _flat_face(plan: Polygon, z: float, normal: Vec3) -> Face:
    outer, *holes = ([(x, y, z) for x, y in ring] for ring in _rings(plan))
    return Face(outer=tuple(outer), holes=tuple(tuple(h) for h in holes), normal=normal)


def _shared(a: Vec2, b: Vec2, c: Vec2, d: Vec2) -> tuple[float, float] | None:
    """Return the stretch of a→b, in mm from a, that c→d lies on, if any."""
    length = math.dist(a, b)
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    ends = []
    for p in (c, d):
        dx, dy = p[0] - a[0], p[1] - a[1]
        if abs(dx * uy - dy * ux) > _NEAR:
            return None
        ends.append(dx * ux + dy * uy)
    low, high = max(0.0, min(ends)), min(length, max(ends))
    return (low, high) if high - low > _NEAR else None


def _groove_walls(regions: Sequence[_Region], z_at: _Height) -> Iterator[Face]:
    """Yield the upright faces between regions of different depth."""
    if len(regions) < 2:
        return
    for depth, plan in regions:
        for a, b in _sides(plan):
            for shallower, other in regions:
                if shallower >= depth - 1e-9:
                    continue
                for c, d in _sides(other):
                    stretch = _shared(a, b, c, d)
                    if stretch is None:
                        continue
                    normal = _left_of(a, b)
                    yield _upright(a, b, stretch, (z_at(depth), z_at(shallower)), normal)


def _left_of(a: Vec2, b: Vec2) -> Vec3:
    length = math.dist(a, b)
    return (-(b[1] - a[1]) / length, (b[0] - a[0]) / length, 0.0)


def _along(a: Vec2, b: Vec2, s: float) -> Vec2:
    share = s / math.dist(a, b)
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)


def _upright(
    a: Vec2, b: Vec2, stretch: tuple[float, float], heights: tuple[float, float], normal: Vec3
) -> Face:
    p, q = _along(a, b, stretch[0]), _along(a, b, stretch[1])
    low, high = sorted(heights)
    return Face(outer=((*p, low), (*q, low), (*q, high), (*p, high)), normal=normal)


def _rim(
    part: Part, whole: Polygon, face_regions: Sequence[_Region], back_regions: Sequence[_Region]
) -> Iterator[Face]:
    """Yield the edges of the panel, notched where a groove runs out."""
    t = part.thickness
    plain = len(face_regions) == 1 and len(back_regions) == 1
    for number, ring in enumerate(_rings(whole)):
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            normal = scaled(_left_of(a, b), -1.0)
            group = _curve_of(part, number, a, b)
            if plain:
                quad = _upright(a, b, (0.0, math.dist(a, b)), (-t, 0.0), normal)
                yield Face(outer=quad.outer, normal=normal, group=group)
                continue
            pieces = []
            for s0, s1, depth in _stretches(a, b, face_regions):
                for r0, r1, back_depth in _stretches(a, b, back_regions):
                    low, high = max(s0, r0), min(s1, r1)
                    if high - low > _NEAR and t - back_depth - depth > _NEAR:
                        pieces.append(shapely.box(low, back_depth - t, high, -depth))
            for polygon in _polygons(together(pieces)):
                outer, *holes = (
                    tuple((*_along(a, b, s), z) for s, z in loop)
                    for loop in _rings(_simple(polygon))
                )
                yield Face(outer=outer, holes=tuple(holes), normal=normal, group=group)


def _simple(polygon: Polygon) -> Polygon:
    """Return the polygon without corners that are none, from a fixed first corner."""
    plain = polygon.simplify(_NEAR).normalize()
    return plain if isinstance(plain, Polygon) else polygon


def _stretches(
    a: Vec2, b: Vec2, regions: Sequence[_Region]
) -> Iterator[tuple[float, float, float]]:
    for depth, plan in regions:
        for c, d in _sides(plan):
            stretch = _shared(a, b, c, d)
            if stretch is not None:
                yield (*stretch, depth)


def _curve_of(part: Part, ring: int, a: Vec2, b: Vec2) -> int:
    """Return the group of a side that stands for a piece of a curve, or −1."""
    for number, cut in enumerate(part.round_cutouts):
        radius = cut.diameter / 2
        if all(abs(math.dist(p, cut.centre) - radius) < _NEAR for p in (a, b)):
            return number + 1000
    return ring if part.smooth else -1


def _mouths(bore: Bore, faces: Sequence[Face], scale: float) -> Iterator[Mark]:
    """Yield the mouth of a bore, and of a through bore where it comes out again."""
    ends = [(bore.mouth, bore.into)]
    if bore.through:
        ends.append((add(bore.mouth, scaled(bore.into, bore.depth)), scaled(bore.into, -1.0)))
    for centre, into in ends:
        for number, face in enumerate(faces):
            slope = dot(face.normal, into)
            away = dot(face.normal, sub(face.outer[0], centre))
            if slope > -0.2 or abs(away) > 1e-3:
                continue
            yield from _mouth_on(bore, centre, into, number, face, scale)


def _mouth_on(
    bore: Bore, centre: Vec3, into: Vec3, number: int, face: Face, scale: float
) -> Iterator[Mark]:
    """Yield the bore's section with the face's plane, as far as the face reaches."""
    i = unit(sub(face.outer[1], face.outer[0]))
    j = cross(face.normal, i)
    across = cross(into, i)
    e1 = unit(across) if norm(across) > 1e-6 else j
    e2 = cross(into, e1)
    slope = dot(into, face.normal)
    loop = []
    for u, v in _circle((0.0, 0.0), bore.diameter, round_steps(bore.diameter, scale)):
        p = add(scaled(e1, u), scaled(e2, v))
        p = sub(p, scaled(into, dot(p, face.normal) / slope))
        loop.append((dot(p, i), dot(p, j)))

    rise = (dot(into, i), dot(into, j))
    if not bore.through and max(x * rise[0] + y * rise[1] for x, y in loop) > bore.depth:
        loop = _short_of(loop, rise, bore.depth)  # a flat mouth shows the bottom's rim
    yield from _marks_on(loop, centre, (i, j), number, face)


def _short_of(loop: Sequence[Vec2], rise: Vec2, depth: float) -> list[Vec2]:
    """Return the part of a convex loop that lies no farther along a bore than its bottom."""
    kept: list[Vec2] = []
    for p, q in zip(loop, [*loop[1:], loop[0]], strict=True):
        a, b = (x * rise[0] + y * rise[1] - depth for x, y in (p, q))
        if a <= 0:
            kept.append(p)
        if a * b < 0:
            share = a / (a - b)
            kept.append((p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share))
    return kept


def _slot_mouths(slot: Slot, faces: Sequence[Face], scale: float) -> Iterator[Mark]:
    """Yield the mouth of a slot on the faces that it opens in."""
    half = slot.width / 2
    reach = slot.length / 2 - (half if slot.disc is None else 0.0)
    loop = [(-reach, -half), (reach, -half), (reach, half), (-reach, half)]
    if slot.disc is None:
        turns = round_steps(slot.width, scale) // 2
        arc = [math.pi * (n / turns - 0.5) for n in range(turns + 1)]
        right = [(reach + half * math.cos(a), half * math.sin(a)) for a in arc]
        loop = right + [(-x, -y) for x, y in right]
    axes = (slot.along, cross(scaled(slot.into, -1.0), slot.along))
    for number, face in enumerate(faces):
        away = dot(face.normal, sub(face.outer[0], slot.mouth))
        if dot(face.normal, slot.into) < -0.99 and abs(away) < 1e-3:
            yield from _marks_on(loop, slot.mouth, axes, number, face)


def _marks_on(
    loop: Sequence[Vec2], centre: Vec3, axes: tuple[Vec3, Vec3], number: int, face: Face
) -> Iterator[Mark]:
    """Yield a closed loop as marks, as far as the face reaches."""
    i, j = axes

    def flat(ring: Sequence[Vec3]) -> list[Vec2]:
        return [(dot(sub(p, centre), i), dot(sub(p, centre), j)) for p in ring]

    plan = Polygon(flat(face.outer), [flat(hole) for hole in face.holes])
    for piece in _polygons(shared(Polygon(loop), plan)):
        ring = next(_rings(piece))
        points = tuple(add(centre, add(scaled(i, x), scaled(j, y))) for x, y in ring)
        yield Mark(points=points, face=number, kind="bore", closed=True, tone="bore")
