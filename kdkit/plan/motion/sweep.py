"""Sweeps: does one convex body, moved straight on for ever, run into another?

Takes convex polytopes in the product frame (mm); gives yes or no. Interiors are
open: bodies that touch, or overlap by no more than ``units.TOLERANCE``, do not
collide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Frame, Vec2, Vec3
from kdkit.geometry.convex import signed_area
from kdkit.units import TOLERANCE

__all__ = [
    "Flags",
    "Numbers",
    "Polytope",
    "Stock",
    "Sweep",
    "overlap",
    "overlapping",
    "overlaps",
    "prism",
    "sweep_hits",
]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.intp]

_PARALLEL = 1e-9
_CHUNK = 400_000  # numbers held at a time


@dataclass(frozen=True, eq=False)
class Polytope:
    """A convex body.

    Args:
        vertices: (n, 3), mm, product frame.
        edges: (e, 3) unit vectors, one for each direction that some edge has.
        normals: (f, 3) unit vectors, out of the faces.
    """

    vertices: Array
    edges: Array
    normals: Array


def prism(frame: Frame, polygon: Sequence[Vec2], z0: float, z1: float) -> Polytope:
    """Return the prism over a convex polygon of a frame, from z0 to z1.

    Args:
        polygon: corners in (x, y) of the frame, either way round, not closed.
    """
    rotation = np.array([frame.i, frame.j, frame.k])
    vertices, edges, normals = _local_prism(tuple(polygon), z0, z1)
    return Polytope(
        vertices @ rotation + np.array(frame.origin), edges @ rotation, normals @ rotation
    )


@lru_cache(maxsize=256)
def _local_prism(polygon: tuple[Vec2, ...], z0: float, z1: float) -> tuple[Array, Array, Array]:
    """Corners, edges and normals of a prism in its own frame; many are alike."""
    flat = np.asarray(polygon, dtype=np.float64)
    low = np.column_stack([flat, np.full(len(flat), z0)])
    high = np.column_stack([flat, np.full(len(flat), z1)])
    along = np.concatenate([flat[1:], flat[:1]]) - flat
    length = np.hypot(along[:, 0], along[:, 1])
    along = along[length > 1e-9] / length[length > 1e-9][:, None]
    turn = 1.0 if signed_area(flat.tolist()) > 0 else -1.0
    outward = np.column_stack([turn * along[:, 1], -turn * along[:, 0], np.zeros(len(along))])
    normals = np.vstack([outward, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])
    unique: dict[tuple[float, float], Array] = {}
    for x, y in along:
        flipped = (-x, -y) if x < -1e-9 or (abs(x) <= 1e-9 and y < 0) else (x, y)
        unique.setdefault((round(flipped[0], 9), round(flipped[1], 9)), np.array([*flipped, 0.0]))
    edges = np.vstack([*unique.values(), [[0.0, 0.0, 1.0]]])
    return np.vstack([low, high]), edges, normals


def sweep_hits(
    moving: Sequence[Polytope],
    standing: Sequence[Polytope],
    direction: Vec3,
    wanted: Flags | None = None,
    tolerance: float = TOLERANCE,
) -> Flags:
    """Tell which moving body, moved along a direction for ever, hits which standing one.

    Args:
        direction: unit vector, product frame.
        wanted: (moving, standing); pairs that are False are not tested and stay False.

    Returns:
        (moving, standing) booleans.
    """
    hits = np.zeros((len(moving), len(standing)), dtype=np.bool_)
    if not moving or not standing:
        return hits
    sweep = Sweep(Stock(moving), Stock(standing), direction, tolerance)
    rows, columns = sweep.candidates(wanted)
    hits[rows, columns] = sweep.hits(rows, columns)
    return hits


def overlap(p: Polytope, q: Polytope, tolerance: float = TOLERANCE) -> bool:
    """Tell whether two bodies overlap where they stand."""
    return bool(overlaps([p], [q], tolerance)[0])


def overlaps(
    some: Sequence[Polytope], others: Sequence[Polytope], tolerance: float = TOLERANCE
) -> Flags:
    """Tell of each body whether it overlaps the other at its place in the list."""
    if not some:
        return np.zeros(0, dtype=np.bool_)
    pairs = np.arange(len(some), dtype=np.intp)
    return ~_kept_apart(Stock(some), Stock(others), pairs, pairs, np.zeros(3), tolerance)


def overlapping(some: Stock, others: Stock, wanted: Flags) -> tuple[Numbers, Numbers]:
    """Return which bodies overlap which, of the pairs that are asked for.

    Args:
        wanted: (some, others).
    """
    low_p, high_p = some.extents(np.eye(3))
    low_q, high_q = others.extents(np.eye(3))
    near = wanted.copy()
    for axis in range(3):
        near &= low_p[:, None, axis] < high_q[None, :, axis] - TOLERANCE
        near &= low_q[None, :, axis] + TOLERANCE < high_p[:, None, axis]
    rows, columns = np.nonzero(near)
    hit = ~_kept_apart(some, others, rows, columns, np.zeros(3), TOLERANCE)
    return rows[hit], columns[hit]


class Stock:
    """Bodies by the number of their corners, edges and faces, each kind as one array."""

    def __init__(self, bodies: Sequence[Polytope]) -> None:
        kinds: dict[tuple[int, int, int], list[int]] = {}
        for n, body in enumerate(bodies):
            kind = (len(body.vertices), len(body.edges), len(body.normals))
            kinds.setdefault(kind, []).append(n)
        self.size = len(bodies)
        self.kind = np.zeros(self.size, dtype=np.intp)
        self.place = np.zeros(self.size, dtype=np.intp)
        self.numbers = [np.array(found, dtype=np.intp) for found in kinds.values()]
        self.vertices, self.edges, self.normals = [], [], []
        for k, found in enumerate(self.numbers):
            self.kind[found] = k
            self.place[found] = np.arange(len(found))
            self.vertices.append(np.stack([bodies[n].vertices for n in found]))
            self.edges.append(np.stack([bodies[n].edges for n in found]))
            self.normals.append(np.stack([bodies[n].normals for n in found]))

    def changed(self, change: Callable[[Array, Array, Array], tuple[Array, Array, Array]]) -> Stock:
        """Return other bodies in the same places, each kind's arrays changed at once.

        Args:
            change: from corners, edges and normals, each (bodies, n, 3), to theirs.
        """
        other = copy(self)
        changed = [change(*a) for a in zip(self.vertices, self.edges, self.normals, strict=True)]
        other.vertices = [a[0] for a in changed]
        other.edges = [a[1] for a in changed]
        other.normals = [a[2] for a in changed]
        return other

    def extents(self, axes: Array) -> tuple[Array, Array]:
        """The lowest and highest value of every body along each of the axes."""
        low, high = np.empty((self.size, len(axes))), np.empty((self.size, len(axes)))
        for found, vertices in zip(self.numbers, self.vertices, strict=True):
            along = vertices @ axes.T
            low[found], high[found] = along.min(axis=1), along.max(axis=1)
        return low, high

    def boxes_along(self, axes: Array) -> Flags:
        """Which bodies are boxes with their edges along the axes."""
        found = np.zeros(self.size, dtype=np.bool_)
        for numbers, normals in zip(self.numbers, self.normals, strict=True):
            if normals.shape[1] == 6:
                off = np.sort(np.abs(normals @ axes.T), axis=2)[:, :, :2]
                found[numbers] = (off < _PARALLEL).all(axis=(1, 2))
        return found


class Sweep:
    """The sweep of some bodies along one direction, against some that stand.

    Args:
        direction: unit vector, product frame.
    """

    def __init__(
        self,
        moving: Stock | Sequence[Polytope],
        standing: Stock | Sequence[Polytope],
        direction: Vec3,
        tolerance: float = TOLERANCE,
    ) -> None:
        self._moving = moving if isinstance(moving, Stock) else Stock(moving)
        self._standing = standing if isinstance(standing, Stock) else Stock(standing)
        self._d = np.asarray(direction, dtype=np.float64)
        self._tolerance = tolerance
        self._axes = np.stack([*_square_axes(self._d), self._d])

    def candidates(
        self, wanted: Flags | None = None, groups: Sequence[Numbers] | None = None
    ) -> tuple[Numbers, Numbers]:
        """Return the pairs whose boxes along the direction would meet, row by row.

        Args:
            wanted: (moving, standing); pairs that are False are left out.
            groups: the moving bodies' numbers in groups that lie close together, all in
                rising order; each group is looked at on its own.
        """
        low_p, high_p = self._moving.extents(self._axes)
        low_q, high_q = self._standing.extents(self._axes)
        low_q, high_q = low_q + self._tolerance, high_q - self._tolerance
        rows, columns = [], []
        for group in groups if groups is not None else [np.arange(self._moving.size)]:
            low, high = low_p[group], high_p[group]
            near = high_q[:, 2] > low[:, 2].min()
            for axis in (0, 1):
                near &= high_q[:, axis] > low[:, axis].min()
                near &= low_q[:, axis] < high[:, axis].max()
            there = np.nonzero(near)[0]
            may = high_q[None, there, 2] > low[:, None, 2]
            for axis in (0, 1):
                may &= low[:, None, axis] < high_q[None, there, axis]
                may &= low_q[None, there, axis] < high[:, None, axis]
            if wanted is not None:
                may &= wanted[np.ix_(group, there)]
            some, others = np.nonzero(may)
            rows.append(group[some])
            columns.append(there[others])
        return np.concatenate(rows), np.concatenate(columns)

    def hits(self, rows: Numbers, columns: Numbers) -> Flags:
        """Tell of each candidate whether the moving body hits the standing one.

        A swept convex body is an unbounded convex polyhedron, and two convex
        polyhedra have disjoint interiors just when a plane keeps them apart whose
        normal is a face normal of either or is square to an edge of each. Only
        planes that the moving body never leaves towards (n·d ≤ 0) can do so. Of two
        boxes along the direction, ``candidates`` has tried all those planes.

        Source:
            Separating axis theorem for convex polyhedra (Minkowski difference: its
            faces come from faces of either body or from a pair of edges).
        """
        hits = np.ones(len(rows), dtype=np.bool_)
        plain = self._moving.boxes_along(self._axes)[rows]
        plain &= self._standing.boxes_along(self._axes)[columns]
        left = np.nonzero(~plain)[0]
        hits[left] = ~_kept_apart(
            self._moving, self._standing, rows[left], columns[left], self._d, self._tolerance
        )
        return hits


def _square_axes(d: Array) -> tuple[Array, Array]:
    """Two unit vectors square to d and to each other; product axes where they can be."""
    other = np.eye(3)[int(np.argmin(np.abs(d)))]
    u = np.cross(d, other)
    u /= np.linalg.norm(u)
    return u, np.cross(d, u)


def _kept_apart(
    moving: Stock, standing: Stock, rows: Numbers, columns: Numbers, d: Array, tolerance: float
) -> Flags:
    """For each pair: is there a plane between the swept body and the standing one?

    Planes along faces are tried first, and corners that lie in the other body: of bodies
    with many sides the pairs of edges are most of the work, and seldom asked.
    """
    apart = np.zeros(len(rows), dtype=np.bool_)
    kinds = moving.kind[rows] * len(standing.numbers) + standing.kind[columns]
    for both in np.unique(kinds):
        p, q = divmod(int(both), len(standing.numbers))
        chosen = np.nonzero(kinds == both)[0]
        corners = moving.vertices[p].shape[1] + standing.vertices[q].shape[1]
        faces = moving.normals[p].shape[1] + standing.normals[q].shape[1]
        lines = moving.edges[p].shape[1] * standing.edges[q].shape[1]
        left = []
        for some in _in_bits(chosen, corners * (faces + corners)):
            a, b = moving.place[rows[some]], standing.place[columns[some]]
            apart[some], decided = _by_faces(
                (moving.vertices[p][a], moving.normals[p][a]),
                (standing.vertices[q][b], standing.normals[q][b]),
                d,
                tolerance,
            )
            left.append(some[~decided])
        for some in _in_bits(np.concatenate(left), corners * (2 * lines + corners)):
            a, b = moving.place[rows[some]], standing.place[columns[some]]
            apart[some] = _by_lines(
                (moving.vertices[p][a], moving.edges[p][a]),
                (standing.vertices[q][b], standing.edges[q][b]),
                d,
                tolerance,
            )
    return apart


def _in_bits(numbers: Numbers, each: int) -> Iterator[Numbers]:
    """The numbers in stretches of so many that no array grows too large."""
    step = max(1, _CHUNK // each)
    for start in range(0, len(numbers), step):
        yield numbers[start : start + step]


def _by_faces(
    p: tuple[Array, Array], q: tuple[Array, Array], d: Array, tolerance: float
) -> tuple[Flags, Flags]:
    """For each pair (corners, normals of each): is a plane along a face between them?

    The second is whether all is decided. It is too where a corner of the first lies deeper
    in the other than the tolerance where it stands: then no plane keeps them apart.
    """
    (v_p, n_p), (v_q, n_q) = p, q
    n_p, usable = _unit(n_p)
    off_p = v_q @ n_p.transpose(0, 2, 1) - (v_p @ n_p.transpose(0, 2, 1)).max(axis=1)[:, None]
    off_q = v_p @ n_q.transpose(0, 2, 1) - (v_q @ n_q.transpose(0, 2, 1)).max(axis=1)[:, None]
    usable &= n_p @ d <= _PARALLEL
    apart: Flags = (usable & (off_p.min(axis=1) >= -tolerance)).any(axis=1)
    apart |= ((n_q @ d >= -_PARALLEL) & (off_q.min(axis=1) >= -tolerance)).any(axis=1)
    deep: Flags = (off_q.max(axis=2) < -2 * tolerance).any(axis=1)
    return apart, apart | deep


def _unit(axes: Array) -> tuple[Array, Flags]:
    """Axes as unit vectors, and which of them had a length."""
    length = np.sqrt(np.einsum("nai,nai->na", axes, axes))
    usable: Flags = length > 1e-7
    return axes / np.where(usable, length, 1.0)[:, :, None], usable


def _by_lines(p: tuple[Array, Array], q: tuple[Array, Array], d: Array, tolerance: float) -> Flags:
    """For each pair (corners, edges of each): is there a plane along two edges between them?"""
    (v_p, e_p), (v_q, e_q) = p, q
    crossed = np.cross(e_p[:, :, None, :], e_q[:, None, :, :]).reshape(len(v_p), -1, 3)
    both_ways = [crossed]
    if d.any():
        both_ways += [np.cross(e_p, d), np.cross(e_q, d)]
    lines = np.concatenate(both_ways, axis=1)
    axes, usable = _unit(np.concatenate([lines, -lines], axis=1))
    usable &= axes @ d <= _PARALLEL
    far_p = (axes @ v_p.transpose(0, 2, 1)).max(axis=2)
    near_q = (axes @ v_q.transpose(0, 2, 1)).min(axis=2)
    apart: Flags = (usable & (near_q - far_p >= -tolerance)).any(axis=1)
    return apart
