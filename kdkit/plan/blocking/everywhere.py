"""Does a stuck set stay stuck in every direction? The sphere of directions is gone over.

What blocks one body by another is an open cone of directions (``motion.cones``), and what
pins them blocks every direction but one. So a loop of blocks that passes through all
bodies of a set, found for one direction, holds the set for all directions round it; and
where a few such loops hold the set all over the sphere, no single straight move takes it
apart. That is a theorem, and this module looks for the loops:

1. The sphere is cut into spherical triangles. A loop whose every block has all three
   corners in one cone holds the set throughout the triangle, because cones are convex.
2. Where no loop is known to, single directions are tried in the triangle: where the
   planes of cones cross, since an open cone loses its rim: each direction is blocked by
   whatever blocks the corners of the cell of the arrangement that it lies in, so if any
   direction of a cell is free, a corner of it is (or any point of a rim without corners).
   A trial is the planner's own sweep: either the set can be left that way, or the sweep
   has shown cones that were not known yet.
3. What is still open is cut into four.

So the work is with what holds the set, not with all pairs of planes: nothing is spent on
cones that no loop needs. Of boxes along the axes nothing but the axes is ever tried: the
loops found there hold the set up to the next planes, which only contacts' sides are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3, unit
from kdkit.plan.motion.cones import INSIDE, Cone

__all__ = ["Everywhere", "Knowledge", "Loop", "closed_walk", "is_joined", "look_everywhere"]

Array = NDArray[np.float64]

_MOST_TRIANGLES = 12_000
_MOST_TRIALS = 1_500
"""Bounds on the work, counted: beyond them nothing is claimed of every direction."""

_FEW = 8  # planes that are crossed with each other in one triangle
_MANY = 40  # the same in a triangle too small to be cut further with a gain
_SMALL = 10  # cuts after which a triangle counts as such
_FINEST = 22  # cuts; below a hundredth of a millimetre on anything that people carry
_IN = -1e-9  # share of a corner; on the rim of a triangle counts as in it

Edges = tuple[int, ...]
"""For each body the mask of the bodies that it cannot move without."""


@dataclass(frozen=True)
class Loop:
    """A closed walk over all bodies of a set: each is held by the next one.

    Args:
        direction: one for which it holds.
        bodies: in order, the first not repeated at the end.
    """

    direction: Vec3
    bodies: tuple[int, ...]

    @property
    def edges(self) -> frozenset[tuple[int, int]]:
        """Each (held, by)."""
        return frozenset(zip(self.bodies, (*self.bodies[1:], *self.bodies[:1]), strict=True))


@dataclass(frozen=True)
class Everywhere:
    """What came of it.

    Args:
        way: a direction in which some of the set can leave the rest; None if none is.
        loops: that hold the set in all directions; () if the work was given up.
    """

    way: Vec3 | None
    loops: tuple[Loop, ...]


class Knowledge:
    """The cones known of a set of bodies, for questions about points and triangles."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._pairs: list[tuple[int, int]] = []
        self._but: list[tuple[Vec3, ...]] = []
        self._sides: list[Array] = []
        self._planes: list[Array] = []
        self._stacked: tuple[Array, NDArray[np.intp]] | None = None

    def add(self, held: int, by: int, cone: Cone, but: tuple[Vec3, ...] = ()) -> None:
        """Note that one body is held by another in a cone, but for some directions."""
        self._pairs.append((held, by))
        self._but.append(but)
        self._sides.append(cone.sides)
        self._planes.append(cone.planes)
        self._stacked = None

    def at(self, way: Vec3) -> Edges:
        """Return the blocks known for one direction."""
        inside = self._inside(np.array([way]))[:, 0]
        return self._masks(
            int(n) for n in np.nonzero(inside)[0] if not any(_same(way, b) for b in self._but[n])
        )

    def throughout(self, corners: Array) -> Edges:
        """Return the blocks known to hold in all of a spherical triangle."""
        return self._masks(self._throughout(corners))

    def open_planes(self, corners: Array, sure: Edges) -> Array:
        """Return the planes through a triangle of cones whose blocks are not sure there."""
        found: list[Array] = []
        for n, (held, by) in enumerate(self._pairs):
            if sure[held] >> by & 1:
                continue
            sides = self._sides[n]
            if len(sides) and bool(((sides @ corners.T).max(axis=1) <= 0).any()):
                continue  # the cone lies beside the triangle
            planes = self._planes[n]
            heights = planes @ corners.T
            found.append(planes[(heights.min(axis=1) <= 1e-7) & (heights.max(axis=1) >= -1e-7)])
        return _unlike(np.vstack(found)) if found else np.zeros((0, 3))

    def single_ways(self, corners: Array) -> Iterator[Vec3]:
        """Yield the directions in a triangle that some pin or bore leaves open."""
        for way in dict.fromkeys(b for but in self._but for b in but):
            if _is_in(np.array(way), corners):
                yield way

    def _inside(self, ways: Array) -> NDArray[np.bool_]:
        if self._stacked is None:
            filler = np.array([[0.0, 0.0, 0.0]])
            some = [sides if len(sides) else filler for sides in self._sides]
            starts = np.cumsum([0, *(len(s) for s in some[:-1])])
            self._stacked = np.vstack(some), np.asarray(starts, dtype=np.intp)
        rows, starts = self._stacked
        good = (rows @ ways.T > INSIDE) | (np.abs(rows).sum(axis=1) == 0.0)[:, None]
        inside: NDArray[np.bool_] = np.logical_and.reduceat(good, starts, axis=0)
        return inside

    def _throughout(self, corners: Array) -> Iterator[int]:
        middle = _middle(corners)
        for n in np.nonzero(self._inside(corners).all(axis=1))[0]:
            if not any(_is_in(np.array(b), corners) or _same(b, middle) for b in self._but[n]):
                yield int(n)

    def _masks(self, cones: Iterator[int]) -> Edges:
        masks = [0] * self.count
        for n in cones:
            held, by = self._pairs[n]
            masks[held] |= 1 << by
        return tuple(masks)


