"""The way of a cutter's middle: lines and arcs in the plane, lanes, ramps. Lengths in mm.

Everything is seen from above, x to the right, y up; what runs to the left runs counter-clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kdkit.frames import Vec2

__all__ = [
    "Path",
    "Stretch",
    "closed_path",
    "line_path",
    "part_of_path",
    "path_length",
    "reversed_path",
    "ring_lanes",
    "round_path",
    "runs_left",
    "with_arcs",
]

_NOTHING = 1e-6  # mm; shorter is no move
_TURN = math.radians(50)  # a side of a curve turns less; a sharper corner is one


@dataclass(frozen=True)
class Stretch:
    """A line, or an arc of at most half a turn round ``centre``."""

    start: Vec2
    end: Vec2
    centre: Vec2 | None = None
    left: bool = False

    @property
    def turn(self) -> float:
        """Return by how much an arc turns, radians, above 0; 0 for a line."""
        if self.centre is None:
            return 0.0
        a, b = (math.atan2(p[1] - self.centre[1], p[0] - self.centre[0])
                for p in (self.start, self.end))  # fmt: skip
        return ((b - a) if self.left else (a - b)) % (2 * math.pi)

    @property
    def length(self) -> float:
        """Return how long it is."""
        if self.centre is None:
            return math.dist(self.start, self.end)
        return self.turn * math.dist(self.start, self.centre)

    def at(self, share: float) -> Vec2:
        """Return the point after a share of it."""
        if self.centre is None:
            (ax, ay), (bx, by) = self.start, self.end
            return (ax + (bx - ax) * share, ay + (by - ay) * share)
        angle = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        angle += self.turn * share * (1 if self.left else -1)
        radius = math.dist(self.start, self.centre)
        return (
            self.centre[0] + radius * math.cos(angle),
            self.centre[1] + radius * math.sin(angle),
        )


Path = tuple[Stretch, ...]


def path_length(path: Path) -> float:
    """Return how long a path is."""
    return sum(stretch.length for stretch in path)


def line_path(points: Sequence[Vec2]) -> Path:
    """Return the lines from point to point."""
    return tuple(Stretch(a, b) for a, b in pairwise(points) if math.dist(a, b) > _NOTHING)


def closed_path(points: Sequence[Vec2]) -> Path:
    """Return the lines round a polygon that is not closed by its last point."""
    return line_path((*points, points[0]))


def reversed_path(path: Path) -> Path:
    """Return a path the other way."""
    return tuple(Stretch(s.end, s.start, s.centre, not s.left) for s in reversed(path))


def runs_left(points: Sequence[Vec2]) -> bool:
    """Tell whether a polygon runs counter-clockwise."""
    around = zip(points, (*points[1:], points[0]), strict=True)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in around) > 0


def round_path(centre: Vec2, radius: float, *, left: bool, arcs: bool, chord: float) -> Path:
    """Return a circle as two half turns, or as chords that leave it by ``chord`` at most."""
    x, y = centre
    if arcs:
        a, b = (x + radius, y), (x - radius, y)
        return (Stretch(a, b, centre, left), Stretch(b, a, centre, left))
    count = _sides(radius, 2 * math.pi, chord)
    sign = 1 if left else -1
    points = [
        (x + radius * math.cos(sign * 2 * math.pi * n / count),
         y + radius * math.sin(sign * 2 * math.pi * n / count))
        for n in range(count)
    ]  # fmt: skip
    return closed_path(points)


def _sides(radius: float, turn: float, chord: float) -> int:
    """Return how many equal chords of an arc leave it by ``chord`` at most."""
    half = math.acos(max(0.0, 1 - chord / radius)) if radius > chord else math.pi / 2
    return max(2, math.ceil(turn / (2 * half)))


def ring_lanes(start: Vec2, end: Vec2, room: float, step: float, *, is_round: bool,
               left: bool, arcs: bool, chord: float) -> tuple[Path, ...]:  # fmt: skip
    """Return the lanes that clear what lies within ``room`` of a line, from inside out.

    The first is the line itself, maybe of no length (then no path at all); each of the others
    runs round it, square or with half-round ends, no further from the one before than ``step``.
    """
    line = line_path((start, end))
    lanes = [line or (Stretch(start, end),)]
    if room <= _NOTHING:
        return tuple(lanes)
    count = math.ceil(room / step - 1e-9)
    length = math.dist(start, end)
    ux, uy = (
        ((end[0] - start[0]) / length, (end[1] - start[1]) / length) if length > _NOTHING
        else (1.0, 0.0)
    )  # fmt: skip
    for n in range(1, count + 1):
        d = room * n / count
        ahead = 0.0 if is_round else d
        p, q, r, s = (
            (at[0] + ux * ahead * along - uy * d * side, at[1] + uy * ahead * along + ux * d * side)
            for at, along, side in ((start, -1, -1), (end, 1, -1), (end, 1, 1), (start, -1, 1))
        )
        if not is_round:
            ring = closed_path((p, q, r, s))
        elif arcs:
            ring = tuple(
                x for x in (Stretch(p, q), Stretch(q, r, end, True), Stretch(r, s),
                            Stretch(s, p, start, True)) if x.length > _NOTHING
            )  # fmt: skip
        else:
            ring = tuple(
                x for x in (Stretch(p, q), *_chords(Stretch(q, r, end, True), chord),
                            Stretch(r, s), *_chords(Stretch(s, p, start, True), chord))
                if x.length > _NOTHING
            )  # fmt: skip
        lanes.append(ring if left else reversed_path(ring))
    return tuple(lanes)


def _chords(arc: Stretch, chord: float) -> Path:
    count = _sides(arc.length / arc.turn, arc.turn, chord)
    return line_path([arc.at(n / count) for n in range(count + 1)])


def with_arcs(path: Path, within: float) -> Path:
    """Return a path of lines in which sides of one curve are arcs through their corners.

    Four sides and more that turn one way, each by little and about as much, whose corners lie
    on one circle are a curve if no side leaves that circle by more than ``within``.
    """
    found: list[Stretch] = []
    n = 0
    while n < len(path):
        arc, count = _arc_from(path, n, within)
        found.append(arc if arc is not None else path[n])
        n += count if arc is not None else 1
    return tuple(found)


def _arc_from(path: Path, first: int, within: float) -> tuple[Stretch | None, int]:
    """Return the arc that begins with a side, and how many sides it takes; None for none."""
    best: Stretch | None = None
    taken = 0
    if first + 4 > len(path):
        return None, 0
    a, b, c = path[first].start, path[first].end, path[first + 1].end
    centre = _centre(a, b, c)
    if centre is None:
        return None, 0
    left = runs_left((a, b, c))
    radius = math.dist(centre, a)
    for count in range(1, len(path) - first + 1):
        side = path[first + count - 1]
        arc = Stretch(a, side.end, centre, left)
        half = math.dist(side.start, side.end) / 2
        if side.centre is not None or half >= radius:
            break
        sagitta = radius - math.sqrt(radius * radius - half * half)
        on_it = abs(math.dist(centre, side.end) - radius) <= 1e-3
        onwards = runs_left((centre, side.start, side.end)) == left
        turns = sum(Stretch(s.start, s.end, centre, left).turn for s in path[first : first + count])
        if not on_it or not onwards or sagitta > within or turns > math.pi + 1e-9:
            break
        if 2 * math.asin(half / radius) > _TURN:
            break
        best, taken = arc, count
    return (best, taken) if taken >= 4 else (None, 0)


def _centre(a: Vec2, b: Vec2, c: Vec2) -> Vec2 | None:
    """Return the centre of the circle through three points; None if they lie on a line."""
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    d = 2 * (bx * cy - by * cx)
    if abs(d) < 1e-9 * (math.hypot(bx, by) + math.hypot(cx, cy)):
        return None
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    return (a[0] + (cy * b2 - by * c2) / d, a[1] + (bx * c2 - cx * b2) / d)


def part_of_path(path: Path, start: float, end: float) -> Iterator[tuple[Stretch, float]]:
    """Yield the stretches between two lengths along a path, each with the length at its end."""
    gone = 0.0
    for stretch in path:
        length = stretch.length
        low, high = max(start, gone), min(end, gone + length)
        if high - low > _NOTHING:
            whole = low - gone < _NOTHING and gone + length - high < _NOTHING
            piece = stretch if whole else Stretch(
                stretch.at((low - gone) / length), stretch.at((high - gone) / length),
                stretch.centre, stretch.left,
            )  # fmt: skip
            yield piece, high
        gone += length
