"""The looks of items as solids and marks: outlines, drums with an opening, telling signs.

Takes an item's ``look`` and a scale, gives closed shells and what is marked on them, in the
item frame, mm. What no eye can find at the scale is left out here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from shapely.geometry import Point, Polygon, box

from kdkit.areas import shared
from kdkit.catalogue.entries import Item, Piece
from kdkit.catalogue.looks import Drum, Look, Prism, Sign
from kdkit.frames import AXES, Vec2, Vec3, add, cross, dot, scaled
from kdkit.illustrate.bodies.body import Face, Form, Mark, close_body
from kdkit.illustrate.bodies.parts import round_steps

__all__ = ["SMALL", "is_small", "look_solids", "plain_shape", "sign_marks"]

SMALL = 3.0
"""An item no wider than this on paper is drawn as its outline and one telling sign, mm.
Source: common practice, no source."""

LEAST_SIGN = 0.5
"""Signs and round corners smaller than this on paper are left out, mm: two pens' widths."""

CORNER_STEPS = 3
"""Straight pieces in a round corner."""

_FAR = 1e5  # mm; beyond every item


def is_small(item: Item, scale: float) -> bool:
    """Tell whether an item is so small on paper that only its outline and one sign are drawn."""
    widest = max(max(p.d0, p.d1 or 0.0) + 2 * max(map(abs, p.at)) for p in item.pieces)
    return widest * scale <= SMALL


def plain_shape(item: Item) -> tuple[Piece, ...]:
    """Return an item's outline alone: one cylinder round what stands about its axis."""
    pieces = item.pieces
    if any(p.kind not in ("cylinder", "cone") or p.at != (0.0, 0.0) for p in pieces):
        return pieces
    widest = max(max(p.d0, p.d1 or 0.0) for p in pieces)
    low, high = min(p.z0 for p in pieces), max(p.z1 for p in pieces)
    return (Piece(kind="cylinder", z0=low, z1=high, d0=widest),)


def look_solids(look: Look, scale: float, above: float | None) -> Iterator[Form]:
    """Yield the closed shells of a look.

    Args:
        look: in the item frame.
        scale: mm on paper for one mm.
        above: leave out what lies below this z; None shows everything.
    """
    group = 1000  # no piece has such a number
    for prism in look.prisms:
        group += 100
        faces = _prism(prism, scale, above, group)
        if faces:
            yield close_body("", faces).form
    for drum in look.drums:
        group += 100
        low = drum.low if above is None else max(drum.low, above)
        if drum.high - low > 1e-6:
            yield close_body("", _drum(drum, low, scale, group)).form


def _prism(prism: Prism, scale: float, above: float | None, group: int) -> list[Face]:
    ring = _rounded(prism.outline, prism.round if prism.round * scale >= LEAST_SIGN else 0.0)
    smooth = len(ring) > len(prism.outline)
    low = prism.low
    if above is not None and prism.along == "z":
        low = max(low, above)
    elif above is not None:
        ring = _upper(ring, above, 1 if prism.along == "x" else 0)
    if prism.high - low < 1e-6 or len(ring) < 3:
        return []
    holes = [
        [(u + d / 2 * math.cos(a), v + d / 2 * math.sin(a)) for a in _turns(round_steps(d, scale))]
        for u, v, d in prism.holes
        if d * scale >= LEAST_SIGN
    ]
    return _shell(ring, holes, (low, prism.high), prism.along, group if smooth else -1, group + 1)