def look_everywhere(
    known: Knowledge,
    loops: Sequence[Loop],
    learn: Callable[[Vec3], None],
) -> Everywhere:
    """Return a direction in which a set comes apart, or the loops that hold it in all.

    Args:
        known: the blocks that are known already; it grows.
        loops: found already; they come first.
        learn: sweeps the set along a direction and its opposite and adds to ``known`` what
            it meets.
    """
    found = list(loops)
    leaves: list[Array] = []
    tried: set[Vec3] = set()
    waiting = [(corners, 0) for corners in _octants()]
    work = 0
    while waiting:
        corners, cuts = waiting.pop(0)
        work += 1
        if work > _MOST_TRIANGLES or len(tried) > _MOST_TRIALS or cuts > _FINEST:
            return Everywhere(None, ())
        while True:
            sure = known.throughout(corners)
            if any(_holds(loop, sure) for loop in found):
                break
            middle = _middle(corners)
            if is_joined(sure):
                found.append(Loop(middle, closed_walk(sure)))
                break
            trials = [
                way
                for way in (*_ways_to_try(known, corners, sure, cuts), middle)
                if way not in tried and not is_joined(known.at(way))
            ]
            if not trials:
                waiting += [(quarter, cuts + 1) for quarter in _quarters(corners)]
                break
            for way in trials:
                tried.add(way)
                learn(way)
                if not is_joined(known.at(way)):
                    return Everywhere(way, ())
            continue
        else:
            continue
        leaves.append(corners)
    return Everywhere(None, _needed(found, len(loops), leaves, known))


def is_joined(edges: Edges) -> bool:
    """Tell whether from each body every other one can be reached."""
    everything = (1 << len(edges)) - 1
    back = [0] * len(edges)
    for n, mask in enumerate(edges):
        for m in _members(mask):
            back[m] |= 1 << n
    return _reach(edges) == everything and _reach(back) == everything


def closed_walk(edges: Edges) -> tuple[int, ...]:
    """Return a closed walk through all bodies of a joined graph, each time to the nearest."""
    at, unseen = 0, set(range(1, len(edges)))
    walk = [0]
    while unseen or at:
        path = _path(edges, at, unseen or {0})
        walk += path
        unseen -= set(path)
        at = path[-1]
    return tuple(walk[:-1]) if len(walk) > 1 else tuple(walk)


