"""What a scale shows of a bag."""

from __future__ import annotations

import math
import random

import pytest

from kdkit.schedule.weighing import (
    Load,
    average_factor,
    found_shares,
    most_pieces,
    readings_spread,
    shows_one,
)

DOWELS, BOLTS, CAMS = Load(16, 1.09, 0.05), Load(8, 8.0, 0.03), Load(8, 9.0, 0.06)


def test_a_bag_whose_means_are_known() -> None:
    # By hand: 16 · 0.05² + 8 · 0.03² + 8 · 0.06² = 0.0760; half a dowel is 1.98 of its root.
    spread = readings_spread((DOWELS, BOLTS, CAMS), math.inf, 0.0)
    assert spread == pytest.approx(0.276, abs=0.0005)
    assert DOWELS.mass / 2 / spread == pytest.approx(1.98, abs=0.005)


@pytest.mark.parametrize(("weighed", "most"), [(10, 56), (50, 114), (math.inf, 376)])
def test_counting_by_weight(weighed: float, most: int) -> None:
    # Pieces that differ by 1 %: right in 99 of 100 bags up to so many (z = 2.576, both sides).
    def within(n: int) -> bool:
        return 2.5758 * readings_spread((Load(n, 1.0, 0.01),), weighed, 0.0) <= 0.5

    assert within(most)
    assert not within(most + 1)


@pytest.mark.parametrize(("n", "k"), [(20, 0.640), (30, 0.503), (50, 0.379)])
def test_the_average_of_packages(n: int, k: float) -> None:
    """Source: UK SI 2006/659, schedule 2."""
    assert average_factor(n) == pytest.approx(k, abs=0.0005)


def test_half_a_piece_of_the_lightest_is_the_limit_for_all() -> None:
    # By hand: 0.545 / √(17 · 0.0025 + 0.0009 · 8 + 0.0036 · 8) = 1.945 for one dowel more.
    shares = found_shares((DOWELS, BOLTS, CAMS), math.inf, 0.0)
    assert shares[0] == pytest.approx((0.9778, 0.9741), abs=0.0002)
    assert min(shares[1]) > 0.99999
    assert shows_one((DOWELS, BOLTS, CAMS), math.inf, 0.0, 0.97)
    assert not shows_one((DOWELS, BOLTS, CAMS), math.inf, 0.0, 0.98)


def test_a_scale_on_which_right_bags_fail_too_shows_nothing() -> None:
    nails, blocks = Load(4, 0.31, 0.006), Load(5, 500.0, 3.5)
    shares = found_shares((nails, blocks), 50, 0.2)
    assert min(min(pair) for pair in shares) > 0.95  # nearly every reading is outside
    assert not shows_one((nails, blocks), 50, 0.2, 0.95)


def test_the_scale_counts_too() -> None:
    nails = Load(1, 0.33, 0.0)
    assert most_pieces(nails, math.inf, 0.02, 0.95) > 1000
    assert most_pieces(nails, math.inf, 0.2, 0.95) == 0  # half a nail is less than it errs


def test_the_most_pieces_are_the_most() -> None:
    one = Load(1, 1.25, 0.05)
    most = most_pieces(one, 50, 0.02, 0.95)
    assert shows_one((Load(most, 1.25, 0.05),), 50, 0.02, 0.95)
    assert not shows_one((Load(most + 1, 1.25, 0.05),), 50, 0.02, 0.95)


def test_shares_come_out_so_when_pieces_are_drawn() -> None:
    chance = random.Random(8)
    pair = (Load(6, 2.0, 0.15), Load(3, 5.0, 0.2))
    told = found_shares(pair, 20, 0.1)
    nominal = sum(p.count * p.mass for p in pair)
    for n in (0, 1):
        for change, share in zip((-1, 1), told[n], strict=True):
            found = 0
            for _ in range(4000):
                shown = chance.gauss(0.0, 0.1)
                for m, p in enumerate(pair):
                    shown += p.count * chance.gauss(0.0, p.spread / math.sqrt(20))
                    there = p.count + change * (m == n)
                    shown += sum(chance.gauss(p.mass, p.spread) for _ in range(there))
                found += abs(shown - nominal) > 1.0
            assert found / 4000 == pytest.approx(share, abs=0.02)
