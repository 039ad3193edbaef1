"""Frames of bars and pins against Maxwell's count and a rank worked out another way.

Source: J. C. Maxwell, On the calculation of the equilibrium and stiffness of frames,
Philosophical Magazine 27, 1864: bars + supports − 2·joints; below 0 something moves.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import nnls  # type: ignore[import-untyped]

from kdkit.inspect.small_motions import Motions

SQUARE = ((0, 1), (1, 2), (2, 3), (3, 0))
PINS = ((0.0, 0.0), (500.0, 0.0), (500.0, 400.0), (0.0, 400.0))


def pinned(bars: Sequence[tuple[int, int]], pins: Sequence[tuple[float, float]]) -> Motions:
    """Bars in the plane y = 0 as bodies that turn about y in each pin they share."""
    motions = Motions(len(bars))
    for n, m in itertools.combinations(range(len(bars)), 2):
        for pin in set(bars[n]) & set(bars[m]):
            at = (pins[pin][0], 0.0, pins[pin][1])
            for way in ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)):
                motions.nought.append(motions.row(n, m, at, way))
    for n in range(len(bars) - 1):  # in the plane: no shift along y, no turn out of it
        for column in (1, 3, 5):
            motions.nought.append([(6 * n + column, 1.0)])
    return motions


def mechanisms(bars: Sequence[tuple[int, int]], pins: Sequence[tuple[float, float]]) -> int:
    """2·pins − 3 less the rank of the bars' lengths: the ways in which the frame folds."""
    used = sorted({pin for bar in bars for pin in bar})
    rows = np.zeros((len(bars), 2 * len(pins)))
    for n, (a, b) in enumerate(bars):
        way = np.subtract(pins[b], pins[a])
        rows[n, 2 * a : 2 * a + 2], rows[n, 2 * b : 2 * b + 2] = -way, way
    return 2 * len(used) - 3 - int(np.linalg.matrix_rank(rows, tol=1e-6))


@pytest.mark.parametrize(
    ("bars", "count"), [(SQUARE, -1), ((*SQUARE, (0, 2)), 0), ((*SQUARE, (0, 2), (1, 3)), 1)]
)
def test_a_pinned_square_folds_and_one_with_a_diagonal_does_not(
    bars: Sequence[tuple[int, int]], count: int
) -> None:
    assert len(bars) + 3 - 2 * 4 == count  # Maxwell
    assert bool(pinned(bars, PINS).moving()) is (count < 0)


def test_random_frames_move_as_their_rank_says() -> None:
    source, seen = random.Random(5), set()
    pins = [(source.uniform(0, 900), source.uniform(0, 900)) for _ in range(6)]
    every = list(itertools.combinations(range(6), 2))
    for _ in range(60):
        bars = source.sample(every, source.randint(5, 11))
        reached = {bars[0][0]}
        for _ in bars:
            reached |= {p for bar in bars if reached & set(bar) for p in bar}
        if reached != {pin for bar in bars for pin in bar}:
            continue  # in two pieces
        folds = mechanisms(bars, pins)
        assert bool(pinned(bars, pins).moving()) is (folds > 0), bars
        seen.add(folds > 0)
    assert seen == {True, False}


def dense(rows: Sequence[Sequence[tuple[int, float]]], width: int) -> np.ndarray:
    matrix = np.zeros((len(rows), width))
    for n, row in enumerate(rows):
        for column, value in row:
            matrix[n, column] += value
    return matrix


def stays_shut(motions: Motions, row: int) -> bool:
    """Farkas: a row cannot open just if the others push its opposite; told by least squares.

    Another algorithm (active sets, C. L. Lawson and R. J. Hanson, Solving Least Squares Problems,
    1974) on the dual of what the linear program solves.
    """
    pushing = dense(motions.at_least, motions.width)
    holding = dense(motions.nought, motions.width)
    every = np.vstack([pushing, holding, -holding]).T
    pushes, _ = nnls(every, -pushing[row])  # the residual it reports is not always its own
    return bool(np.abs(every @ pushes + pushing[row]).max() < 1e-6)


def test_what_opens_agrees_with_a_second_solver() -> None:
    source, seen = random.Random(11), set()
    for _ in range(60):
        motions = Motions(source.randint(2, 4))
        bodies = range(motions.bodies)

        def anything(least: int, most: int, motions: Motions = motions) -> list[list]:
            rows = []
            for _ in range(source.randint(least, most)):
                one, other = source.sample(range(motions.bodies), 2)
                at = (*(float(source.randint(0, 5) * 100) for _ in range(3)),)
                way = source.choice([(1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0), (0, -1.0, 0)])
                rows.append(motions.row(one, other, at, way))
            return rows

        motions.at_least += anything(3, 14)
        motions.nought += anything(0, 5 * len(bodies) - 5)
        for row, opens in enumerate(motions.opening):
            assert stays_shut(motions, row) is not opens
            seen.add(opens)
    assert seen == {True, False}
