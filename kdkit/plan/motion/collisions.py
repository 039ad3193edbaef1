"""Which bodies meet which when their parts move: all sweeps of a product, pruned.

Only the first collision between two parts tells anything, so bodies that would tell the
same are tried one after the other and only until one of them hits.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence

import numpy as np

from kdkit.frames import Vec3, dot
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.sweep import Flags, Numbers, Stock, Sweep, overlaps

__all__ = ["Pairs", "find_collisions", "passing_through"]

_ALONG = 1 - 1e-9  # cosine


def find_collisions(
    bodies: Sequence[Body],
    directions: Sequence[Vec3],
    company: Callable[[Body], Hashable],
    decided: Callable[[int, Body, Body], bool],
) -> Iterator[tuple[int, Body, Body]]:
    """Yield (direction's number, moving body, body in its way).

    First wood against wood, then hardware. Of bodies of the same parts with the same
    company one collision is given, the first in the order of the bodies.

    Args:
        directions: in pairs, each followed by its opposite.
        company: what of a body, beside its part, decides when a collision counts.
        decided: whether nothing more is asked about a body and the part of another.
    """
    if not bodies:
        return
    classes: dict[Hashable, int] = {}
    kind = np.array([classes.setdefault((b.part, company(b)), len(classes)) for b in bodies])
    pairs = Pairs(bodies)
    groups = [np.nonzero(pairs.owner == n)[0] for n in np.unique(pairs.owner)]
    through = passing_through(bodies, pairs)
    hard = np.array([b.fastener is not None for b in bodies])
    stock = Stock([b.shape for b in bodies])
    for d in range(0, len(directions), 2):
        sweep = Sweep(stock, stock, directions[d])
        rows, columns = sweep.candidates(groups=groups)
        asked = pairs.wanted(rows, columns)
        let_by = [
            code
            for n, m, axis in through
            if abs(dot(axis, directions[d])) > _ALONG
            for code in (n * len(bodies) + m, m * len(bodies) + n)
        ]
        asked &= ~np.isin(rows * len(bodies) + columns, let_by)
        rows, columns = rows[asked], columns[asked]
        both_wood = ~hard[rows] & ~hard[columns]
        for chosen in (both_wood, ~both_wood):
            some, others = rows[chosen], columns[chosen]
            keys = kind[some] * len(classes) + kind[others]
            first, keys = np.unique(keys, return_index=True, return_inverse=True)[1:]
            open_keys = np.array(
                [
                    not (
                        decided(d, bodies[some[at]], bodies[others[at]])
                        and decided(d + 1, bodies[others[at]], bodies[some[at]])
                    )
                    for at in first
                ],
                dtype=np.bool_,
            )
            for at in _first_hits(sweep, some, others, keys, open_keys):
                moving, standing = bodies[some[at]], bodies[others[at]]
                yield d, moving, standing
                yield d + 1, standing, moving


def _first_hits(
    sweep: Sweep, rows: Numbers, columns: Numbers, keys: Numbers, open_keys: Flags
) -> list[int]:
    """For every open key the first pair that hits, in the order of the pairs."""
    found: list[int] = []
    order = np.argsort(keys, kind="stable")
    order = order[open_keys[keys[order]]]
    size = 1
    while len(order):
        sorted_keys = keys[order]
        starts = np.nonzero(np.diff(sorted_keys, prepend=-1))[0]
        lengths = np.diff(starts, append=len(order))
        rank = np.arange(len(order)) - np.repeat(starts, lengths)
        now = order[rank < size]
        hits = now[sweep.hits(rows[now], columns[now])]
        hit_keys, at = np.unique(keys[hits], return_index=True)
        found += [int(hits[n]) for n in at]
        rest = order[rank >= size]
        order = rest[~np.isin(keys[rest], hit_keys)]
        size *= 2
    return sorted(found)


class Pairs:
    """Which bodies are to be tried against which: not those of one part, nor of one
    fastener, nor hardware and what it is meant for."""

    def __init__(self, bodies: Sequence[Body]) -> None:
        parts: dict[str, int] = {}
        fasteners: dict[str, int] = {}
        self.owner = np.array([parts.setdefault(b.part, len(parts)) for b in bodies])
        self._mate = np.array([-1 if b.mate is None else parts.get(b.mate, -1) for b in bodies])
        self._fastener = np.array(
            [
                -1 if b.fastener is None else fasteners.setdefault(b.fastener, len(fasteners))
                for b in bodies
            ]
        )

    def wanted(self, rows: Numbers, columns: Numbers) -> Flags:
        """Tell of each pair whether it is to be tried."""
        owner, mate, fastener = self.owner, self._mate, self._fastener
        wanted: Flags = owner[rows] != owner[columns]
        wanted &= (mate[rows] != owner[columns]) & (mate[columns] != owner[rows])
        wanted &= (fastener[rows] != fastener[columns]) | (fastener[rows] < 0)
        return wanted


def passing_through(bodies: Sequence[Body], pairs: Pairs) -> list[tuple[int, int, Vec3]]:
    """Items that already stand in a third part: a bore lets them out along their axis."""
    low = np.array([b.shape.vertices.min(axis=0) for b in bodies])
    high = np.array([b.shape.vertices.max(axis=0) for b in bodies])
    hard = np.array([n for n, b in enumerate(bodies) if b.axis is not None], dtype=np.intp)
    near = np.ones((len(hard), len(bodies)), dtype=np.bool_)
    for axis in range(3):
        near &= low[None, :, axis] < high[hard, None, axis]
        near &= high[None, :, axis] > low[hard, None, axis]
    rows, columns = np.nonzero(near)
    rows = hard[rows]
    asked = pairs.wanted(rows, columns)
    rows, columns = rows[asked], columns[asked]
    inside = overlaps([bodies[int(n)].shape for n in rows], [bodies[int(m)].shape for m in columns])
    found = []
    for n, m in zip(rows[inside], columns[inside], strict=True):
        axis_of = bodies[int(n)].axis
        if axis_of is not None:
            found.append((int(n), int(m), axis_of))
    return found