def _path(edges: Edges, start: int, goals: set[int]) -> list[int]:
    """The shortest way from a body to the nearest of some, without its start."""
    before = {start: start}
    layer = [start]
    while layer:
        there = sorted(n for n in layer if n in goals and n != start)
        if there:
            at, path = there[0], []
            while at != start:
                path.append(at)
                at = before[at]
            return path[::-1]
        following = []
        for n in layer:
            for m in _members(edges[n]):
                if m not in before:
                    before[m] = n
                    following.append(m)
        layer = following
    raise ValueError("the graph is not joined")


def _reach(edges: Sequence[int]) -> int:
    reached, front = 1, 1
    while front:
        more = 0
        for n in _members(front):
            more |= edges[n]
        front = more & ~reached
        reached |= more
    return reached


def _members(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def _holds(loop: Loop, edges: Edges) -> bool:
    return all(edges[held] >> by & 1 for held, by in loop.edges)


def _needed(
    loops: list[Loop], first: int, leaves: Sequence[Array], known: Knowledge
) -> tuple[Loop, ...]:
    """The first loops, and of the others as many as the triangles need."""
    edges = [known.throughout(corners) for corners in leaves]
    holding = [{n for n, e in enumerate(edges) if _holds(loop, e)} for loop in loops]
    kept = list(range(len(loops)))
    for n in range(len(loops) - 1, first - 1, -1):
        others = set().union(*(holding[m] for m in kept if m != n))
        if holding[n] <= others:
            kept.remove(n)
    return tuple(loops[n] for n in kept)


# -- the sphere --------------------------------------------------------------------


def _ways_to_try(known: Knowledge, corners: Array, sure: Edges, cuts: int) -> Iterator[Vec3]:
    """Yield the directions of a triangle in which the set is least held."""
    yield from known.single_ways(corners)
    planes = known.open_planes(corners, sure)
    if len(planes) > (_FEW if cuts < _SMALL else _MANY):
        return
    middle = np.array(_middle(corners))
    for n, plane in enumerate(planes):
        ways = [middle - (middle @ plane) * plane]
        for other in planes[n + 1 :]:
            line = np.cross(plane, other)
            ways += [line, -line]
        for way in ways:
            size = float(np.linalg.norm(way))
            if size > 1e-6 and _is_in(way / size, corners):
                yield _settled(way)


def _octants() -> Iterator[Array]:
    for x in (1.0, -1.0):
        for y in (1.0, -1.0):
            for z in (1.0, -1.0):
                yield np.diag([x, y, z])


def _quarters(corners: Array) -> Iterator[Array]:
    a, b, c = corners
    ab, bc, ca = (p / np.linalg.norm(p) for p in (a + b, b + c, c + a))
    for three in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)):
        yield np.array(three)


def _middle(corners: Array) -> Vec3:
    return _settled(corners.sum(axis=0))


def _is_in(way: Array, corners: Array) -> bool:
    shares = np.linalg.solve(corners.T, way)
    return bool((shares >= _IN).all())


def _settled(way: Array) -> Vec3:
    """A unit vector that is the same however it was come by, and keeps whole axes whole."""
    x, y, z = (float(c) for c in way / np.linalg.norm(way))
    x, y, z = unit((round(x, 12) + 0.0, round(y, 12) + 0.0, round(z, 12) + 0.0))
    return (x + 0.0, y + 0.0, z + 0.0)


def _same(a: Vec3, b: Vec3) -> bool:
    return math.dist(a, b) < 1e-5


def _unlike(planes: Array) -> Array:
    """Return planes without those that another one is, turned round or not."""
    turned = planes.copy()
    for n, p in enumerate(turned):
        leading = next((c for c in p if abs(c) > 1e-6), 1.0)
        if leading < 0:
            turned[n] = -p
    kept = np.unique(np.round(turned, 6), axis=0, return_index=True)[1]
    return turned[np.sort(kept)]
