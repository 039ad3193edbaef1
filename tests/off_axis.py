"""Random products that lean, and their verdict by brute force.

The brute force shares nothing with the planner: solids of a general mesh library, swept
along many directions (spread evenly over the sphere, and the crossings of all faces), every
set of bodies tried. What it can take apart must not be called impossible; what is called
possible must come apart by its sweeps too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from kdkit.frames import Frame, Vec3
from kdkit.model.resolved import Part
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import closed_sets, find_stuck, smallest_stuck
from kdkit.plan.blocking.settle import settle
from kdkit.plan.plan import Impossible
from tests.boxes import Made, board, make

Array = NDArray[np.float64]

_FAR = 3000.0  # mm by which things are moved away
_LEAST = 2.0  # mm³; a common volume below it is rounding
_THICK = 0.004  # mm; the radius of what fits into a common corner, above which it is none


@dataclass(frozen=True)
class Leaning:
    """Parts, and which of them are one body; its joints have dowels in them, if any."""

    made: Made
    bodies: tuple[tuple[str, ...], ...]
    what: str


# -- the products ------------------------------------------------------------------


def leaning_product(seed: int) -> Leaning:
    """A peg, boxed in by boards that lean or taper and touch it or nearly do."""
    rng = np.random.default_rng(seed)
    frame = tilt_of(rng)
    a, b, c = (float(x) for x in rng.integers(3, 9, size=3) * 10)
    peg = board("peg", (-a, -b, -c), (a, b, c), at=frame)
    if rng.random() < 0.4:
        peg = _tapered(peg, rng)
    walls = list(_walls(rng, frame, (a, b, c)))
    kept: list[Part] = [peg]
    solids = [hulls_of(peg)]
    for wall in walls:
        solid = hulls_of(wall)
        if not any(overlapping(solid, other) for other in solids):
            kept.append(wall)
            solids.append(solid)
        if len(kept) == 6:
            break
    names = [part.name for part in kept[1:]]
    cut = int(rng.integers(1, len(names) + 1)) if rng.random() < 0.35 else len(names)
    bodies = [("peg",), tuple(names[:cut]), tuple(names[cut:])]
    return Leaning(make(kept, {}), tuple(body for body in bodies if body), f"seed {seed}")


def tilt_of(rng: np.random.Generator) -> Frame:
    angles = rng.choice([0.0, 15.0, 30.0, 45.0, 60.0, 37.3], size=3)
    kind = rng.random()
    if kind < 0.4:
        angles[:2] = 0.0
    elif kind < 0.6:
        angles[1:] = 0.0
    return _turned(*(float(x) for x in angles))


def _turned(x: float, y: float, z: float) -> Frame:
    rotation = np.eye(3)
    for axis, angle in ((0, x), (1, y), (2, z)):
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        turn = np.eye(3)
        m, n = (axis + 1) % 3, (axis + 2) % 3
        turn[m, m], turn[m, n], turn[n, m], turn[n, n] = c, -s, s, c
        rotation = turn @ rotation
    i, j, k = (tuple(float(v) for v in column) for column in rotation.T)
    return Frame((0.0, 0.0, 0.0), i, j, k)  # type: ignore[arg-type]


def _walls(
    rng: np.random.Generator, frame: Frame, half: tuple[float, float, float]
) -> Iterator[Part]:
    """Boards against the six sides of the peg, some further off, some turned on the spot."""
    t = 12.0
    for n, (axis, way) in enumerate((a, w) for a in range(3) for w in (1, -1)):
        if rng.random() < 0.12:
            continue
        gap = float(rng.choice([0.0, 0.0, 0.0, 5.0, 20.0]))
        low, high = [0.0] * 3, [0.0] * 3
        low[axis], high[axis] = half[axis] + gap, half[axis] + gap + t
        if way < 0:
            low[axis], high[axis] = -high[axis], -low[axis]
        for other in range(3):
            if other != axis:
                short = float(rng.choice([1.0, 1.0, 0.7, 0.4]))
                side = float(rng.choice([0.0, 0.3, -0.3]))
                low[other] = half[other] * (side - short)
                high[other] = half[other] * (side + short)
        at = frame
        if gap and rng.random() < 0.6:
            lean = _turned(*(float(x) for x in rng.choice([0.0, 10.0, -10.0, 20.0], size=3)))
            middle = tuple((p + q) / 2 for p, q in zip(low, high, strict=True))
            origin = frame.point_to_outer(middle)  # type: ignore[arg-type]
            turned = frame.frame_to_outer(lean)
            at = Frame(origin, turned.i, turned.j, turned.k)
            low = [p - m for p, m in zip(low, middle, strict=True)]
            high = [p - m for p, m in zip(high, middle, strict=True)]
        wall = board(f"wall_{n}", tuple(low), tuple(high), at=at)  # type: ignore[arg-type]
        yield _tapered(wall, rng) if rng.random() < 0.3 else wall


def _tapered(part: Part, rng: np.random.Generator) -> Part:
    """The same board with its outline narrowed towards one end."""
    (x0, y0), _, (x1, y1), _ = part.outline
    cut = float(rng.choice([0.1, 0.2, 0.35])) * (y1 - y0)
    ring = ((x0, y0), (x1, y0 + cut), (x1, y1 - cut), (x0, y1))
    if rng.random() < 0.5:
        ring = ((x0, y0), (x1, y0), (x1, y1 - cut), (x0, y1))
    return replace(part, outline=ring)


def dowelled_product(seed: int) -> Leaning | None:
    """A leaning product with two dowels between parts of two bodies; None if none touch."""
    plain = leaning_product(seed)
    _, assembly, _, _ = plain.made
    of = {part: n for n, body in enumerate(plain.bodies) for part in body}
    pairs = sorted(
        {
            (c.butting, c.receiving)
            for c in assembly.contacts
            if of[c.butting] != of[c.receiving] and c.run > 40.0
        }
    )
    if not pairs:
        return None
    pair = pairs[int(np.random.default_rng(seed).integers(len(pairs)))]
    made = make(assembly.parts, {pair: "dowels"})
    return Leaning(made, plain.bodies, f"dowels {seed}")


def slotted_product(seed: int) -> Leaning:
    """A block with a slot at a slant between two plates, a peg in it, perhaps a lid."""
    rng = np.random.default_rng(seed)
    angle = float(rng.choice([20.0, 30.0, 45.0, 52.5, 70.0]))
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    half, taper = 15.0, float(rng.choice([0.0, 0.0, 6.0, -6.0]))
    inner, outer = half, half + taper
    frame = Frame((100.0, 0.0, 100.0), (c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c))
    parts = []
    for sign, name in ((1.0, "upper"), (-1.0, "lower")):
        ring = ((0.0, sign * inner), (200.0, sign * outer), (200.0, sign * 90), (0.0, sign * 90))
        parts.append(_sheet(name, frame, ring, 0.0, 40.0))
    parts.append(_sheet("end", frame, ((-20.0, -90), (0, -90), (0, 90), (-20, 90)), 0.0, 40.0))
    parts.append(_sheet("front", frame, ((-20.0, -90), (200, -90), (200, 90), (-20, 90)), -10, 0))
    parts.append(_sheet("rear", frame, ((-20.0, -90), (200, -90), (200, 90), (-20, 90)), 40, 50))
    wide = half + taper * 0.75
    ring = ((0.0, -inner), (150.0, -wide), (150.0, wide), (0.0, inner))
    peg = _sheet("peg", frame, ring, 0.0, 40.0)
    left_out = int(rng.integers(0, 12))
    kept = [part for n, part in enumerate(parts) if n != left_out]
    names = tuple(part.name for part in kept)
    bodies: tuple[tuple[str, ...], ...] = (("peg",), names)
    if rng.random() < 0.3:
        bodies = (("peg",), names[:2], names[2:])
    return Leaning(make([peg, *kept], {}), bodies, f"slot {seed}")


def _sheet(
    name: str, frame: Frame, ring: Sequence[tuple[float, float]], y0: float, y1: float
) -> Part:
    """A board over a ring in (i, k) of a frame, from y0 to y1 along j."""
    placed = Frame(frame.point_to_outer((0.0, y1, 0.0)), frame.k, frame.i, frame.j)
    outline = tuple((z, x) for x, z in ring)
    plain = board(name, (0.0, 0.0, 0.0), (10.0, 10.0, 5.0))
    area = sum(
        p[0] * q[1] - q[0] * p[1] for p, q in zip(outline, (*outline[1:], outline[0]), strict=True)
    )
    return replace(
        plain,
        frame=placed,
        outline=outline if area > 0 else outline[::-1],
        thickness=y1 - y0,
    )


# -- the planner's verdict ---------------------------------------------------------


def planned(product: Leaning) -> tuple[Blocking, Impossible | None]:
    """What the planner says of the product's bodies, of single straight moves."""
    _, assembly, joinery, catalogue = product.made
    names = [part.name for part in assembly.parts]
    blocking = find_blocking(names, assembly, joinery, catalogue)
    groups = [sum(1 << names.index(part) for part in body) for body in product.bodies]

    def stuck(graphs: Blocking) -> list[int] | None:
        merged = graphs.merged(groups, [str(n) for n in range(len(groups))])
        mask = find_stuck(merged, merged.everything)
        if mask is None:
            return None
        return [groups[n] for n in members(smallest_stuck(merged, mask))]

    return settle(blocking, stuck, detours=False)


