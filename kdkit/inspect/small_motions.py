"""The small motions that joints and contacts leave to rigid bodies: a cone, and what is in it.

Every body may shift and turn by a little, all at once. What must not happen is a row that
gives how fast something opens, at least 0; what cannot happen is a row that is 0. One linear
program opens all that can open: two motions that may be may both be, one after the other, so
there is one motion that opens everything at once. What it leaves shut stays shut in every
motion; so the motions are those of a linear space, and a body moves if that space moves it.

Source:
    Small motions of rigid bodies with one-sided contacts, as linear programs, and the rank of
    the rows that stay shut: computed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3, add, cross, norm, scaled

__all__ = ["METRE", "Motions", "Row", "Twist"]

METRE = 1000.0  # mm; turns are weighed against shifts over so much
_OPENS = 0.5  # of 1, which the program gives to every row that can open
_FARTHEST = 1e3  # times the speed at which a row counts as open
_NOUGHT = 1e-7  # of the largest singular value
_MOVES = 1e-5
_STILL = 1e-7

Row = list[tuple[int, float]]
"""The numbers of a condition that are not nought, with their columns."""

_WAYS: tuple[Vec3, ...] = (
    (0.0, 0.0, 1.0),
    (0.0, -1.0, 0.0),
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, 0.0, -1.0),
)


@dataclass(frozen=True)
class Twist:
    """A small motion of one body.

    Args:
        shift: a unit vector where it only shifts, else the shift along ``axis``, 0 if none.
        axis: a unit vector along which it turns, None where it only shifts.
        point: on the axis, mm.
    """

    shift: Vec3
    axis: Vec3 | None = None
    point: Vec3 = (0.0, 0.0, 0.0)


@dataclass
class Motions:
    """The conditions on small motions of some bodies, row by row.

    A body's motion is a shift and a turn about the origin (in metres): six numbers; the last
    body has none, so that the whole stays where it is.
    """

    bodies: int
    at_least: list[Row] = field(default_factory=list)  # row · motion ≥ 0
    nought: list[Row] = field(default_factory=list)

    @property
    def width(self) -> int:
        """How many numbers a motion has."""
        return 6 * (self.bodies - 1)

    def row(self, one: int, other: int, at: Vec3, way: Vec3, turn: Vec3 = (0, 0, 0)) -> Row:
        """Return how fast body ``one`` moves off ``other`` along a way, at a point.

        ``turn``: added to it, how fast it turns about that vector.
        """
        x, y, z = add(cross(scaled(at, 1 / METRE), way), turn)
        found = []
        for body, sign in ((one, 1.0), (other, -1.0)):
            if body < self.bodies - 1:
                found += [(6 * body + n, sign * v) for n, v in enumerate((*way, x, y, z)) if v]
        return found

    @cached_property
    def opening(self) -> tuple[bool, ...]:
        """Of each row of ``at_least`` whether some motion opens it."""
        count = len(self.at_least)
        if not count:
            return ()
        left = _left_by(self.nought, self.width)
        if len(left) < 2:
            return _opened_along(left, self.at_least)
        rows: list[Row] = [
            [*((n, -v) for n, v in row), (self.width + n, 1.0)]
            for n, row in enumerate(self.at_least)
        ]  # no faster than it opens
        costs = [0.0] * self.width + [-1.0] * count
        # without an end, the program's slack of 1e-7 grows to a motion that is not there
        bounds = [(-_FARTHEST, _FARTHEST)] * self.width + [(0.0, 1.0)] * count
        found = self._solved(costs, rows, self.nought, bounds)
        if found is None:  # not to be decided: then nothing is said
            return (False,) * count
        return tuple(bool(value > _OPENS) for value in found[self.width :])

    @cached_property
    def _space(self) -> NDArray[np.float64]:
        """The linear space of motions that open nothing that stays shut; a motion a row."""
        shut = [row for row, opens in zip(self.at_least, self.opening, strict=True) if not opens]
        return _left_by([*self.nought, *shut], self.width)

    def moving(self) -> tuple[int, ...]:
        """Return the bodies that some motion moves against the last one."""
        if self.width == 0 or not len(self._space):
            return ()
        by_body = np.abs(self._space).reshape(len(self._space), self.bodies - 1, 6)
        return tuple(int(n) for n in np.flatnonzero(by_body.max(axis=(0, 2)) > _MOVES))

    def stop_those_that_move_alone(self) -> None:
        """Take away what a body can do while all others stay where they are.

        Only for conditions without ``at_least``, and before anything is asked.
        """
        own: dict[int, list[list[float]]] = {}
        for row in self.nought:
            by_body: dict[int, list[float]] = {}
            for column, value in row:
                by_body.setdefault(column // 6, [0.0] * 6)[column % 6] += value
            for body, values in by_body.items():
                own.setdefault(body, []).append(values)
        for body, rows in own.items():
            _, sizes, turned = np.linalg.svd(np.array(rows))
            rank = int((sizes > _NOUGHT * max(float(sizes[0]), 1.0)).sum())
            for free in turned[rank:]:
                self.nought.append([(6 * body + n, float(v)) for n, v in enumerate(free)])

    def turning(self) -> NDArray[np.float64]:
        """Return how much each body but the last turns about x, y and z, over all motions."""
        if self.width == 0:
            return np.zeros((0, 3))
        by_body = self._space.reshape(len(self._space), self.bodies - 1, 6)
        return np.asarray(np.sqrt((by_body[:, :, 3:] ** 2).sum(axis=0)), dtype=np.float64)

    def twist(self, body: int) -> Twist | None:
        """Return a motion of a body that is easy to name: a shift along an axis, else a turn."""
        for way in _WAYS:
            found = self._pushed(body, way, (0.0, 0.0, 0.0), shifting=True)
            if found is not None:
                return Twist(way)
        for turn in _WAYS:
            found = self._pushed(body, (0.0, 0.0, 0.0), turn, shifting=False)
            if found is not None:
                return _twist(found)
        return None

    def _pushed(
        self, body: int, way: Vec3, turn: Vec3, *, shifting: bool
    ) -> NDArray[np.float64] | None:
        """Return the body's motion that goes most along a way or turns most, None if none does."""
        first = 6 * body
        costs = [0.0] * self.width
        costs[first : first + 6] = [-v for v in (*way, *turn)]
        fixed: list[Row] = []
        if shifting:  # it goes that way and no other, and does not turn
            fixed = [[(first + 3 + n, 1.0)] for n in range(3)]
            fixed += [[(first + n, 1.0)] for n in range(3) if not way[n]]
        rows = [[(n, -v) for n, v in row] for row in self.at_least]
        found = self._solved(costs, rows, [*self.nought, *fixed], [(-1.0, 1.0)] * self.width)
        if found is None or -sum(c * v for c, v in zip(costs, found, strict=True)) < 1e-3:
            return None
        return found[first : first + 6]

    def _solved(
        self,
        costs: Sequence[float],
        at_most: Sequence[Row],
        nought: Sequence[Row],
        bounds: Sequence[tuple[float | None, float | None]],
    ) -> NDArray[np.float64] | None:
        from scipy.optimize import linprog  # type: ignore[import-untyped]  # late, seldom needed

        found = linprog(
            costs,
            A_ub=_matrix(at_most, len(costs)) if at_most else None,
            b_ub=[0.0] * len(at_most) if at_most else None,
            A_eq=_matrix(nought, len(costs)) if nought else None,
            b_eq=[0.0] * len(nought) if nought else None,
            bounds=bounds,
            method="highs",
        )
        return np.asarray(found.x, dtype=np.float64) if found.success else None


