"""More random products: openings and notches round posts, and fasteners of all kinds.

As those of ``tests.off_axis``, and judged by its brute force.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import manifold3d
import numpy as np
from shapely.geometry import MultiPoint, Polygon

from kdkit.frames import Frame, Vec2
from kdkit.joinery.placed import Fastener, Joinery, PlacedJoint
from kdkit.model.resolved import Part
from tests.boxes import board, make, placed_items
from tests.off_axis import (
    BruteForce,
    Leaning,
    hulls_of,
    leaning_product,
    overlapping,
    slotted_product,
    tilt_of,
)

FITTINGS = ("dowels", "shop-dowels", "cams", "pin", "bare", "glue", "nails", "capped-screws")


def opened_product(seed: int) -> Leaning:
    """A plate with an opening or a notch round a post, perhaps with a foot, a head and stops.

    The post is square or has many sides, stands straight or leans, and fits or has play.
    """
    rng = np.random.default_rng(seed)
    frame = tilt_of(rng)
    section = _section(rng)
    lean = math.tan(math.radians(float(rng.choice([0.0, 0.0, 10.0, 25.0]))))
    t, low, high = 18.0, -50.0, float(rng.choice([60.0, 100.0]))
    post = _leaning_post(frame, section, lean, low, high)
    opening = _opening(rng, section, lean * t)
    plates = [_plate("plate", frame, opening, rng, 0.0, t)]
    if rng.random() < 0.3:
        more = _opening(rng, [(x + lean * 30.0, y) for x, y in section], lean * t)
        plates.append(_plate("second", frame, more, rng, 30.0, 30.0 + t))
    ends = [
        _upright(name, frame, _square(float(rng.choice([30.0, 60.0, 120.0]))), z0, z0 + 12.0)
        for name, z0 in (("foot", low - 12.0), ("head", high))
        if rng.random() < 0.75
    ]
    stops = list(_stops(rng, frame, t))
    kept: list[Part] = []
    solids: list[list[manifold3d.Manifold]] = []
    for part in (post, *plates, *ends, *stops):
        solid = hulls_of(part)
        if not any(overlapping(solid, other) for other in solids):
            kept.append(part)
            solids.append(solid)
    names = [part.name for part in kept]
    first = ["post", *(n for n in names if n in ("foot", "head"))]
    rest = [n for n in names if n.startswith("stop")]
    if rng.random() < 0.5:
        first, rest = [*first, *rest], []
    bodies = [first, rest, *([n] for n in names if n in ("plate", "second"))]
    return Leaning(make(kept, {}), tuple(tuple(b) for b in bodies if b), f"opening {seed}")


def fastened_product(seed: int) -> Leaning | None:
    """A product of another kind, with up to three joints of any kind between its bodies."""
    rng = np.random.default_rng(seed)
    kind = (leaning_product, slotted_product, opened_product)[int(rng.integers(3))]
    plain = kind(seed)
    _, assembly, _, _ = plain.made
    of = {part: n for n, body in enumerate(plain.bodies) for part in body}
    pairs = sorted(
        {
            (c.butting, c.receiving)
            for c in assembly.contacts
            if of[c.butting] != of[c.receiving] and c.run > 40.0 and c.width > 8.0
        }
    )
    if not pairs:
        return None
    count = min(len(pairs), int(rng.integers(1, 4)))
    chosen = [pairs[int(n)] for n in rng.choice(len(pairs), size=count, replace=False)]
    hows = {pair: str(rng.choice(FITTINGS)) for pair in chosen}
    made = make(assembly.parts, dict(hows))  # type: ignore[arg-type]
    if rng.random() < 0.4:
        made = (*made[:2], _slanted(made[2], float(rng.choice([15.0, -15.0, 30.0]))), made[3])
    product = Leaning(made, plain.bodies, f"joints {seed} ({', '.join(hows.values())})")
    return None if BruteForce(product).crossing_dowels() else product


def _slanted(joinery: Joinery, angle: float) -> Joinery:
    """The same with the first joint's dowels at a slant to the surface."""
    joint = next((j for j in joinery.joints if j.fasteners and j.fittings[0] == "dowels"), None)
    if joint is None:
        return joinery
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turned: list[Fastener] = []
    for fastener in joinery.fasteners:
        if fastener.id not in joint.fasteners:
            turned.append(fastener)
            continue
        frame = fastener.frame
        out = frame.vector_to_outer((s, 0.0, c))
        along = frame.vector_to_outer((c, 0.0, -s))
        frame = Frame(frame.origin, along, frame.j, out)
        items = placed_items(
            joinery.fittings["dowels"], frame, fastener.butting, fastener.receiving
        )
        turned.append(replace(fastener, frame=frame, items=items))
    way = next(f.frame.k for f in turned if f.id in joint.fasteners)
    joints: list[PlacedJoint] = [
        replace(j, leaves=way) if j.name == joint.name else j for j in joinery.joints
    ]
    return replace(joinery, joints=tuple(joints), fasteners=tuple(turned))


