"""Whether the walks of a certificate hold in all directions: the sphere is covered.

The sphere of directions is cut into spherical triangles, each into four while it must.
A triangle is covered when all blocks of one walk hold throughout it: what is pinned in
every direction but one that is not in it, and what runs into something with one pair of
convex pieces that meet along all three of its corners, hence along all it holds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3, cross, unit
from kdkit.plan.verify.pieces import Piece, meets

__all__ = ["Barrier", "Hindrance", "uncovered"]

Array = NDArray[np.float64]
Triangle = tuple[Vec3, Vec3, Vec3]

_FINEST = 20  # cuts
_MOST = 30_000  # triangles


@dataclass(frozen=True, eq=False)
class Barrier:
    """Two convex pieces of which the first may run into the second.

    ``but``: directions in which it does not count, because a bore lets the one out.
    """

    moving: Piece
    standing: Piece
    but: tuple[Vec3, ...] = ()
    known: dict[Vec3, bool] = field(default_factory=dict)

    def holds(self, triangle: Triangle) -> bool:
        """Tell whether they meet along all directions of a triangle."""
        return all(self._meets(d) for d in triangle) and not any(
            _holds_point(triangle, b) for b in self.but
        )

    def _meets(self, d: Vec3) -> bool:
        if d not in self.known:
            self.known[d] = meets(self.moving, self.standing, d, _across(d))
        return self.known[d]


@dataclass(eq=False)
class Hindrance:
    """Why one part cannot move without another.

    Args:
        pins: for each joint that pins them the only way in which the part comes off.
        shut: no tool has room, whatever the direction.
        barriers: what runs into what.
    """

    pins: tuple[Vec3, ...]
    shut: bool
    barriers: Sequence[Barrier]

    def __post_init__(self) -> None:
        self._last = 0  # the barrier that held in the triangle before: likely again
        balls = [(_ball(b.moving), _ball(b.standing)) for b in self.barriers]
        self._between = np.array([q[0] - p[0] for p, q in balls]).reshape(-1, 3)
        self._reach = np.array([p[1] + q[1] for p, q in balls])

    def holds(self, triangle: Triangle) -> bool:
        """Tell whether it holds along all directions of a triangle."""
        if self.shut or any(not _holds_point(triangle, way) for way in self.pins):
            return True
        if not len(self.barriers):
            return False
        if self.barriers[self._last].holds(triangle):
            return True
        for n in self._may_hold(triangle):
            if self.barriers[n].holds(triangle):
                self._last = n
                return True
        return False

    def _may_hold(self, triangle: Triangle) -> list[int]:
        """The barriers of which the balls round both pieces would meet along the corners."""
        ahead = self._between @ np.array(triangle).T
        far = (self._between**2).sum(axis=1)[:, None]
        beside = far - ahead**2 < self._reach[:, None] ** 2
        met = (beside & (ahead > -self._reach[:, None])).all(axis=1)
        return [int(n) for n in np.nonzero(met)[0]]


def uncovered(walks: Sequence[tuple[Vec3, Sequence[Hindrance]]]) -> Vec3 | None:
    """Return a direction for which no walk was found to hold; None: they hold in all.

    Args:
        walks: for each a direction and all its blocks.
    """
    waiting = [(triangle, 0) for triangle in _octants()]
    work = 0
    while waiting:
        triangle, cuts = waiting.pop()
        work += 1
        middle = _middle(triangle)
        near = sorted(walks, key=lambda walk: -float(np.dot(walk[0], middle)))
        if any(all(block.holds(triangle) for block in walk) for _, walk in near):
            continue
        if cuts >= _FINEST or work >= _MOST:
            return middle
        waiting += [(quarter, cuts + 1) for quarter in _quarters(triangle)]
    return None


def _ball(piece: Piece) -> tuple[Array, float]:
    """A ball round a piece: its middle and radius."""
    middle = piece.corners.mean(axis=0)
    return middle, float(np.linalg.norm(piece.corners - middle, axis=1).max())


def _octants() -> Iterator[Triangle]:
    for x in (1.0, -1.0):
        for y in (1.0, -1.0):
            for z in (1.0, -1.0):
                yield (x, 0.0, 0.0), (0.0, y, 0.0), (0.0, 0.0, z)


def _quarters(triangle: Triangle) -> Iterator[Triangle]:
    a, b, c = triangle
    ab, bc, ca = _between(a, b), _between(b, c), _between(c, a)
    yield from ((ab, bc, ca), (a, ab, ca), (ab, b, bc), (ca, bc, c))


def _between(a: Vec3, b: Vec3) -> Vec3:
    low, high = min(a, b), max(a, b)  # the same point from either side
    return unit((low[0] + high[0], low[1] + high[1], low[2] + high[2]))


def _middle(triangle: Triangle) -> Vec3:
    x, y, z = (sum(p[n] for p in triangle) for n in range(3))
    return unit((x, y, z))


def _holds_point(triangle: Triangle, d: Vec3) -> bool:
    """Tell whether a direction lies in a triangle or on its rim."""
    shares = np.linalg.solve(np.array(triangle).T, np.array(d))
    return bool((shares >= -1e-9).all())


def _across(d: Vec3) -> Array:
    least = min(range(3), key=lambda n: abs(d[n]))
    axis: Vec3 = (float(least == 0), float(least == 1), float(least == 2))
    u = unit(cross(d, axis))
    return np.array([u, cross(d, u)])
