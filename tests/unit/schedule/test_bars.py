"""Timber from stock lengths: nothing lost, nothing overfilled, known optima met."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from functools import cache

import pytest

from kdkit.schedule.nesting.bars import BarPlan, cut_bars
from kdkit.schedule.nesting.knapsack import fullest

KNOWN = {
    # V. Chvátal, Linear Programming, 1983, chapter 13, from memory: raws of 100 inches, of the
    # linear program 452.25.
    "chvatal": ([(45, 97), (36, 610), (31, 395), (14, 211)], 100, 453),
    # Thirteen widths from a master roll of 5600 mm, an often printed example, from memory.
    "rolls": (
        [
            (1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20),
            (2000, 10), (2050, 12), (2100, 14), (2140, 16), (2150, 18), (2200, 20),
        ],
        5600,
        73,
    ),
}  # fmt: skip


def check(plan: BarPlan, pieces: Sequence[tuple[float, int]], kerf: float, trim: float) -> None:
    """Every piece once; every bar holds its pieces with a kerf between, inside its trims."""
    placed = [n for n in range(len(pieces)) if n not in plan.unplaced]
    for n in placed:
        assert sum(bar.counts[n] * bar.times for bar in plan.bars) == pieces[n][1]
    for bar in plan.bars:
        cut = [pieces[n][0] for n, count in enumerate(bar.counts) for _ in range(count)]
        filled = math.fsum(cut) + kerf * (len(cut) - 1)
        assert filled <= bar.stock - 2 * trim + 0.02 * len(cut)
        assert cut
    assert plan.bound <= plan.bought + 1e-6


@pytest.mark.parametrize("name", KNOWN)
def test_known_optima(name: str) -> None:
    pieces, stock, optimum = KNOWN[name]
    plan = cut_bars(pieces, [stock], 0, 0)
    check(plan, pieces, 0, 0)
    assert (plan.bought / stock, plan.bound / stock) == (optimum, optimum)


def test_triplets_fill_every_bar() -> None:
    """Each bar is filled without rest by three pieces, so their number is the optimum.

    Source: the kind of E. Falkenauer, A hybrid grouping genetic algorithm for bin packing,
    Journal of Heuristics 2, 1996; the pieces are drawn here.
    """
    draw = random.Random(7)
    pieces: list[tuple[float, int]] = []
    for _ in range(15):
        a = draw.randint(380, 490)
        b = draw.randint(251, (1000 - a) // 2)
        pieces += [(a, 1), (b, 1), (1000 - a - b, 1)]
    plan = cut_bars(pieces, [1000], 0, 0)
    check(plan, pieces, 0, 0)
    assert plan.bound == 15_000
    assert plan.bought == 15_000


def least_by_trying(sizes: tuple[int, ...], stocks: dict[int, int]) -> int:
    """Return the least length bought, by trying every way to fill one bar after another."""

    @cache
    def least(left: tuple[int, ...]) -> int:
        if not left:
            return 0
        first, rest = left[0], left[1:]
        best = 10**9
        for many in range(len(rest) + 1):
            for others in set(itertools.combinations(range(len(rest)), many)):
                filled = first + sum(rest[n] for n in others)
                for stock, room in stocks.items():
                    if filled <= room:
                        after = tuple(v for n, v in enumerate(rest) if n not in others)
                        best = min(best, stock + least(after))
        return best

    return least(tuple(sorted(sizes, reverse=True)))


@pytest.mark.parametrize("seed", range(12))
def test_small_plans_are_the_best_there_are(seed: int) -> None:
    draw = random.Random(seed)
    kerf, trim = draw.choice(((0, 0), (4, 10)))
    stocks = draw.sample((1200, 1500, 1900, 2400), draw.randint(1, 3))
    lengths = [draw.randint(180, 1100) for _ in range(7)]
    plan = cut_bars([(length, 1) for length in lengths], stocks, kerf, trim)
    check(plan, [(length, 1) for length in lengths], kerf, trim)
    rooms = {s: s - 2 * trim + kerf for s in stocks}
    best = least_by_trying(tuple(length + kerf for length in lengths), rooms)
    assert plan.bought == best
    assert plan.bound == best


@pytest.mark.parametrize("count", [1, 7, 200])
def test_batches_come_near_their_bound(count: int) -> None:
    draw = random.Random(4)
    pieces = [(draw.randint(800, 19000) / 10, draw.randint(1, 4) * count) for _ in range(14)]
    plan = cut_bars(pieces, (2400, 3000, 3600), 4.4, 15)
    check(plan, pieces, 4.4, 15)
    assert plan.bought <= plan.bound * (1 + (0.02 if count == 1 else 0.002)) + 600 * (count < 8)


def test_what_is_longer_than_every_bar_is_left_out() -> None:
    pieces = [(2400.0, 2), (2370.0, 1), (10.0, 3)]
    plan = cut_bars(pieces, (2000, 2400), 4.4, 15)
    assert plan.unplaced == (0,)
    check(plan, pieces, 4.4, 15)
    assert cut_bars([(5000.0, 1)], (2000,), 0, 0) == BarPlan((), 0.0, (0,))


@pytest.mark.parametrize("seed", range(20))
def test_a_filling_is_the_best(seed: int) -> None:
    draw = random.Random(seed)
    sizes = [draw.randint(3, 40) for _ in range(4)]
    worths = [draw.uniform(0, 9) for _ in sizes]
    most = [draw.randint(0, 4) for _ in sizes]
    capacity = draw.randint(20, 110)
    best = max(
        sum(c * w for c, w in zip(counts, worths, strict=True))
        for counts in itertools.product(*(range(m + 1) for m in most))
        if sum(c * s for c, s in zip(counts, sizes, strict=True)) <= capacity
    )
    found = fullest(capacity, sizes, worths, most)
    assert found.worth == pytest.approx(best)
    assert sum(c * s for c, s in zip(found.counts, sizes, strict=True)) <= capacity
    assert all(c <= m for c, m in zip(found.counts, most, strict=True))