def _drum(drum: Drum, low: float, scale: float, group: int) -> list[Face]:
    radius, half = drum.diameter / 2, drum.opening / 2
    steps = round_steps(drum.diameter, scale)
    if not half:
        ring = [(radius * math.cos(a), radius * math.sin(a)) for a in _turns(steps)]
        return _shell(ring, [], (low, drum.high), "z", group, -1)
    edge = math.asin(min(1.0, half / radius))
    first, sweep = math.pi / 2 + edge, 2 * (math.pi - edge)
    arc = [first + sweep * n / steps for n in range(steps + 1)]
    ring = [(radius * math.cos(a), radius * math.sin(a)) for a in arc]
    ring += [(half, drum.ends), (-half, drum.ends)]
    faces = _shell(ring, [], (low, drum.high), "z", group, -1)
    for n in range(steps, steps + 3):  # the walls of the opening are flat
        faces[n] = Face(outer=faces[n].outer, normal=faces[n].normal)
    return faces


def _shell(
    ring: Sequence[Vec2],
    holes: Sequence[Sequence[Vec2]],
    span: Vec2,
    along: str,
    group: int,
    inside: int,
) -> list[Face]:
    """Return the faces of a straight solid: its sides first, in the order of the ring.

    Args:
        ring: counter-clockwise.
        span: from where to where, along its axis.
        group: of the sides; inside: of the first hole's walls.
    """

    def at(p: Vec2, w: float) -> Vec3:
        return _placed(p[0], p[1], w, along)

    faces = []
    for loop, whose in [(ring, group), *((hole, inside + n) for n, hole in enumerate(holes))]:
        out = 1.0 if loop is ring else -1.0
        for p, q in zip(loop, [*loop[1:], loop[0]], strict=True):
            size = math.dist(p, q)
            normal = _placed(out * (q[1] - p[1]) / size, -out * (q[0] - p[0]) / size, 0.0, along)
            corners = (at(p, span[0]), at(q, span[0]), at(q, span[1]), at(p, span[1]))
            faces.append(Face(outer=corners, normal=normal, group=whose))
    for w, out in ((span[0], -1.0), (span[1], 1.0)):
        faces.append(
            Face(
                outer=tuple(at(p, w) for p in ring),
                holes=tuple(tuple(at(p, w) for p in hole) for hole in holes),
                normal=_placed(0.0, 0.0, out, along),
            )
        )
    return faces


def _placed(u: float, v: float, w: float, along: str) -> Vec3:
    """Return a point from an outline's terms in the item frame."""
    return {"z": (u, v, w), "x": (w, u, v), "y": (v, w, u)}[along]


def _turns(steps: int) -> list[float]:
    return [2 * math.pi * (n + 0.5) / steps for n in range(steps)]


def _rounded(outline: Sequence[Vec2], radius: float) -> list[Vec2]:
    """Return an outline with arcs for its corners, counter-clockwise as it was."""
    if not radius:
        return list(outline)
    ring: list[Vec2] = []
    n = len(outline)
    for a in range(n):
        p, at, q = outline[a - 1], outline[a], outline[(a + 1) % n]
        before, after = math.dist(p, at), math.dist(at, q)
        u = ((p[0] - at[0]) / before, (p[1] - at[1]) / before)
        v = ((q[0] - at[0]) / after, (q[1] - at[1]) / after)
        half = math.acos(max(-1.0, min(1.0, u[0] * v[0] + u[1] * v[1]))) / 2
        cut = min(radius / math.tan(half), 0.499 * before, 0.499 * after)
        start = (at[0] + u[0] * cut, at[1] + u[1] * cut)
        end = (at[0] + v[0] * cut, at[1] + v[1] * cut)
        for step in range(CORNER_STEPS + 1):  # a quadratic curve is near enough to an arc
            t = step / CORNER_STEPS
            weights = ((1 - t) ** 2, 2 * t * (1 - t), t * t)
            ring.append(
                (
                    weights[0] * start[0] + weights[1] * at[0] + weights[2] * end[0],
                    weights[0] * start[1] + weights[1] * at[1] + weights[2] * end[1],
                )
            )
    return ring


