"""Curves of a drawing joined end to end; which of the closed ones holds the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from kdkit.frames import Vec2
from kdkit.model.limits import LONGEST_SIDE, SMALLEST_SIDE

__all__ = ["MAX_CORNERS", "Curve", "Shape", "ShapeFault", "find_shape"]

MEETING = 0.05
"""mm; ends that are closer are one point."""
_NEAR = 2.0
"""mm; so far apart, two ends were surely meant to meet."""
MAX_CORNERS = 500
MAX_OPENINGS = 100
_MOST_FAULTS = 20


@dataclass(frozen=True)
class Curve:
    """A stretch of a drawing as points in mm; ``round`` is a circle's centre and diameter."""

    points: tuple[Vec2, ...]
    closed: bool
    where: str
    round: tuple[Vec2, float] | None = None


@dataclass(frozen=True)
class Shape:
    """An outline, counter-clockwise, and the openings in it; mm."""

    outline: tuple[Vec2, ...]
    cutouts: tuple[tuple[Vec2, ...], ...] = ()
    rounds: tuple[tuple[Vec2, float], ...] = ()

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least x and y, greatest x and y."""
        xs, ys = [p[0] for p in self.outline], [p[1] for p in self.outline]
        return min(xs), min(ys), max(xs), max(ys)

    def area(self) -> float:
        """Return the area in mm², openings taken off."""
        openings = sum(abs(_area(ring)) for ring in self.cutouts)
        openings += sum(math.pi / 4 * diameter**2 for _, diameter in self.rounds)
        return abs(_area(self.outline)) - openings


@dataclass(frozen=True)
class ShapeFault:
    """Why curves give no shape; ``where`` is in the drawing's own words."""

    message: str
    where: str
    help: str


def find_shape(curves: Sequence[Curve]) -> tuple[Shape | None, tuple[ShapeFault, ...]]:
    """Return the shape that curves enclose, or everything that is wrong with them."""
    rings = [curve for curve in curves if curve.closed]
    joined, faults = _join([curve for curve in curves if not curve.closed])
    rings += joined
    sound: list[tuple[Polygon, Curve]] = []
    for ring in rings:
        points = _without_doubles(ring.points)
        polygon = Polygon(points) if len(points) >= 3 else None
        if polygon is None or polygon.convex_hull.area < 1.0:
            faults.append(ShapeFault("a closed line encloses nothing", ring.where, "delete it"))
        elif not polygon.is_valid or polygon.area < 1.0:
            help = "draw it again without the crossing"
            faults.append(ShapeFault("the line crosses or touches itself", ring.where, help))
        else:
            sound.append((polygon, Curve(points, True, ring.where, ring.round)))
    if not sound and not faults:
        help = "draw the outline as a closed polyline, or as lines and arcs end to end"
        faults.append(ShapeFault("there is no outline in what was read", "", help))
    if faults:
        return None, tuple(faults[:_MOST_FAULTS])
    return _nest(sound)


def _nest(
    rings: list[tuple[Polygon, Curve]],
) -> tuple[Shape | None, tuple[ShapeFault, ...]]:
    rings = sorted(rings, key=lambda ring: -ring[0].area)
    board, outer = rings[0]
    x0, y0, x1, y1 = board.bounds
    for side in (x1 - x0, y1 - y0):
        if not SMALLEST_SIDE <= side <= LONGEST_SIDE:
            message = f"the outline is {side:.6g} mm long in one direction"
            help = f"a part's sides are {SMALLEST_SIDE:g} to {LONGEST_SIDE:g} mm: see the unit"
            return None, (ShapeFault(message, outer.where, help),)
    faults: list[ShapeFault] = []
    inside: list[tuple[Polygon, Curve]] = []
    for polygon, ring in rings[1:]:
        if polygon.equals(board):
            help = "delete one of them"
            message = f"it lies on the outline a second time ({outer.where})"
            faults.append(ShapeFault(message, ring.where, help))
        elif not board.contains(polygon):
            apart = board.disjoint(polygon)
            message = "it lies beside the outline" if apart else "it crosses the outline"
            message += f", the largest closed line ({outer.where})"
            help = "keep one panel in a file, or name its layers with --layer"
            faults.append(ShapeFault(message, ring.where, help))
        else:
            inside.append((polygon, ring))
    if len(inside) > MAX_OPENINGS:
        message = f"the outline holds {len(inside)} openings, at most {MAX_OPENINGS} are taken"
        help = "bores are no openings: leave their layers out with --layer"
        return None, (*faults, ShapeFault(message, outer.where, help))
    for n, (polygon, ring) in enumerate(inside):
        for other, first in inside[:n]:
            if polygon.intersects(other):
                message = f"it lies in another opening or meets it ({first.where})"
                faults.append(ShapeFault(message, ring.where, "delete one of them"))
                break
    for _, ring in (rings[0], *inside):
        if len(ring.points) > MAX_CORNERS and (ring.round is None or ring is outer):
            message = f"it comes to {len(ring.points)} corners, at most {MAX_CORNERS} are taken"
            faults.append(ShapeFault(message, ring.where, "allow more with --tolerance"))
    if faults:
        return None, tuple(faults[:_MOST_FAULTS])
    return (
        Shape(
            outline=_counter_clockwise(outer.points),
            cutouts=tuple(_counter_clockwise(r.points) for _, r in inside if r.round is None),
            rounds=tuple(r.round for _, r in inside if r.round is not None),
        ),
        (),
    )