def _left_by(nought: Sequence[Row], width: int) -> NDArray[np.float64]:
    """Return the linear space of motions in which rows are nought; a motion a row."""
    if not nought or not width:
        return np.eye(width)
    matrix = np.zeros((len(nought), width))
    for n, row in enumerate(nought):
        for column, value in row:
            matrix[n, column] += value
    _, sizes, turned = np.linalg.svd(matrix)
    rank = int((sizes > _NOUGHT * max(float(sizes[0]), 1.0)).sum())
    return np.asarray(turned[rank:], dtype=np.float64)


def _opened_along(space: NDArray[np.float64], rows: Sequence[Row]) -> tuple[bool, ...]:
    """Return which rows open where all bodies can only follow one motion, to and fro, or none.

    It goes one way or the other, or not at all where rows stand against both. A row counts
    as open by the same speeds as in the program, which this case needs not.
    """
    if not len(space):
        return (False,) * len(rows)
    motion = space[0] / np.abs(space[0]).max()
    speeds = np.array([sum(v * motion[column] for column, v in row) for row in rows])
    for way in (speeds, -speeds):
        if float(way.min()) > -_STILL:
            return tuple(bool(speed * _FARTHEST > _OPENS) for speed in way)
    return (False,) * len(rows)


def _twist(motion: NDArray[np.float64]) -> Twist:
    """Return a motion as a turn about an axis, and a shift along it."""
    shift: Vec3 = (float(motion[0]), float(motion[1]), float(motion[2]))
    turn: Vec3 = (float(motion[3]), float(motion[4]), float(motion[5]))
    size = norm(turn)
    axis = scaled(turn, 1 / size)
    along = sum(a * b for a, b in zip(shift, axis, strict=True))
    point = scaled(cross(turn, shift), METRE / size**2)
    slid = scaled(axis, along) if abs(along) > _STILL else (0.0, 0.0, 0.0)
    return Twist(slid, axis, point)


def _matrix(rows: Sequence[Row], width: int) -> object:
    """Return rows as a matrix in which the noughts take no room."""
    from scipy.sparse import csr_matrix  # type: ignore[import-untyped]

    filled = [(n, column, v) for n, row in enumerate(rows) for column, v in row]
    lines, columns, values = zip(*filled, strict=True) if filled else ((), (), ())
    return csr_matrix((values, (lines, columns)), shape=(len(rows), width))