def _upper(ring: Sequence[Vec2], z: float, axis: int) -> list[Vec2]:
    """Return what of an outline lies above a height in one of its two measures."""
    if min(p[axis] for p in ring) >= z:
        return list(ring)
    low = (-_FAR, z) if axis == 1 else (z, -_FAR)
    cut = shared(Polygon(ring), box(*low, _FAR, _FAR))
    parts = [g for g in getattr(cut, "geoms", [cut]) if isinstance(g, Polygon) and not g.is_empty]
    if not parts:
        return []
    largest = max(parts, key=lambda g: g.area)
    corners = list(largest.exterior.coords)[:-1]
    found: list[Vec2] = [(x, y) for x, y in corners]
    return found if largest.exterior.is_ccw else found[::-1]


def sign_marks(
    item: Item, faces: Sequence[Face], scale: float, *, small: bool, before: bool
) -> Iterator[Mark]:
    """Yield an item's signs on the faces that they lie on.

    Args:
        item: with its look.
        faces: of the item's body.
        scale: mm on paper for one mm.
        small: only the telling sign, as large as the face lets it be.
        before: beside the telling sign also where it was before the turn, as a line.
    """
    look = item.look
    if look is None:
        return
    for sign in look.signs:
        if small and not sign.tells:
            continue
        if not small and sign.size * scale < LEAST_SIGN:
            continue
        out = AXES[sign.side]
        found = _face_under(sign.at, out, faces)
        if found is None:
            continue
        loop = _loop(sign, scale)
        at = sign.at
        if small:
            reach = max(math.hypot(p[0], p[1]) for p in faces[found].outer)
            at = (0.0, 0.0, sign.at[2])
            loop = [
                (-0.5 * reach, -0.55 * reach),
                (0.85 * reach, 0.0),
                (-0.5 * reach, 0.55 * reach),
            ]
        points = _on_face(loop, at, out, AXES[sign.to])
        tone = "bore" if sign.kind == "hole" else "recess"
        yield Mark(points=points, face=found, kind="recess", closed=True, tone=tone)
        if sign.tells and before and not small:
            turn = math.radians(look.turn_deg)
            ghost = tuple(_about_z(p, turn) for p in points)
            yield Mark(points=ghost, face=found, kind="recess", closed=True)


def _about_z(p: Vec3, turn: float) -> Vec3:
    c, s = math.cos(turn), math.sin(turn)
    return (c * p[0] - s * p[1], s * p[0] + c * p[1], p[2])


def _face_under(at: Vec3, out: Vec3, faces: Sequence[Face]) -> int | None:
    """Return the face that faces a way and has a point on it; the last one made of several."""
    found = None
    i = _aside(out)
    j = cross(out, i)
    for n, face in enumerate(faces):
        if dot(face.normal, out) < 0.999 or abs(dot(face.outer[0], out) - dot(at, out)) > 0.05:
            continue
        outline = Polygon([(dot(p, i), dot(p, j)) for p in face.outer])
        if outline.buffer(0.05).contains(Point(dot(at, i), dot(at, j))):
            found = n
    return found


def _aside(out: Vec3) -> Vec3:
    return AXES["+y"] if abs(out[0]) > 0.9 else AXES["+x"]


def _loop(sign: Sign, scale: float) -> list[Vec2]:
    """Return a sign's outline, its first axis the way that it points."""
    half, side = sign.size / 2, sign.wide / 2
    if sign.kind == "hole":
        return [
            (half * math.cos(a), half * math.sin(a)) for a in _turns(round_steps(sign.size, scale))
        ]
    if sign.kind == "arrow":
        side = side or 0.55 * sign.size
        return [(-half, -side), (half, 0.0), (-half, side)]
    return [(-half, -side), (half, -side), (half, side), (-half, side)]


def _on_face(loop: Sequence[Vec2], at: Vec3, out: Vec3, to: Vec3) -> tuple[Vec3, ...]:
    across = cross(out, to)
    return tuple(add(at, add(scaled(to, u), scaled(across, v))) for u, v in loop)