def moves_of(product: Leaning, blocking: Blocking) -> Iterator[tuple[set[int], set[int], Vec3]]:
    """(bodies that leave, bodies that stay, way) until all is apart, by the graphs."""
    names = blocking.names
    groups = [sum(1 << names.index(part) for part in body) for body in product.bodies]
    merged = blocking.merged(groups, [str(n) for n in range(len(groups))])
    waiting = [merged.everything]
    while waiting:
        among = waiting.pop()
        if among.bit_count() < 2:
            continue
        move = closed_sets(merged, among)[0]
        leaving, staying = move.parts, among & ~move.parts
        yield set(members(leaving)), set(members(staying)), merged.directions[move.direction]
        waiting += [leaving, staying]


# -- brute force -------------------------------------------------------------------


class BruteForce:
    """The bodies as meshes of another library."""

    def __init__(self, product: Leaning) -> None:
        parts = {part.name: part for part in product.made[1].parts}
        self.count = len(product.bodies)
        self._corners = [[c for n in body for c in _pieces(parts[n])] for body in product.bodies]
        solids = {name: hulls_of(part) for name, part in parts.items()}
        self._solids = [[s for n in body for s in solids[n]] for body in product.bodies]
        self._normals = np.vstack([_normals(part) for part in parts.values()])
        of = {part: n for n, body in enumerate(product.bodies) for part in body}
        joinery = product.made[2]
        fasteners = {f.id: f for f in joinery.fasteners}
        self._pins = []
        for j in joinery.joints:
            if any(joinery.fittings[f].holds == "pinned" for f in j.fittings):
                frame = fasteners[j.fasteners[0]].frame if j.fasteners else j.contact.frame
                self._pins.append((of[j.butting], of[j.receiving], np.array(frame.k)))
        self._dowels = [
            _Dowel(
                parts=(f.receiving, str(f.butting)),
                carrier=of[f.receiving],
                needs=0 if f.fitting == "shop-dowels" else 1 << of[str(f.butting)],
                axis=np.array(f.frame.k),
                corners=_rod(f.frame, *_RODS[f.fitting]),
                others=tuple((of[n], s) for n in solids if n != f.butting for s in solids[n]),
            )
            for f in joinery.fasteners
            if f.fitting in _RODS
        ]

    def pinned(self, moving: int, standing: int, way: Array) -> bool:
        """Tell whether dowels between two bodies let the one go along another way only."""
        for butting, receiving, out in self._pins:
            if (moving, standing) == (butting, receiving) and float(way @ out) < 1 - 1e-9:
                return True
            if (moving, standing) == (receiving, butting) and float(way @ -out) < 1 - 1e-9:
                return True
        return False

    def meets_dowel(self, moving: int, standing: int, among: int, way: Array) -> bool:
        """Tell whether a dowel between bodies that are both there stands in the way."""
        there = [d for d in self._dowels if among >> d.carrier & 1 and not d.needs & ~among]
        for dowel in there:
            if dowel.carrier == moving:
                other, shift = standing, _FAR * way
            elif dowel.carrier == standing:
                other, shift = moving, -_FAR * way
            else:
                continue
            room = manifold3d.Manifold.hull_points(
                np.vstack([dowel.corners, dowel.corners + shift])
            )
            at_rest = manifold3d.Manifold.hull_points(dowel.corners)
            along = abs(float(way @ dowel.axis)) > 1 - 1e-9
            for body, solid in dowel.others:
                if body != other or (room ^ solid).volume() <= _LEAST:
                    continue
                inside = (at_rest ^ solid).volume() > _LEAST
                if not (inside and along):
                    return True
            for more in there:
                if more.carrier != other or {more.parts[0], dowel.parts[0]} & {
                    dowel.parts[1],
                    more.parts[1],
                }:
                    continue
                rod = manifold3d.Manifold.hull_points(more.corners)
                if (room ^ rod).volume() > _LEAST:
                    return True
        return False

    def crossing_dowels(self) -> bool:
        """Tell whether hardware stands in hardware: no product."""
        rods = [manifold3d.Manifold.hull_points(d.corners) for d in self._dowels]
        return any(
            (a ^ b).volume() > _LEAST / 10 for n, a in enumerate(rods) for b in rods[n + 1 :]
        )

    def hits(self, moving: int, standing: int, way: Array, *, grazed: bool = False) -> bool:
        """Tell whether one body moved far away runs through another.

        ``grazed``: also where a mere corner does, which takes up less than the rounding of
        two sides that slide along each other, but is thicker than that.
        """
        for corners in self._corners[moving]:
            swept = manifold3d.Manifold.hull_points(np.vstack([corners, corners + _FAR * way]))
            for solid in self._solids[standing]:
                common = swept ^ solid
                volume = common.volume()
                if volume > _LEAST:
                    return True
                if grazed and volume > 0 and 3 * volume / common.surface_area() > _THICK:
                    return True
        return False

    def ways(self, spread: int) -> Array:
        """Evenly spread directions, all faces' normals and where any two faces cross."""
        n = np.arange(spread) + 0.5
        z, turn = 1.0 - 2.0 * n / spread, math.pi * (1.0 + math.sqrt(5.0)) * n
        r = np.sqrt(1.0 - z * z)
        even = np.column_stack([r * np.cos(turn), r * np.sin(turn), z])
        faces = np.unique(np.round(self._normals, 9), axis=0)
        crossed = np.cross(faces[:, None], faces[None]).reshape(-1, 3)
        length = np.linalg.norm(crossed, axis=1)
        crossed = crossed[length > 1e-6] / length[length > 1e-6, None]
        sharp = np.vstack([faces, crossed, *(out[None] for _, _, out in self._pins)])
        sharp = sharp[np.unique(np.round(sharp, 6), axis=0, return_index=True)[1]]
        return np.vstack([np.vstack([sharp, -sharp]), even])

    def takes_apart(self, spread: int) -> bool:
        """Tell whether all sets come apart along one of many directions."""
        ways = self.ways(spread)
        everything = (1 << self.count) - 1

        @cache
        def held(way: int, moving: int, standing: int) -> bool:
            return self.hits(moving, standing, ways[way], grazed=True)

        def leaves(way: int, some: int, rest: int) -> bool:
            v = ways[way]
            pairs = [(m, s) for m in members(some) for s in members(rest)]
            return not (
                any(self.pinned(m, s, v) for m, s in pairs)
                or any(held(way, m, s) for m, s in pairs)
                or any(self.meets_dowel(m, s, some | rest, v) for m, s in pairs)
            )

        @cache
        def apart(among: int) -> bool:
            if among.bit_count() < 2:
                return True
            for way in range(len(ways)):
                some = (among - 1) & among
                while some:
                    if leaves(way, some, among & ~some):
                        return apart(some) and apart(among & ~some)
                    some = (some - 1) & among
            return False

        return apart(everything)