class _Ends:
    """Points that count as one where they are close; a grid finds them."""

    def __init__(self) -> None:
        self.points: list[Vec2] = []
        self._cells: dict[tuple[int, int], list[int]] = {}

    def index(self, p: Vec2) -> int:
        """Return the number of the point, a new one if none is near."""
        found = self.near(p, MEETING)
        if found is not None:
            return found
        self.points.append(p)
        self._cells.setdefault(self._cell(p), []).append(len(self.points) - 1)
        return len(self.points) - 1

    def near(self, p: Vec2, reach: float) -> int | None:
        i, j = self._cell(p)
        around = [(i + a, j + b) for a in (-1, 0, 1) for b in (-1, 0, 1)]
        for cell in around:
            for n in self._cells.get(cell, ()):
                if math.dist(self.points[n], p) <= reach:
                    return n
        return None

    @staticmethod
    def _cell(p: Vec2) -> tuple[int, int]:
        return math.floor(p[0] / MEETING), math.floor(p[1] / MEETING)


def _join(curves: Sequence[Curve]) -> tuple[list[Curve], list[ShapeFault]]:
    """Return closed rings of open curves, and what stays open or branches."""
    ends = _Ends()
    at: dict[int, list[int]] = {}
    pairs: list[tuple[int, int]] = []
    faults: list[ShapeFault] = []
    for n, curve in enumerate(curves):
        a, b = ends.index(curve.points[0]), ends.index(curve.points[-1])
        pairs.append((a, b))
        if a == b and len(curve.points) < 4:
            faults.append(ShapeFault("a line without length", curve.where, "delete it"))
            continue
        for end in {a, b}:
            at.setdefault(end, []).append(n)
    loose = [end for end, here in at.items() if len(here) == 1 and len(set(pairs[here[0]])) == 2]
    # Each looks at all others for the nearest, so only as many as are told.
    for end in loose[:_MOST_FAULTS]:
        faults.append(_open_end(end, loose, ends, curves[at[end][0]]))
    for end, here in at.items():
        if len(here) > 2:
            x, y = ends.points[end]
            message = f"{len(here)} lines meet at ({x:.2f}, {y:.2f}), an outline has two there"
            where = "; ".join(curves[n].where for n in here[:4])
            help = "delete what is drawn twice, or what does not belong to the outline"
            faults.append(ShapeFault(message, where, help))
    if faults:
        return [], faults
    return _walk(curves, pairs, at), []


def _open_end(end: int, loose: list[int], ends: _Ends, curve: Curve) -> ShapeFault:
    x, y = ends.points[end]
    message = f"the outline is open at ({x:.2f}, {y:.2f})"
    others = [n for n in loose if n != end]
    help = "close it: draw on to where it begins"
    if others:
        nearest = min(others, key=lambda n: math.dist(ends.points[n], (x, y)))
        gap = math.dist(ends.points[nearest], (x, y))
        u, v = ends.points[nearest]
        message += f"; the nearest other end is {gap:.2f} mm away, at ({u:.2f}, {v:.2f})"
        if gap < _NEAR:
            help = f"move the two ends together: more than {MEETING:g} mm apart they do not meet"
    return ShapeFault(message, curve.where, help)


def _walk(
    curves: Sequence[Curve], pairs: Sequence[tuple[int, int]], at: dict[int, list[int]]
) -> list[Curve]:
    """Follow the curves round; every end has two of them."""
    rings: list[Curve] = []
    used: set[int] = set()
    for start in range(len(curves)):
        if start in used:
            continue
        used.add(start)
        points = list(curves[start].points)
        first, here = pairs[start]
        while here != first:
            following = next(n for n in at[here] if n not in used)
            used.add(following)
            a, b = pairs[following]
            steps = curves[following].points
            if a != here:
                steps, b = steps[::-1], a
            points += steps[1:]
            here = b
        rings.append(Curve(tuple(points), True, curves[start].where))
    return rings


def _without_doubles(points: Sequence[Vec2]) -> tuple[Vec2, ...]:
    """Return a ring without corners that lie on the one before, the last on the first."""
    kept: list[Vec2] = []
    for p in points:
        if not kept or math.dist(kept[-1], p) > MEETING:
            kept.append(p)
    while len(kept) > 1 and math.dist(kept[0], kept[-1]) <= MEETING:
        kept.pop()
    return tuple(kept)


def _area(points: Sequence[Vec2]) -> float:
    total = 0.0
    for n, (x, y) in enumerate(points):
        u, v = points[(n + 1) % len(points)]
        total += x * v - u * y
    return total / 2


def _counter_clockwise(points: tuple[Vec2, ...]) -> tuple[Vec2, ...]:
    return points if _area(points) > 0 else points[::-1]
