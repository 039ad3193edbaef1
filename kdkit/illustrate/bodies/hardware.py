"""Items of hardware as bodies to draw, from their catalogue pieces. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from kdkit.catalogue.entries import Item, Piece
from kdkit.frames import Frame, Vec2, Vec3, add, scaled
from kdkit.illustrate.bodies.body import Body, Edge, Face, Form, Mark
from kdkit.illustrate.bodies.looks import is_small, look_solids, plain_shape, sign_marks
from kdkit.illustrate.bodies.parts import round_steps

__all__ = ["PARALLEL_GAP", "Locked", "item_body", "lens_outline"]

Locked = Literal["not yet", "now", "already"]
"""When an item that locks by a turn is locked."""

PARALLEL_GAP = 0.7
"""Least distance of parallel lines on paper, mm. Source: ISO 128-2, from a digest."""

LEAST = 0.25
"""Chamfers and tips shorter than this on paper are left out, mm: a pen's width."""


_CROSS = 0.62  # a cross recess's share of its head


def item_body(
    name: str,
    item: Item,
    frame: Frame,
    *,
    role: str = "hardware",
    scale: float = 1.0,
    above: float | None = None,
    locked: Locked = "not yet",
) -> Body:
    """Return an item in its place.

    Args:
        name: the body's name.
        item: its coaxial pieces, in the item frame.
        frame: the item frame in the product.
        role: the body's role.
        scale: mm on paper for one mm: fineness of curves and of thread marks.
        above: leave out what lies below this z of the item frame (0 shows only
            what stands out of the surface); None shows everything.
        locked: one that is locked stands turned; while it is locked ("now") its mark is
            also drawn, as a line, where it was before.
    """
    turn = item.look.turn_deg if item.look is not None and locked != "not yet" else 0.0
    form = _made(item, scale, above, before=bool(turn) and locked == "now")
    return Body(name=name, form=form, frame=_turned(frame, turn) if turn else frame, role=role)


