"""Which ground on paper is taken: a raster on which labels and details find free places.

Paper millimetres, y down. Cells are square; a question about a box or a line costs the
same however much is drawn.

Free places are sought on a raster, not with polygons. One millimetre is fine enough for
labels, and a question costs the same however much is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2

__all__ = ["CELL", "Ground", "Sides", "fill_loops", "fill_sides", "sides_of"]

Array = NDArray[np.float64]
Cells = NDArray[np.bool_]

Sides = tuple[Array, Array]
"""Straight lines: where they start and where they end, each (N, 2)."""

CELL = 1.0
"""Side of a cell, mm: about the white that is kept round anything."""


_BESIDE = ((0.0, 0.0), *((dx * CELL, dy * CELL) for dx in (-0.4, 0.4) for dy in (-0.4, 0.4)))
"""A line is widened to these when it has to be tight."""


@dataclass
class Ground:
    """A piece of paper; what lies outside of it counts as free.

    Args:
        x0, y0: its upper left corner.
        cells: rows of cells, True where something is drawn; to be changed by methods only.
    """

    x0: float
    y0: float
    cells: Cells
    _sums: NDArray[np.int32] | None = field(default=None, repr=False, compare=False)

    @classmethod
    def blank(cls, bounds: tuple[float, float, float, float]) -> Ground:
        """Return free ground over ``(x0, y0, x1, y1)``."""
        x0, y0, x1, y1 = bounds
        size = (math.ceil((y1 - y0) / CELL) + 1, math.ceil((x1 - x0) / CELL) + 1)
        return cls(x0, y0, np.zeros(size, dtype=bool))

    def copy(self) -> Ground:
        """Return ground that is filled on its own from here."""
        return Ground(self.x0, self.y0, self.cells.copy())

    def blank_copy(self) -> Ground:
        """Return free ground of the same place and size."""
        return Ground(self.x0, self.y0, np.zeros_like(self.cells))

    def take(self, other: Ground) -> None:
        """Take what is taken of other ground of the same place and size."""
        self.cells |= other.cells
        self._sums = None

    def fill(self, loops: Iterable[Sequence[Vec2] | Array]) -> None:
        """Take the ground inside closed loops, even-odd."""
        self.fill_sides(*sides_of(loops))

    def fill_sides(self, starts: Array, ends: Array) -> None:
        """Take the ground inside closed loops that are given as their sides, even-odd."""
        self.cells |= fill_sides(starts, ends, self.x0, self.y0, self.cells.shape)
        self._sums = None

    def fill_box(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Take every cell that a box touches."""
        rows, columns = self.cells.shape
        r0, r1 = math.floor((y0 - self.y0) / CELL), math.ceil((y1 - self.y0) / CELL)
        c0, c1 = math.floor((x0 - self.x0) / CELL), math.ceil((x1 - self.x0) / CELL)
        self.cells[max(0, r0) : max(0, min(rows, r1)), max(0, c0) : max(0, min(columns, c1))] = True
        self._sums = None

    def draw(self, lines: Iterable[Sequence[Vec2] | Array], *, tight: bool = False) -> None:
        """Take the cells under polylines; ``tight``: so that nothing slips between two cells."""
        self.draw_sides(*sides_of(lines, closed=False), tight=tight)

    def draw_sides(self, starts: Array, ends: Array, *, tight: bool = False) -> None:
        """Take the cells under straight lines."""
        self._sums = None
        counts = np.ceil(np.hypot(*(ends - starts).T) / (0.6 * CELL)).astype(int) + 1
        which = np.repeat(np.arange(len(counts)), counts)
        first = np.repeat(np.cumsum(counts) - counts, counts)
        share = (np.arange(len(which)) - first) / np.maximum(counts[which] - 1, 1)
        at = starts[which] + (ends - starts)[which] * share[:, None]
        for dx, dy in _BESIDE if tight else _BESIDE[:1]:
            row, column, inside = self._cell_of(at + np.array([dx, dy]))
            self.cells[row[inside], column[inside]] = True

    def free_grid(self, x0: Array, y0: Array, x1: Array, y1: Array) -> Cells:
        """Tell which boxes of a grid touch no taken cell.

        Args:
            x0, x1: where the columns of boxes begin and end.
            y0, y1: where the rows do.

        Returns:
            rows of columns.
        """
        rows, columns = self.cells.shape
        total = self._summed()

        def at(value: Array, start: float, most: int, *, up: bool) -> NDArray[np.intp]:
            cell = (value - start) / CELL
            whole = np.ceil(cell - 1e-9) if up else np.floor(cell + 1e-9)
            clipped: NDArray[np.intp] = np.clip(whole, 0, most).astype(np.intp)
            return clipped

        r0, r1 = at(y0, self.y0, rows, up=False), at(y1, self.y0, rows, up=True)
        c0, c1 = at(x0, self.x0, columns, up=False), at(x1, self.x0, columns, up=True)
        strips = total[r1] - total[r0]
        free: Cells = strips[:, c1] == strips[:, c0]
        return free

    def is_taken_in(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Tell whether a box touches a taken cell."""
        r0, c0 = (math.floor(v / CELL + 1e-9) for v in (y0 - self.y0, x0 - self.x0))
        r1, c1 = (math.ceil(v / CELL - 1e-9) for v in (y1 - self.y0, x1 - self.x0))
        return bool(self.cells[max(0, r0) : max(0, r1), max(0, c0) : max(0, c1)].any())

    def _summed(self) -> NDArray[np.int32]:
        """Return how many cells are taken above and to the left of each corner."""
        if self._sums is None:
            rows, columns = self.cells.shape
            total = np.zeros((rows + 1, columns + 1), dtype=np.int32)
            np.cumsum(self.cells, axis=0, out=total[1:, 1:])
            np.cumsum(total[1:, 1:], axis=1, out=total[1:, 1:])
            self._sums = total
        return self._sums

    def along(self, starts: Array, ends: Array, *others: Ground) -> tuple[Array, ...]:
        """Return the length over taken ground of each of many lines, mm.

        Args:
            starts, ends: (N, 2).
            others: more ground of the same place and size, answered after this one.
        """
        length = np.hypot(*(ends - starts).T)
        count = int(max(2, math.ceil(float(length.max(initial=0.0)) / CELL)))
        share = (np.arange(count) + 0.5) / count
        at = starts[:, None, :] + (ends - starts)[:, None, :] * share[None, :, None]
        row, column, inside = self._cell_of(at.reshape(-1, 2))
        columns = self.cells.shape[1]
        place = np.where(inside, row * columns + column, 0)
        found = []
        for ground in (self, *others):
            hit = ground.cells.ravel()[place] & inside
            found.append(hit.reshape(len(starts), count).mean(axis=1) * length)
        return tuple(found)

    def _cell_of(self, at: Array) -> tuple[NDArray[np.intp], NDArray[np.intp], Cells]:
        column = np.floor((at[:, 0] - self.x0) / CELL + 1e-9).astype(np.intp)
        row = np.floor((at[:, 1] - self.y0) / CELL + 1e-9).astype(np.intp)
        rows, columns = self.cells.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return row, column, inside


def fill_loops(
    loops: Iterable[Sequence[Vec2] | Array],
    x0: float,
    y0: float,
    shape: tuple[int, int],
    cell: float = CELL,
) -> Cells:
    """Return the cells whose middles lie inside closed loops, even-odd."""
    return fill_sides(*sides_of(loops), x0, y0, shape, cell)


def sides_of(lines: Iterable[Sequence[Vec2] | Array], *, closed: bool = True) -> Sides:
    """Return the straight sides of polylines, or of loops."""
    least = 3 if closed else 2
    kept = [line for line in lines if len(line) >= least]
    if not kept:
        return np.zeros((0, 2)), np.zeros((0, 2))
    at = np.concatenate([np.asarray(line, dtype=float) for line in kept])
    sizes = np.array([len(line) for line in kept])
    last = np.cumsum(sizes) - 1
    if closed:
        follower = np.arange(1, len(at) + 1)
        follower[last] = last - sizes + 1
        return at, at[follower]
    inner = np.ones(len(at), dtype=bool)
    inner[last] = False
    start = np.flatnonzero(inner)
    return at[start], at[start + 1]


def fill_sides(
    p: Array, q: Array, x0: float, y0: float, shape: tuple[int, int], cell: float = CELL
) -> Cells:
    """Return the cells whose middles lie inside closed loops given as their sides, even-odd.

    Args:
        p, q: where the sides start and end, in any order.

    Source:
        Scan-line filling by counting crossings to the left of each cell's middle.
    """
    rows, columns = shape
    if not len(p):
        return np.zeros(shape, dtype=bool)
    low = np.minimum(p[:, 1], q[:, 1])
    high = np.maximum(p[:, 1], q[:, 1])
    first = np.clip(np.ceil((low - y0) / cell - 0.5), 0, rows).astype(np.intp)
    last = np.clip(np.ceil((high - y0) / cell - 0.5), 0, rows).astype(np.intp)
    counts = last - first
    which = np.repeat(np.arange(len(p)), counts)
    row = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts) + first[which]
    y = y0 + (row + 0.5) * cell
    rise = (q - p)[which]
    x = p[which, 0] + (y - p[which, 1]) * rise[:, 0] / rise[:, 1]
    column = np.clip(np.ceil((x - x0) / cell - 0.5), 0, columns).astype(np.intp)
    flips = np.bincount(row * (columns + 1) + column, minlength=rows * (columns + 1))
    odd = flips.reshape(rows, columns + 1).cumsum(axis=1) % 2
    filled: Cells = odd[:, :columns].astype(bool)
    return filled
