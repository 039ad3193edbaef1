"""Whether a hand at work has a way out: a tool inside a closed box cannot be held.

From where the hand is, the tool's handle is moved straight on along the main axes and
between them. If every one of these ways is barred, the parts that bar them keep the
hand out while all of them are there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.sweep import Polytope, sweep_hits

__all__ = ["Hand", "enclosures"]

Array = NDArray[np.float64]

_GIVE = 1.0  # mm by which something may reach into the way: common practice, no source
_MOST_SETS = 64
_AXES: tuple[Vec3, ...] = (
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, -1.0, 0.0),
    (0.0, 0.0, 1.0),
    (0.0, 0.0, -1.0),
)


def _between_axes() -> tuple[Vec3, ...]:
    found = []
    for x, y, z in itertools.product((-1, 0, 1), repeat=3):
        size = math.sqrt(x * x + y * y + z * z)
        if size > 1.1:
            found.append((x / size, y / size, z / size))
    return tuple(found)


_SLANTED = _between_axes()


@dataclass(frozen=True, eq=False)
class Hand:
    """A hand on a tool. ``shape``: the handle; ``members``: the parts that are always there."""

    shape: Polytope
    members: Collection[str]


def enclosures(hands: Sequence[Hand], bodies: Sequence[Body]) -> list[tuple[frozenset[str], ...]]:
    """Return for each hand the least sets of parts that shut it in, () where none do."""
    walls = [body for body in bodies if body.fastener is None]
    found: list[tuple[frozenset[str], ...]] = [() for _ in hands]
    if not hands or not walls:
        return found
    left = _without_easy_way(hands, walls)
    shapes = [body.shape for body in walls]
    barring: dict[int, list[frozenset[str]]] = {n: [] for n in left}
    for way in (*_AXES, *_SLANTED):
        hits = sweep_hits([hands[n].shape for n in left], shapes, way, tolerance=_GIVE)
        for row, n in enumerate(left):
            barring[n].append(frozenset(walls[int(m)].part for m in np.nonzero(hits[row])[0]))
        left = [n for n in left if barring[n][-1]]
    for n in left:
        found[n] = _shut_in(hands[n], barring[n])
    return found


def _without_easy_way(hands: Sequence[Hand], walls: Sequence[Body]) -> list[int]:
    """The hands for which each way along an axis meets the box round some body."""
    low = np.array([b.shape.vertices.min(axis=0) for b in walls]) + _GIVE
    high = np.array([b.shape.vertices.max(axis=0) for b in walls]) - _GIVE
    mine_low = np.array([h.shape.vertices.min(axis=0) for h in hands])
    mine_high = np.array([h.shape.vertices.max(axis=0) for h in hands])
    beside = (mine_low[:, None, :] >= high[None]) | (mine_high[:, None, :] <= low[None])
    barred = np.ones(len(hands), dtype=np.bool_)
    for axis in range(3):
        others = [n for n in range(3) if n != axis]
        across = ~beside[:, :, others].any(axis=2)
        ahead = mine_low[:, None, axis] < high[None, :, axis]
        behind = mine_high[:, None, axis] > low[None, :, axis]
        barred &= (across & ahead).any(axis=1) & (across & behind).any(axis=1)
    return [int(n) for n in np.nonzero(barred)[0]]


def _shut_in(hand: Hand, ways: Sequence[frozenset[str]]) -> tuple[frozenset[str], ...]:
    """The least sets with a part in each way; what a member bars needs none."""
    members = set(hand.members)
    asked = _least(way for way in ways if not way & members)
    sets: tuple[frozenset[str], ...] = (frozenset(),)
    for way in asked:
        sets = _least(one if one & way else one | {part} for one in sets for part in sorted(way))
        if len(sets) > _MOST_SETS:
            return (frozenset().union(*asked),)  # errs towards saying that there is a way
    return sets if all(sets) else ()  # members in the way of their own work are told as such


def _least(sets: Iterable[frozenset[str]]) -> tuple[frozenset[str], ...]:
    kept: list[frozenset[str]] = []
    for one in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return tuple(kept)