def _turned(frame: Frame, degrees: float) -> Frame:
    """Return a frame turned about its z, clockwise seen from +z."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    i, j = frame.i, frame.j
    return replace(
        frame,
        i=add(scaled(i, c), scaled(j, -s)),
        j=add(scaled(i, s), scaled(j, c)),
    )


@lru_cache(maxsize=256)
def _made(item: Item, scale: float, above: float | None, *, before: bool) -> Form:
    """Return an item in its own frame."""
    faces: list[Face] = []
    edges: list[Edge] = []
    marks: list[Mark] = []
    small = item.look is not None and is_small(item, scale)
    if small:
        pieces = plain_shape(item)
    else:
        pieces = item.pieces if item.look is None or item.look.own_pieces else ()
    for number, piece in enumerate(pieces):
        if piece.kind == "lens":
            _add_lens(piece, above, faces, edges)
            continue
        cut = _above(piece, above)
        if cut is not None:
            _add_piece(cut, number, faces, edges, marks, scale)
    if item.look is not None and not small:
        for solid in look_solids(item.look, scale, above):
            _add_solid(solid, faces, edges)
    tells = small and item.look is not None and any(s.tells for s in item.look.signs)
    if item.drive and item.recess_z is not None and faces and not tells:
        marks.extend(_recess(item, faces, scale))
    marks.extend(sign_marks(item, faces, scale, small=small, before=before))
    return Form(faces=tuple(faces), edges=tuple(edges), marks=tuple(marks))


def _add_solid(solid: Form, faces: list[Face], edges: list[Edge]) -> None:
    """Append a closed shell to what is there."""
    first = len(faces)
    faces.extend(solid.faces)
    edges.extend(replace(edge, faces=tuple(first + n for n in edge.faces)) for edge in solid.edges)


def _above(piece: Piece, above: float | None) -> Piece | None:
    """Return the piece, lower end first, cut off below a height; None if nothing is left."""
    low, high = (piece.z0, piece.z1) if piece.z0 <= piece.z1 else (piece.z1, piece.z0)
    wide0, wide1 = piece.d0, piece.d1
    if piece.kind == "cone":
        wide1 = piece.d1 if piece.d1 is not None else 0.0
        if piece.z0 > piece.z1:
            wide0, wide1 = wide1, wide0
        if above is not None and low < above < high:
            wide0 += (wide1 - wide0) * (above - low) / (high - low)
    if above is not None:
        low = max(low, above)
    if high - low < 1e-6:
        return None
    return piece.model_copy(update={"z0": low, "z1": high, "d0": wide0, "d1": wide1})


def _too_small(piece: Piece, item: Item, scale: float) -> bool:
    """Tell whether a piece is a chamfer or a tip that no eye can find at a scale."""
    if piece.kind != "cone" or (piece.z1 - piece.z0) * scale >= LEAST:
        return False
    return any(other.kind != "cone" for other in item.pieces) and (
        max(piece.d0, piece.d1 or 0.0) <= max(p.d0 for p in item.pieces if p.kind != "cone")
    )


def _section(piece: Piece, steps: int) -> tuple[list[Vec2], list[Vec2]]:
    """Return the corners of the lower and the upper end, counter-clockwise."""
    x, y = piece.at
    low, high = _about_the_axis(piece, steps)
    return [(x + u, y + v) for u, v in low], [(x + u, y + v) for u, v in high]


def _about_the_axis(piece: Piece, steps: int) -> tuple[list[Vec2], list[Vec2]]:
    if piece.kind == "box":
        x, y = piece.d0 / 2, (piece.d1 if piece.d1 is not None else piece.d0) / 2
        ring = [(x, -y), (x, y), (-x, y), (-x, -y)]
        return ring, ring
    if piece.kind == "hexagon":
        ring = _ring(piece.d0 / math.sqrt(3), 6)
        return ring, ring
    upper = piece.d1 if piece.kind == "cone" and piece.d1 is not None else piece.d0
    return _ring(piece.d0 / 2, steps), _ring(upper / 2, steps)


def _ring(radius: float, steps: int) -> list[Vec2]:
    turns = (2 * math.pi * (n + 0.5) / steps for n in range(steps))
    return [(radius * math.cos(a), radius * math.sin(a)) for a in turns]


def _add_piece(
    piece: Piece,
    number: int,
    faces: list[Face],
    edges: list[Edge],
    marks: list[Mark],
    scale: float,
) -> None:
    """Append the closed shell of one piece."""
    widest = max(piece.d0, piece.d1 or 0.0)
    steps = round_steps(widest, scale)
    curved = piece.kind in ("cylinder", "cone")
    low, high = _section(piece, steps)
    n = len(low)
    lower: list[Vec3] = [(x, y, piece.z0) for x, y in low]
    upper: list[Vec3] = [(x, y, piece.z1) for x, y in high]
    pointed_low = piece.kind == "cone" and piece.d0 < 1e-6
    pointed_high = piece.kind == "cone" and (piece.d1 or 0.0) < 1e-6
    first = len(faces)
    for a in range(n):
        b = (a + 1) % n
        loop = [lower[a], lower[b], upper[b], upper[a]]
        if pointed_low:
            loop = [lower[a], upper[b], upper[a]]
        elif pointed_high:
            loop = [lower[a], lower[b], upper[a]]
        faces.append(Face(outer=tuple(loop), normal=_normal(loop), group=number if curved else -1))
    caps: dict[str, int] = {}
    if not pointed_low:
        caps["low"] = len(faces)
        faces.append(Face(outer=tuple(reversed(lower)), normal=(0.0, 0.0, -1.0)))
    if not pointed_high:
        caps["high"] = len(faces)
        faces.append(Face(outer=tuple(upper), normal=(0.0, 0.0, 1.0)))
    for a in range(n):
        b = (a + 1) % n
        side, following = first + a, first + b
        edges.append(Edge(start=lower[b], end=upper[b], faces=(side, following), sharp=not curved))
        if "low" in caps:
            edges.append(Edge(start=lower[a], end=lower[b], faces=(side, caps["low"])))
        if "high" in caps:
            edges.append(Edge(start=upper[a], end=upper[b], faces=(side, caps["high"])))
    if curved and piece.surface != "plain":
        marks.extend(_surface_marks(piece, low, high, first, scale))


LENS_STEPS = 8
"""Straight pieces in each of the arcs of a lens."""


def lens_outline(piece: Piece) -> list[Vec2]:
    """Return the outline of a lens in (x, z), counter-clockwise: two arcs end to end."""
    half, rise = piece.d0 / 2, (piece.z1 - piece.z0) / 2
    middle = (piece.z0 + piece.z1) / 2
    radius = (half * half + rise * rise) / (2 * rise)
    turn = math.asin(min(1.0, half / radius))
    arc = [
        (
            radius * math.sin(turn * (2 * n / LENS_STEPS - 1)),
            radius * math.cos(turn * (2 * n / LENS_STEPS - 1)) - (radius - rise),
        )
        for n in range(LENS_STEPS)
    ]
    lower = [(x, middle - z) for x, z in arc]
    return lower + [(-x, middle + z) for x, z in arc]


def _add_lens(piece: Piece, above: float | None, faces: list[Face], edges: list[Edge]) -> None:
    """Append the closed shell of a lens: two flat cheeks and the rim between them."""
    ring = [(x + piece.at[0], z) for x, z in lens_outline(piece)]
    if above is not None:
        ring = _upper(ring, above)
    if len(ring) < 3:
        return
    n, first = len(ring), len(faces)
    thick = (piece.d1 if piece.d1 is not None else piece.d0) / 2
    near: list[Vec3] = [(x, piece.at[1] - thick, z) for x, z in ring]
    far: list[Vec3] = [(x, piece.at[1] + thick, z) for x, z in ring]
    for a in range(n):
        b = (a + 1) % n
        loop = [near[a], far[a], far[b], near[b]]
        faces.append(Face(outer=tuple(loop), normal=_normal(loop), group=n))
    faces.append(Face(outer=tuple(near), normal=(0.0, -1.0, 0.0)))
    faces.append(Face(outer=tuple(reversed(far)), normal=(0.0, 1.0, 0.0)))
    for a in range(n):
        b = (a + 1) % n
        side, following = first + a, first + b
        turned = abs(_cosine(faces[side].normal, faces[following].normal)) < 0.8
        edges.append(Edge(start=near[b], end=far[b], faces=(side, following), sharp=turned))
        edges.append(Edge(start=near[a], end=near[b], faces=(side, first + n)))
        edges.append(Edge(start=far[a], end=far[b], faces=(side, first + n + 1)))


def _upper(ring: list[Vec2], z: float) -> list[Vec2]:
    """Return what of a convex ring lies above a height."""
    kept: list[Vec2] = []
    for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
        if p[1] >= z:
            kept.append(p)
        if (p[1] - z) * (q[1] - z) < 0:
            share = (z - p[1]) / (q[1] - p[1])
            kept.append((p[0] + (q[0] - p[0]) * share, z))
    return kept


def _cosine(a: Vec3, b: Vec3) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _normal(loop: list[Vec3]) -> Vec3:
    """Return the unit normal of a loop that turns counter-clockwise seen from outside."""
    x = y = z = 0.0
    for p, q in zip(loop, loop[1:] + loop[:1], strict=True):
        x += (p[1] - q[1]) * (p[2] + q[2])
        y += (p[2] - q[2]) * (p[0] + q[0])
        z += (p[0] - q[0]) * (p[1] + q[1])
    length = math.sqrt(x * x + y * y + z * z)
    return (x / length, y / length, z / length)


def _between(p: Vec3, q: Vec3, share: float) -> Vec3:
    return (
        p[0] + (q[0] - p[0]) * share,
        p[1] + (q[1] - p[1]) * share,
        p[2] + (q[2] - p[2]) * share,
    )


def _surface_marks(
    piece: Piece, low: list[Vec2], high: list[Vec2], first: int, scale: float
) -> Iterator[Mark]:
    """Yield a thread as a helix, flutes as lines along, never denser than paper can hold."""
    n = len(low)
    span = piece.z1 - piece.z0
    gap = PARALLEL_GAP / scale
    if piece.surface == "flutes":
        every = max(1, math.ceil(gap * n / (math.pi * piece.d0)))
        for a in range(0, n, every):
            b = (a + 1) % n
            foot = _between((*low[a], piece.z0), (*low[b], piece.z0), 0.5)
            head = _between((*high[a], piece.z1), (*high[b], piece.z1), 0.5)
            yield Mark(
                points=(_between(foot, head, 0.08), _between(foot, head, 0.92)), face=first + a
            )
        return
    # The drawn pitch is for recognising; a coarse thread is about a third of its diameter.
    pitch = max(gap, max(piece.d0, piece.d1 or 0.0) / 3)
    turns = int(span / pitch)
    for step in range(turns * n):
        a = step % n
        b = (a + 1) % n
        z0, z1 = (step / n + 0.25) * pitch / span, ((step + 1) / n + 0.25) * pitch / span
        if z1 > 1:
            return
        start = _between((*low[a], piece.z0), (*high[a], piece.z1), z0)
        end = _between((*low[b], piece.z0), (*high[b], piece.z1), z1)
        yield Mark(points=(start, end), face=first + a)


def _recess(item: Item, faces: list[Face], scale: float) -> Iterator[Mark]:
    """Yield the drive recess on the flat of the head that lies at ``recess_z``."""
    assert item.recess_z is not None
    heads = [
        (number, face)
        for number, face in enumerate(faces)
        if face.normal[2] > 0.999 and abs(face.outer[0][2] - item.recess_z) < 0.05
    ]
    if not heads:
        return
    number, head = max(heads, key=lambda pair: max(math.hypot(p[0], p[1]) for p in pair[1].outer))
    radius = min(math.hypot(p[0], p[1]) for p in head.outer)
    z = head.outer[0][2]
    if item.look is not None and item.look.recess is not None:
        radius = min(radius, item.look.recess / (2 * _CROSS))
    if radius * scale < 0.6:  # under 1.2 mm of head on paper a recess is only a blot
        return
    loop = _recess_loop(item.drive or "", radius)
    if loop:
        points = tuple((x, y, z) for x, y in loop)
        yield Mark(points=points, face=number, kind="recess", closed=True, tone="recess")


def _recess_loop(drive: str, radius: float) -> list[Vec2]:
    """Return the outline of a drive recess on a head of that radius, or nothing."""
    if drive.startswith("cross"):
        r, w = _CROSS * radius, 0.16 * radius
        quarter = [(r, -w), (r, w), (w, w)]
        loop = []
        for turn in range(4):
            for x, y in quarter:
                for _ in range(turn):
                    x, y = -y, x
                loop.append((x, y))
        return loop
    if drive.startswith("slot"):
        r, w = 0.8 * radius, 0.13 * radius
        return [(-r, -w), (r, -w), (r, w), (-r, w)]
    if drive.startswith("hexalobular"):
        turns = [2 * math.pi * n / 12 for n in range(12)]
        wide = [0.62 * radius if n % 2 == 0 else 0.44 * radius for n in range(12)]
        return [(r * math.cos(a), r * math.sin(a)) for r, a in zip(wide, turns, strict=True)]
    if drive.startswith("hex"):
        return _ring(0.55 * radius, 6)
    return []