@dataclass(frozen=True, eq=False)
class _Dowel:
    """A dowel in its carrier's body.

    Args:
        parts: the one that carries it, and the one whose bore takes it.
        needs: the bodies that must be there for it to be.
        others: (body, solid) of all but its mate.
    """

    parts: tuple[str, str]
    carrier: int
    needs: int
    axis: Array
    corners: Array
    others: tuple[tuple[int, manifold3d.Manifold], ...]


_RODS = {"dowels": (4.0, 23.0), "shop-dowels": (4.0, 23.0), "cams": (3.0, 34.0)}
"""Of each fitting of ``tests.boxes`` the radius and length of what stands out of the carrier."""


def _rod(frame: Frame, inner: float, long: float) -> Array:
    """The corners of the octagon round what stands out."""
    radius = inner / math.cos(math.pi / 8)
    turns = [(n + 0.5) * math.pi / 4 for n in range(8)]
    return np.array(
        [
            frame.point_to_outer((radius * math.cos(a), radius * math.sin(a), z))
            for a in turns
            for z in (0.0, long)
        ]
    )


def _pieces(part: Part) -> list[Array]:
    """The corners of a part, or of the prisms over the triangles of one that is not convex."""
    plan = Polygon(part.outline, part.cutouts)
    if plan.convex_hull.area - plan.area < 1e-6:
        return [_over(part, part.outline)]
    found = shapely.constrained_delaunay_triangles(plan)
    return [_over(part, triangle.exterior.coords[:-1]) for triangle in found.geoms]


def _over(part: Part, ring: Sequence[tuple[float, float]]) -> Array:
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    flat = np.array([(x, y, z) for x, y in ring for z in (0.0, -part.thickness)])
    return np.asarray(flat @ axes + np.array(part.frame.origin))


def hulls_of(part: Part) -> list[manifold3d.Manifold]:
    """The convex solids that a part is made of.

    They are not united: united solids that slide along each other may seem to overlap.
    """
    return [manifold3d.Manifold.hull_points(corners) for corners in _pieces(part)]


def overlapping(some: Sequence[manifold3d.Manifold], others: Sequence[manifold3d.Manifold]) -> bool:
    """Whether two parts stand in each other."""
    return any((a ^ b).volume() > 1e-6 for a in some for b in others)


def _normals(part: Part) -> Array:
    """Of face, back, edges and walls, and the directions of the edges."""
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    some = [[[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]]
    for said in (part.outline, *part.cutouts):
        ring = np.array(said)
        along = np.roll(ring, -1, axis=0) - ring
        along /= np.linalg.norm(along, axis=1)[:, None]
        some.append([[y, -x, 0.0] for x, y in along.tolist()])
    return np.asarray(np.vstack(some) @ axes)
