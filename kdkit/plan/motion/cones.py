"""In which directions one convex body runs into another: a cone, with flat sides.

A body P that is moved along d for ever hits a body Q just when the ray from the origin
along d enters their difference D = Q − P. D is convex, so these directions form an open
convex cone: if d and e are in it, so is every direction between them. Its sides are
planes through the origin: those that keep Q from P where they stand (a contact, a gap),
and those that D's edges span with the origin (D as seen from there). Every edge of D is
parallel to one of P or Q, so the second kind is found by looking at D along each of these.

The tolerance is that of ``sweep``: what overlaps by no more does not hit. A plane turned
about an edge until it lies that far inside a corner of D is still a plane, so the cones
are exact for it; at a contact they leave a band beside its plane that is as narrow as
the tolerance is to the contact's length.

Source:
    Arrangements of such cones on the sphere of directions: R. H. Wilson, J.-C. Latombe,
    Geometric reasoning about mechanical assembly, Artificial Intelligence 71, 1994 (from
    memory of its non-directional blocking graphs).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.plan.motion.sweep import Polytope
from kdkit.units import TOLERANCE

__all__ = ["EVERYWHERE", "INSIDE", "Cone", "cone_between"]

Array = NDArray[np.float64]

INSIDE = 1e-9
"""A direction is within a plane's side when its product with the normal is more than this:
the same bound as a sweep has for planes along its direction."""

_NONE: Array = np.zeros((0, 3))


@dataclass(frozen=True, eq=False)
class Cone:
    """The open cone of the directions n · d > 0 for every row n of ``sides``.

    No rows: every direction. ``planes``: the same sides with no tolerance, on which the
    directions lie in which one body just slides along the other or past it.
    """

    sides: Array
    planes: Array


EVERYWHERE = Cone(_NONE, _NONE)
"""The cone of all directions: bodies that stand in each other, and what is pinned."""


def cone_between(moving: Polytope, standing: Polytope, tolerance: float = TOLERANCE) -> Cone | None:
    """Return the directions in which a body hits another one; None: in no direction."""
    edges = _unlike(np.vstack([moving.edges, standing.edges]))
    first, second = np.triu_indices(len(edges), 1)
    crossed = np.cross(edges[first], edges[second])
    length = np.linalg.norm(crossed, axis=1)
    usable = length > 1e-7
    first, second, crossed = first[usable], second[usable], crossed[usable]
    crossed /= length[usable][:, None]
    crossed, first, second = (
        np.vstack([crossed, -crossed]),
        np.tile(first, 2),
        np.tile(second, 2),
    )
    axes = np.vstack([moving.normals, -standing.normals, crossed])
    gaps = (standing.vertices @ axes.T).min(axis=0) - (moving.vertices @ axes.T).max(axis=0)
    between = gaps >= -tolerance
    if not between.any():
        return EVERYWHERE
    between_lines = between[len(axes) - len(crossed) :]
    line_gaps = gaps[len(axes) - len(crossed) :]
    sides, planes = [axes[between]], [axes[between & (gaps <= tolerance)]]
    difference = (standing.vertices[:, None, :] - moving.vertices[None, :, :]).reshape(-1, 3)
    for n, edge in enumerate(edges):
        keep = np.nonzero(between_lines & ((first == n) | (second == n)))[0]
        if not len(keep):
            continue
        towards = crossed[keep[int(np.argmax(line_gaps[keep]))]]
        seen = _seen_along(edge, towards, difference, tolerance)
        if seen is None:
            return None
        sides.append(seen[0])
        planes.append(seen[1])
    return Cone(np.vstack(sides), np.vstack(planes))


def _seen_along(
    edge: Array, towards: Array, difference: Array, tolerance: float
) -> tuple[Array, Array] | None:
    """Return the two planes along an edge direction beside D, with and without tolerance.

    Args:
        towards: unit vector square to the edge; D lies on its side of the origin.
    """
    across = np.cross(edge, towards)
    x, y = difference @ towards, difference @ across
    far = np.hypot(x, y)
    some = far > tolerance * (1 + 1e-9)
    if not some.any():
        return None
    turn, give = np.arctan2(y[some], x[some]), np.arcsin(tolerance / far[some])
    low, high = float((turn + give).min()), float((turn - give).max())
    if high <= low:
        return None
    return (
        _beside(low, high, towards, across),
        _beside(float(turn.min()), float(turn.max()), towards, across),
    )


def _beside(low: float, high: float, towards: Array, across: Array) -> Array:
    """Return the normals, inwards, of the planes at two angles from ``towards``."""
    return np.array(
        [
            -np.sin(low) * towards + np.cos(low) * across,
            np.sin(high) * towards - np.cos(high) * across,
        ]
    )


def _unlike(edges: Array) -> Array:
    """Return the edge directions without those that are parallel to an earlier one."""
    alike = np.abs(edges @ edges.T) > 1.0 - 1e-12
    return edges[~np.triu(alike, 1).any(axis=0)]