# -- shapes ------------------------------------------------------------------------


def _section(rng: np.random.Generator) -> list[Vec2]:
    """A square, an oblong, or what stands for a curve."""
    kind = rng.random()
    if kind < 0.35:
        return _square(20.0)
    if kind < 0.6:
        return [(-12.0, -30.0), (12.0, -30.0), (12.0, 30.0), (-12.0, 30.0)]
    sides = int(rng.choice([6, 8, 12]))
    turns = [2 * math.pi * (n + 0.5) / sides for n in range(sides)]
    return [(22.0 * math.cos(a), 22.0 * math.sin(a)) for a in turns]


def _square(half: float) -> list[Vec2]:
    return [(-half, -half), (half, -half), (half, half), (-half, half)]


def _leaning_post(
    frame: Frame, section: Sequence[Vec2], lean: float, low: float, high: float
) -> Part:
    """A post over a section in the plane z = 0, whose axis goes ``lean`` sideways a mm up.

    Its ends are square to its axis.
    """
    size = math.hypot(1.0, lean)
    axis, across = (lean / size, 0.0, 1.0 / size), (1.0 / size, 0.0, -lean / size)
    turned = Frame(
        frame.origin,
        frame.vector_to_outer(across),
        frame.j,
        frame.vector_to_outer(axis),
    )
    ring = [(x / size, y) for x, y in section]
    margin = 40.0 * lean
    return _upright("post", turned, ring, (low + margin) * size, (high - margin) * size)


def _opening(rng: np.random.Generator, section: Sequence[Vec2], shift: float) -> Polygon:
    """What a plate lacks: the section over the plate's thickness, with play or with a mouth."""
    points = [*section, *((x + shift, y) for x, y in section)]
    hull = MultiPoint(points).convex_hull
    assert isinstance(hull, Polygon)
    x0, y0, x1, y1 = hull.bounds
    kind = rng.random()
    if kind < 0.4:
        return hull
    if kind < 0.55:  # a slot
        far = [(x + 30.0, y) for x, y in points]
        longer = MultiPoint([*points, *far]).convex_hull
        assert isinstance(longer, Polygon)
        return longer
    beyond = 300.0
    if kind < 0.75:  # a notch
        return Polygon([(x0, y0), (beyond, y0), (beyond, y1), (x0, y1)])
    if kind < 0.9:  # round a corner
        leg = 15.0
        return Polygon(
            [
                (x0, y0),
                (x1 + leg, y0),
                (x1 + leg, -beyond),
                (x1 + leg + (x1 - x0), -beyond),
                (x1 + leg + (x1 - x0), y1),
                (x0, y1),
            ]
        )
    return Polygon([(x0, y0), (beyond, y0 - 40.0), (beyond, y1 + 40.0), (x0, y1)])


def _plate(
    name: str, frame: Frame, opening: Polygon, rng: np.random.Generator, z0: float, z1: float
) -> Part:
    half = float(rng.choice([75.0, 90.0]))
    whole = Polygon(_square(half))
    left = whole.difference(opening)
    if left.geom_type != "Polygon":
        left = max(left.geoms, key=lambda g: g.area)
    ring = [(float(x), float(y)) for x, y in left.exterior.coords[:-1]]
    holes = tuple(
        tuple((float(x), float(y)) for x, y in hole.coords[:-1]) for hole in left.interiors
    )
    return replace(_upright(name, frame, ring, z0, z1), cutouts=holes)


def _stops(rng: np.random.Generator, frame: Frame, t: float) -> Iterator[Part]:
    """Boards beside the plate, or right over or under it."""
    for n, (x, y) in enumerate(((1, 0), (-1, 0), (0, 1), (0, -1))):
        if rng.random() < 0.5:
            at = float(rng.choice([75.0, 90.0, 100.0])) + 6.0
            u, v = (6.0, 30.0) if x else (30.0, 6.0)
            box = [(at * x + a * u, at * y + b * v) for a, b in _square(1.0)]
            yield _upright(f"stop_{n}", frame, box, -10.0, t + 10.0)
    for n, z0 in enumerate((-12.0, t)):
        if rng.random() < 0.35:
            box = [(50.0, -60.0), (70.0, -60.0), (70.0, 60.0), (50.0, 60.0)]
            yield _upright(f"stop_z{n}", frame, box, z0, z0 + 12.0)


def _upright(name: str, frame: Frame, ring: Sequence[Vec2], z0: float, z1: float) -> Part:
    """A board over a ring in (i, j) of a frame, from z0 to z1 along k."""
    origin = frame.point_to_outer((0.0, 0.0, z1))
    plain = board(name, (0.0, 0.0, 0.0), (10.0, 10.0, 5.0))
    turned = tuple(ring) if Polygon(ring).exterior.is_ccw else tuple(reversed(ring))
    return replace(
        plain,
        frame=Frame(origin, frame.i, frame.j, frame.k),
        outline=turned,
        edge_sides=("",) * len(turned),
        bands=(0.0,) * len(turned),
        thickness=z1 - z0,
    )
