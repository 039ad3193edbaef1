"""Sweeps: does one convex body, moved straight on for ever, run into another?

Takes convex polytopes in the product frame (mm); gives yes or no. Interiors are
open: bodies that touch, or overlap by no more than ``units.TOLERANCE``, do not
collide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Frame, Vec2, Vec3
from kdkit.units import TOLERANCE

__all__ = ["Flags", "Polytope", "overlap", "prism", "sweep_hits"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_PARALLEL = 1e-9
_CHUNK = 4000


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
    flat = np.asarray(polygon, dtype=np.float64)
    low = np.column_stack([flat, np.full(len(flat), z0)])
    high = np.column_stack([flat, np.full(len(flat), z1)])
    vertices = np.vstack([low, high]) @ rotation + np.array(frame.origin)
    along = np.roll(flat, -1, axis=0) - flat
    along = along[np.hypot(along[:, 0], along[:, 1]) > 1e-9]
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    turn = 1.0 if _area(flat) > 0 else -1.0
    outward = np.column_stack([turn * along[:, 1], -turn * along[:, 0], np.zeros(len(along))])
    normals = np.vstack([outward, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]]) @ rotation
    flipped = np.where(
        ((along[:, 0] < -1e-9) | ((np.abs(along[:, 0]) <= 1e-9) & (along[:, 1] < 0)))[:, None],
        -along,
        along,
    )
    _, first = np.unique(np.round(flipped, 9), axis=0, return_index=True)
    unique = flipped[np.sort(first)]
    edges = np.vstack([np.column_stack([unique, np.zeros(len(unique))]), [[0.0, 0.0, 1.0]]])
    return Polytope(vertices, edges @ rotation, normals)


def _area(flat: Array) -> float:
    x, y = flat[:, 0], flat[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2.0)


def sweep_hits(
    moving: Sequence[Polytope],
    standing: Sequence[Polytope],
    direction: Vec3,
    wanted: Flags | None = None,
    tolerance: float = TOLERANCE,
) -> Flags:
    """Tell which moving body, moved along a direction for ever, hits which standing one.

    A swept convex body is an unbounded convex polyhedron, and two convex
    polyhedra have disjoint interiors just when a plane keeps them apart whose
    normal is a face normal of either or is square to an edge of each. Only
    planes that the moving body never leaves towards (n·d ≤ 0) can do so.

    Args:
        direction: unit vector, product frame.
        wanted: (moving, standing); pairs that are False are not tested and stay False.

    Returns:
        (moving, standing) booleans.

    Source:
        Separating axis theorem for convex polyhedra (Minkowski difference: its
        faces come from faces of either body or from a pair of edges).
    """
    hits = np.zeros((len(moving), len(standing)), dtype=np.bool_)
    if not moving or not standing:
        return hits
    d = np.asarray(direction, dtype=np.float64)
    ahead = _may_hit(moving, standing, d, tolerance)
    if wanted is not None:
        ahead &= wanted
    rows, columns = np.nonzero(ahead)
    wide_p = np.array([_is_wide(p) for p in moving])
    wide_q = np.array([_is_wide(q) for q in standing])
    for wide_row in (False, True):
        for wide_column in (False, True):
            chosen = (wide_p[rows] == wide_row) & (wide_q[columns] == wide_column)
            r, c = rows[chosen], columns[chosen]
            step = 200 if wide_row or wide_column else _CHUNK
            for start in range(0, len(r), step):
                some_r, some_c = r[start : start + step], c[start : start + step]
                hits[some_r, some_c] = ~_kept_apart(
                    [moving[i] for i in some_r], [standing[i] for i in some_c], d, tolerance
                )
    return hits


def overlap(p: Polytope, q: Polytope, tolerance: float = TOLERANCE) -> bool:
    """Tell whether two bodies overlap where they stand."""
    return not bool(_kept_apart([p], [q], np.zeros(3), tolerance)[0])


def _is_wide(p: Polytope) -> bool:
    return len(p.vertices) > 8 or len(p.edges) > 3 or len(p.normals) > 6


def _square_axes(d: Array) -> tuple[Array, Array]:
    """Two unit vectors square to d and to each other; product axes where they can be."""
    other = np.eye(3)[int(np.argmin(np.abs(d)))]
    u = np.cross(d, other)
    u /= np.linalg.norm(u)
    return u, np.cross(d, u)


def _may_hit(
    moving: Sequence[Polytope], standing: Sequence[Polytope], d: Array, tolerance: float
) -> Flags:
    """Bounding boxes across the direction overlap, and the standing one is not behind."""
    u, v = _square_axes(d)
    axes = np.stack([u, v, d])
    low_p = np.array([(p.vertices @ axes.T).min(axis=0) for p in moving])
    high_p = np.array([(p.vertices @ axes.T).max(axis=0) for p in moving])
    low_q = np.array([(q.vertices @ axes.T).min(axis=0) for q in standing])
    high_q = np.array([(q.vertices @ axes.T).max(axis=0) for q in standing])
    may = np.ones((len(moving), len(standing)), dtype=np.bool_)
    for axis in (0, 1):
        may &= low_p[:, None, axis] < high_q[None, :, axis] - tolerance
        may &= low_q[None, :, axis] < high_p[:, None, axis] - tolerance
    may &= high_q[None, :, 2] > low_p[:, None, 2] + tolerance
    return may


def _padded(rows: Sequence[Array]) -> Array:
    """Stack (n, 3) arrays of unequal n; the last row is repeated."""
    size = max(len(r) for r in rows)
    return np.stack([r[np.minimum(np.arange(size), len(r) - 1)] for r in rows])


def _kept_apart(
    moving: Sequence[Polytope], standing: Sequence[Polytope], d: Array, tolerance: float
) -> Flags:
    """For each pair: is there a plane between the swept body and the standing one?"""
    v_p, v_q = _padded([p.vertices for p in moving]), _padded([q.vertices for q in standing])
    e_p, e_q = _padded([p.edges for p in moving]), _padded([q.edges for q in standing])
    crossed = np.cross(e_p[:, :, None, :], e_q[:, None, :, :]).reshape(len(v_p), -1, 3)
    silhouette = np.concatenate([np.cross(e_p, d), np.cross(e_q, d)], axis=1)
    both_ways = np.concatenate([crossed, silhouette], axis=1)
    axes = np.concatenate(
        [
            _padded([p.normals for p in moving]),
            -_padded([q.normals for q in standing]),
            both_ways,
            -both_ways,
        ],
        axis=1,
    )
    length = np.linalg.norm(axes, axis=2)
    usable = length > 1e-7
    axes = axes / np.where(usable, length, 1.0)[:, :, None]
    usable &= axes @ d <= _PARALLEL
    far_p = np.einsum("nak,nvk->nav", axes, v_p).max(axis=2)
    near_q = np.einsum("nak,nvk->nav", axes, v_q).min(axis=2)
    apart: Flags = (usable & (near_q - far_p >= -tolerance)).any(axis=1)
    return apart
