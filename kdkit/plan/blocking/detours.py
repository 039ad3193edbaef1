"""What no straight move takes apart: two moves in a row, and tilting, are tried on it.

Only bodies that are stuck in every straight direction come here. The classes are finite in
their directions and lines, not in lengths:

* **Two straight moves**, along two of the directions that the graphs know. All lengths of
  the first are looked at (``motion.two_moves``).
* **Tilting** about the line of an edge of some part, in steps of a degree up to a right
  angle, and then one straight move, or two, along a direction that the graphs know, as it
  stands or turned with the part. The steps' room is swept (``motion.moves``).

Each is a direction more for the blocking graphs: which part cannot go that way without
which. So the search and its argument that there are no dead ends stay as they are. Where
none is found nothing is proved: other lines and ways between were not looked at.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3, norm
from kdkit.plan.blocking.everywhere import is_joined
from kdkit.plan.blocking.graphs import Blocking, members
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.collisions import Pairs
from kdkit.plan.motion.directions import same_way
from kdkit.plan.motion.moves import (
    Pose,
    lets_pass,
    out_of_all,
    rooms,
)
from kdkit.plan.motion.sweep import Flags, Stock, overlapping
from kdkit.plan.motion.two_moves import Lengths
from kdkit.plan.plan import Moves, Slide, Tilt

__all__ = ["Tried", "find_moves", "tried_words"]

Array = NDArray[np.float64]

_MOST_PAIRS = 60_000  # pairs of convex bodies; beyond them nothing is tried
_MOST_LINES = 240  # edges about which tilting is tried
_MOST_WORK = 2_000_000  # looks at a pair of bodies on some way while tilting
_BESIDES = 200  # what each look at all pairs costs besides, counted in pairs
_EACH_TWO = 40  # looks at a pair that two moves after a tilt take
_MOST_KEPT = 4  # ways equally short that are given
_ANGLES = (2, 5, 10, 15, 20, 25, 30, 45, 60, 90)  # degrees after which a way out is sought
_ONWARD = (10, 20, 30, 45, 60)  # the same, for two moves
_PLAY = 5.0  # mm more than must be, where there is room: common practice, no source
_AXIS = 0.999  # cosine
_LEAST_LINE = 20.0  # mm; nobody tilts a board about a shorter edge


@dataclass(frozen=True)
class Tried:
    """What was looked at in vain.

    Args:
        directions: that two moves were combined of; 0: nothing was tried.
        lines: edges about which tilting was tried; ``left_out``: those beyond the bound.
        cut_off: the work was bounded before all of it was tried.
    """

    directions: int = 0
    lines: int = 0
    left_out: int = 0
    cut_off: bool = False


def tried_words(tried: Tried) -> str:
    """Return what was looked at in vain as a phrase; "" if nothing was."""
    if not tried.directions:
        return ""
    over = f" (the longest; {tried.left_out} more were not tried)" if tried.left_out else ""
    return (
        f"two straight moves in a row along {tried.directions} directions, of any length, and "
        f"tilting about {tried.lines} edges of the parts{over}, up to a right angle, with one or "
        "two straight moves along or turned from these directions after it"
        + (", as far as the work was bounded" if tried.cut_off else "")
    )


class _Stuck:
    """Bodies that are stuck along all straight ways, and what lies between them."""

    def __init__(self, blocking: Blocking, bodies: Sequence[int]) -> None:
        scenery = blocking.scenery
        assert scenery is not None
        self.count = len(bodies)
        of = {part: n for n, group in enumerate(bodies) for part in members(group)}
        self.inside, self.wanted = scenery.between(bodies)
        self.stock = Stock([body.shape for body in self.inside])
        self.group = np.array([of[scenery.number[b.part]] for b in self.inside], dtype=np.intp)
        self.pairs = Pairs(self.inside)
        self.rows, self.columns = np.nonzero(self.wanted)
        self.ways = [v for d, v in enumerate(blocking.directions) if d not in blocking.moves]
        self.work_left = _MOST_WORK
        self.pins: list[tuple[int, int, Vec3 | None]] = []
        for fixed in scenery.fixed(sum(bodies)):
            a, b = of[fixed.part], of[fixed.to]
            if a != b:
                self.pins.append((a, b, fixed.but))
        for first, later, _ in blocking.ordered:
            if first in of and later in of and of[first] != of[later]:
                self.pins.append((of[first], of[later], None))

    def may_look(self, times: int = 1) -> bool:
        """Count looks at all pairs; False once the work is used up."""
        self.work_left -= times * (len(self.rows) + _BESIDES)
        return self.work_left > 0

    def held(self, way: Vec3 | None) -> list[int]:
        """For each body the mask of those it is pinned to, for a first move along a way."""
        masks = [0] * self.count
        for a, b, but in self.pins:
            if but is None or way is None or not same_way(but, way):
                masks[a] |= 1 << b
        return masks

    def joined(self, held: Sequence[int], hits: Flags) -> bool:
        """Tell whether all hold each other, with the pairs of bodies that hit."""
        masks = list(held)
        pairs = np.unique(self.group[self.rows[hits]] * self.count + self.group[self.columns[hits]])
        for pair in pairs:
            one, other = divmod(int(pair), self.count)
            masks[one] |= 1 << other
        return is_joined(tuple(masks))


def find_moves(
    blocking: Blocking, bodies: Sequence[int], held: Sequence[tuple[int, int]] = ()
) -> tuple[tuple[Moves, ...], Tried]:
    """Return ways by which some stuck bodies can leave the others; and what was looked at.

    Args:
        blocking: the graphs of the parts, in none of which any of the bodies can leave.
        bodies: the parts of each, as masks.
        held: (body, by) that count on every way too.
    """
    if blocking.scenery is None or len(bodies) < 2:
        return (), Tried()
    stuck = _Stuck(blocking, bodies)
    stuck.pins += [(a, b, None) for a, b in held]
    if len(stuck.rows) > _MOST_PAIRS:
        return (), Tried()
    found = _in_two_moves(stuck)
    if found:
        return found, Tried()
    lines, left_out = _lines(stuck)
    found = _tilted(stuck, lines)
    return found, Tried(len(stuck.ways), len(lines), left_out, stuck.work_left <= 0)


# -- two straight moves --------------------------------------------------------------


def _in_two_moves(stuck: _Stuck) -> tuple[Moves, ...]:
    lengths = Lengths(stuck.stock, stuck.rows, stuck.stock, stuck.columns)
    found: list[tuple[float, int, Moves]] = []
    for number, way in enumerate(stuck.ways):
        if number % 2:
            continue  # the same seen from the rest
        passes = lets_pass(stuck.inside, stuck.pairs, Slide(way))[stuck.rows, stuck.columns]
        until = lengths.until(way, passes)
        held = stuck.held(way)
        for length, top, onward in _free_lengths(stuck, lengths, until, way, held):
            found.append((length, len(found), _two(way, length, top, onward)))
    return _shortest(found)


def _shortest(found: Sequence[tuple[float, int, Moves]]) -> tuple[Moves, ...]:
    ranked = sorted(found, key=lambda one: (round(one[0], 3), one[1]))
    return tuple(m for length, _, m in ranked if length <= ranked[0][0] + 1.0)[:_MOST_KEPT]


def _two(way: Vec3, length: float, top: float, onward: Vec3) -> Moves:
    """The two moves, with some play where the next hindrance leaves it."""
    best = length + min(_PLAY, (top - length) / 2)
    best = math.floor(best) if math.floor(best) >= length else best
    return (Slide(way, round(best, 6)), Slide(onward))


def _free_lengths(
    stuck: _Stuck, lengths: Lengths, until: Array, way: Vec3, held: Sequence[int]
) -> Iterator[tuple[float, float, Vec3]]:
    """Yield (length, the next hindrance, second way) where something comes free.

    The shortest of each second way.
    """
    if stuck.joined(held, until <= 1e-6):
        return
    for onward in stuck.ways:
        if same_way(onward, way) or norm(_sum(onward, way)) < 1e-5:
            continue
        low, high = lengths.barred(way, onward)
        ends = high[(high > 1e-6) & np.isfinite(high) & (high > low)]
        for length in np.unique(np.round(ends, 6)):
            if stuck.joined(held, until <= length - 1e-6):
                break
            if not stuck.joined(held, _hits_after(length, until, low, high)):
                top = _next_hindrance(stuck, float(length), until, low, high, held)
                yield float(length), top, onward
                break


def _hits_after(length: float, until: Array, low: Array, high: Array) -> Flags:
    """Which pairs hit when the first move has a length."""
    return (until < length - 1e-6) | ((low < length - 1e-6) & (high > length + 1e-6))


def _next_hindrance(
    stuck: _Stuck, length: float, until: Array, low: Array, high: Array, held: Sequence[int]
) -> float:
    """The length up to which the way stays free, as far as it matters for the play."""
    ends = np.concatenate([until, low[low < high]])
    for end in np.unique(ends[(ends > length + 1e-6) & (ends < length + 2 * _PLAY)]):
        if stuck.joined(held, _hits_after(float(end) + 1e-3, until, low, high)):
            return float(end)
    return length + 2 * _PLAY


def _sum(a: Vec3, b: Vec3) -> Vec3:
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


# -- tilting -------------------------------------------------------------------------


def _lines(stuck: _Stuck) -> tuple[list[tuple[Vec3, Vec3]], int]:
    """The lines of the parts' edges, each once, as point and direction; how many are left out.

    The longest come first.
    """
    found: dict[tuple[float, ...], tuple[float, Vec3, Vec3]] = {}
    for body in stuck.inside:
        if body.fastener is None:
            for length, point, axis in _edges(body):
                foot = point - (point @ axis) * axis
                key = tuple(round(float(c), 2) + 0.0 for c in (*foot, *axis))
                x, y, z = (float(c) for c in point)
                line = (length, (x, y, z), (float(axis[0]), float(axis[1]), float(axis[2])))
                if key not in found or found[key][0] < length:
                    found[key] = line
    ranked = sorted(found.values(), key=lambda line: (-round(line[0], 3), line[1:]))
    kept = [(point, axis) for _, point, axis in ranked[:_MOST_LINES]]
    return kept, len(ranked) - len(kept)


def _edges(body: Body) -> Iterator[tuple[float, Array, Array]]:
    """Length, a point and the direction of every longer edge of a convex body."""
    corners, normals = body.shape.vertices, body.shape.normals
    on = corners @ normals.T >= (corners @ normals.T).max(axis=0) - 1e-6
    for a, b in itertools.combinations(range(len(normals)), 2):
        ends = np.nonzero(on[:, a] & on[:, b])[0]
        if len(ends) != 2:
            continue
        between = corners[ends[1]] - corners[ends[0]]
        length = float(np.linalg.norm(between))
        if length < _LEAST_LINE:
            continue
        axis = between / length
        first = next(c for c in axis if abs(c) > 1e-9)
        axis = np.round(axis if first > 0 else -axis, 12) + 0.0
        yield length, corners[ends[0]], axis


def _tilted(stuck: _Stuck, lines: Sequence[tuple[Vec3, Vec3]]) -> tuple[Moves, ...]:
    held = stuck.held(None)
    nothing = np.zeros(len(stuck.rows), dtype=np.bool_)
    if stuck.joined(held, nothing):
        return ()
    far = out_of_all(stuck.stock)
    free: list[tuple[Vec3, Vec3, dict[int, Flags]]] = []
    for point, axis in lines:
        turned = _turn_on(stuck, point, axis, held)
        if turned:
            free.append((point, axis, turned))
    found: list[tuple[float, int, Moves]] = []
    for point, axis, turned in free:
        for angle, hits in turned.items():
            tilt = Tilt(point, axis, float(angle))
            moved = Pose.at_rest().after(tilt).of(stuck.stock)
            for way in _ways_after(stuck, tilt):
                if not stuck.may_look():
                    return _shortest(found)
                if not stuck.joined(held, hits | _hits_out(stuck, moved, way, far)):
                    found.append((float(angle), len(found), (tilt, Slide(way))))
            if found and found[-1][2][0] == tilt:
                break
    if found:
        return _shortest(found)
    for point, axis, turned in free:
        for angle, hits in turned.items():
            if angle in _ONWARD and stuck.may_look(_EACH_TWO):
                tilt = Tilt(point, axis, float(angle))
                found += _tilted_and_two(stuck, tilt, hits, held)
    return _shortest(found)


def _turn_on(stuck: _Stuck, point: Vec3, axis: Vec3, held: Sequence[int]) -> dict[int, Flags]:
    """For angles up to where all hold each other, which pairs hit on the way there.

    The last angle before that is among them.
    """
    found: dict[int, Flags] = {}
    hits = np.zeros(len(stuck.rows), dtype=np.bool_)
    matrix = np.zeros_like(stuck.wanted)
    pose = Pose.at_rest()
    bit = Tilt(point, axis, 1.0)
    for angle in range(1, max(_ANGLES) + 1):
        if not stuck.may_look():
            return found
        (taken,) = rooms(stuck.stock, pose, bit, 0.0)
        rows, columns = overlapping(taken, stuck.stock, stuck.wanted & ~matrix)
        matrix[rows, columns] = True
        before, hits = hits, matrix[stuck.rows, stuck.columns]
        if stuck.joined(held, hits):
            if angle > 1:
                found[angle - 1] = before
            return found
        pose = pose.after(bit)
        if angle in _ANGLES:
            found[angle] = hits
    return found


def _ways_after(stuck: _Stuck, tilt: Tilt) -> list[Vec3]:
    """The straight ways as they stand, and turned with what tilts."""
    turn = Pose.at_rest().after(tilt).turn
    found = list(stuck.ways)
    for way in stuck.ways:
        x, y, z = (round(float(c), 12) + 0.0 for c in turn @ np.asarray(way))
        if not any(same_way((x, y, z), other) for other in found):
            found.append((x, y, z))
    return found


def _hits_out(stuck: _Stuck, moved: Stock, way: Vec3, far: float) -> Flags:
    (taken,) = rooms(moved, Pose.at_rest(), Slide(way), far)
    rows, columns = overlapping(taken, stuck.stock, stuck.wanted)
    matrix = np.zeros_like(stuck.wanted)
    matrix[rows, columns] = True
    return matrix[stuck.rows, stuck.columns]


def _tilted_and_two(
    stuck: _Stuck, tilt: Tilt, hits: Flags, held: Sequence[int]
) -> Iterator[tuple[float, int, Moves]]:
    moved = Pose.at_rest().after(tilt).of(stuck.stock)
    lengths = Lengths(moved, stuck.rows, stuck.stock, stuck.columns)
    none = np.zeros(len(stuck.rows), dtype=np.bool_)
    for number, way in enumerate(stuck.ways):
        until = np.where(hits, 0.0, lengths.until(way, none))
        for length, top, onward in _free_lengths(stuck, lengths, until, way, held):
            yield tilt.angle_deg + length, number, (tilt, *_two(way, length, top, onward))
