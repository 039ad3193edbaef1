"""Two straight moves in a row: for which lengths of the first is the way free?

Of two convex bodies the first hits the second where it stands at x just when x lies in
their difference D = Q − P, which is convex. A first move along d hits at every length
beyond where the ray along d enters D. A second one along e, for ever, hits where x lies in
D drawn out against e, which is convex too. So for two given directions each pair of bodies
blocks from some length on (the first move), and for one interval of lengths (the second).
The lengths that are free for a set are what these leave, and the least of each free stretch
is the upper end of some interval: with these every length is looked at, not a sample.

Source:
    Minkowski difference of convex bodies, as in ``sweep`` and ``cones``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3
from kdkit.plan.motion.sweep import Flags, Numbers, Stock
from kdkit.units import TOLERANCE

__all__ = ["Lengths"]

Array = NDArray[np.float64]

_NONE = np.inf
_PARALLEL = 1e-9
_CHUNK = 200_000  # numbers held at a time
_LEAST = 1e-6  # mm; a way that ends sooner does not begin


class _Kind:
    """Pairs of bodies with equally many corners, edges and faces, as arrays."""

    def __init__(self, p: tuple[Array, Array, Array], q: tuple[Array, Array, Array]) -> None:
        (self._v_p, self._e_p, n_p), (self._v_q, self._e_q, n_q) = p, q
        lines = np.cross(self._e_p[:, :, None, :], self._e_q[:, None, :, :])
        lines = lines.reshape(len(self._v_p), -1, 3)
        self._axes = np.concatenate([n_p, -n_q, lines, -lines], axis=1)
        self._gaps = self._gaps_along(self._axes)
        self._drawn: dict[Vec3, tuple[Array, Array]] = {}

    def _gaps_along(self, axes: Array) -> Array:
        """How far apart they are along axes, which become unit vectors; −inf along none."""
        length = np.sqrt(np.einsum("nai,nai->na", axes, axes))
        usable = length > 1e-7
        axes /= np.where(usable, length, 1.0)[:, :, None]
        far_p = (axes @ self._v_p.transpose(0, 2, 1)).max(axis=2)
        near_q = (axes @ self._v_q.transpose(0, 2, 1)).min(axis=2)
        return np.where(usable, near_q - far_p + TOLERANCE, -_NONE)

    def inside(self, way: Vec3, onward: Vec3 | None) -> tuple[Array, Array]:
        """For each pair from which to which length along a way they overlap.

        Args:
            onward: where the body goes on for ever from there; None: it stays.
        """
        axes, gaps = (self._axes, self._gaps) if onward is None else self._drawn_out(onward)
        rate = axes @ np.asarray(way)
        with np.errstate(divide="ignore", invalid="ignore"):
            bound = gaps / rate
        low = np.where(rate > _PARALLEL, bound, -_NONE).max(axis=1)
        high = np.where(rate < -_PARALLEL, bound, _NONE).min(axis=1)
        never = ((np.abs(rate) <= _PARALLEL) & (gaps >= 0)).any(axis=1)
        return np.where(never, _NONE, low), np.where(never, -_NONE, high)

    def _drawn_out(self, onward: Vec3) -> tuple[Array, Array]:
        """The planes beside the difference drawn out against a direction."""
        if onward not in self._drawn:
            e = np.asarray(onward)
            sides = np.concatenate([np.cross(self._e_p, e), np.cross(self._e_q, e)], axis=1)
            sides = np.concatenate([sides, -sides], axis=1)
            gaps = np.concatenate([self._gaps, self._gaps_along(sides)], axis=1)
            axes = np.concatenate([self._axes, sides], axis=1)
            self._drawn[onward] = axes, np.where(axes @ e <= _PARALLEL, gaps, -_NONE)
        return self._drawn[onward]


class Lengths:
    """For pairs of bodies: which lengths of a first move are barred, and which not.

    Args:
        p, q: the bodies that move and that stand.
        rows, columns: their numbers, at the same place in both those of one pair.
    """

    def __init__(self, p: Stock, rows: Numbers, q: Stock, columns: Numbers) -> None:
        self._count = len(rows)
        self._kinds: list[tuple[NDArray[np.intp], _Kind]] = []
        both = p.kind[rows] * len(q.numbers) + q.kind[columns]
        for kind in np.unique(both):
            one, other = divmod(int(kind), len(q.numbers))
            chosen = np.nonzero(both == kind)[0]
            corners = p.vertices[one].shape[1] + q.vertices[other].shape[1]
            lines = 2 * p.edges[one].shape[1] * q.edges[other].shape[1] + corners
            step = max(1, _CHUNK // (corners * lines))
            for start in range(0, len(chosen), step):
                some = chosen[start : start + step]
                a, b = p.place[rows[some]], q.place[columns[some]]
                pairs = _Kind(
                    (p.vertices[one][a], p.edges[one][a], p.normals[one][a]),
                    (q.vertices[other][b], q.edges[other][b], q.normals[other][b]),
                )
                self._kinds.append((some, pairs))

    def until(self, way: Vec3, lets_pass: Flags) -> Array:
        """For each pair the length of a first move at which it ends; inf: it does not.

        Args:
            lets_pass: pairs that let each other pass in the first move.
        """
        low, high = self._inside(way, None)
        low = np.maximum(low, 0.0)
        return np.where((high > low + _LEAST) & ~lets_pass, low, _NONE)

    def barred(self, way: Vec3, onward: Vec3) -> tuple[Array, Array]:
        """For each pair the open interval of lengths from which the second move hits."""
        return self._inside(way, onward)

    def _inside(self, way: Vec3, onward: Vec3 | None) -> tuple[Array, Array]:
        low, high = np.empty(self._count), np.empty(self._count)
        for some, kind in self._kinds:
            low[some], high[some] = kind.inside(way, onward)
        return low, high
