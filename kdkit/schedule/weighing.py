"""Whether weighing shows that a piece is missing or one too many.

A bag is right if the scale shows its mass within plus or minus half of its lightest piece.
What it shows of right bags differs, since pieces differ, their mean was weighed on some only,
and the scale errs:

    s² = scale² + Σ sᵢ² · (nᵢ + nᵢ² / r)

for nᵢ pieces of standard deviation sᵢ whose mean was taken from r pieces. With the mean known
and a scale without error that is Σ nᵢ·sᵢ², and one piece too few shows where m_min / 2 ≥ z · s.

Source:
    Sums of independent normal deviations; computed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

__all__ = ["Load", "average_factor", "found_shares", "most_pieces", "readings_spread", "shows_one"]

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Load:
    """Pieces alike on the scale: how many, mass and standard deviation of one, g."""

    count: int
    mass: float
    spread: float


def readings_spread(loads: Iterable[Load], weighed: float, error: float) -> float:
    """Return the standard deviation of what the scale shows for right bags, g.

    Args:
        weighed: pieces of each item that were weighed for its mean; infinite: it is known.
        error: standard deviation of one reading, g.

    >>> dowels, bolts, cams = Load(16, 1.09, 0.05), Load(8, 8, 0.03), Load(8, 9, 0.06)
    >>> round(readings_spread((dowels, bolts, cams), math.inf, 0.0), 3)
    0.276
    """
    pieces = sum(p.spread**2 * (p.count + p.count**2 / weighed) for p in loads)
    return math.sqrt(error**2 + pieces)


def shows_one(loads: Sequence[Load], weighed: float, error: float, found: float) -> bool:
    """Tell whether of all bags with a piece too few or too many such a share is found.

    And that right bags pass, to either side as often: where the scale shows anything, each
    wrong bag is "found", with all the right ones.
    """
    limit = min(load.mass for load in loads) / 2
    if limit < _NORMAL.inv_cdf(found) * readings_spread(loads, weighed, error):
        return False
    return all(min(pair) >= found for pair in found_shares(loads, weighed, error))


def found_shares(
    loads: Sequence[Load], weighed: float, error: float
) -> tuple[tuple[float, float], ...]:
    """Return for each of the loads which share of the bags is found that lack one piece of it,
    and of those that hold one too many."""
    limit = min(load.mass for load in loads) / 2
    shares = []
    for n, load in enumerate(loads):
        pair = []
        for change in (-1, 1):
            there = [
                Load(p.count + change * (m == n), p.mass, p.spread) for m, p in enumerate(loads)
            ]
            # The mean error counts for what should be there; pieces differ for what is.
            deviations = error**2 + sum(
                p.spread**2 * (is_.count + p.count**2 / weighed)
                for p, is_ in zip(loads, there, strict=True)
            )
            pair.append(_outside(load.mass, limit, math.sqrt(deviations)))
        shares.append((pair[0], pair[1]))
    return tuple(shares)


def _outside(away: float, limit: float, deviation: float) -> float:
    """Return how often a normal value about ``away`` lies beyond plus or minus ``limit``."""
    if deviation <= 0.0:
        return 1.0 if away > limit else 0.0
    beyond = _NORMAL.cdf((away - limit) / deviation)
    return beyond + _NORMAL.cdf((-away - limit) / deviation)


def most_pieces(one: Load, weighed: float, error: float, found: float) -> int:
    """Return how many pieces alike a bag may hold so that one too few or too many shows."""
    low, high = 0, 1
    while high < 100_000 and shows_one((_of(one, high),), weighed, error, found):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if shows_one((_of(one, middle),), weighed, error, found):
            low = middle
        else:
            high = middle
    return low


def _of(one: Load, count: int) -> Load:
    return Load(count, one.mass, one.spread)


def average_factor(weighed: int) -> float:
    """Return k: the mean of so many pieces is taken for another than the one said if it lies
    further from it than k of their standard deviation.

    99 of 100 true means lie nearer. k = t(0.995; n - 1) / √n.

    Source:
        UK SI 2006/659, schedule 2, test of the average of packages, whose k it gives.

    >>> [round(average_factor(n), 3) for n in (20, 30, 50)]
    [0.64, 0.503, 0.379]
    """
    return _student_quantile(0.995, weighed - 1) / math.sqrt(weighed)


def _student_quantile(share: float, freedom: int) -> float:
    """Return the quantile of Student's t, by halving on its summed density (Simpson's rule)."""
    scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2))
    scale /= math.sqrt(freedom * math.pi)

    def density(t: float) -> float:
        return scale * math.pow(1 + t * t / freedom, -(freedom + 1) / 2)

    def below(t: float) -> float:
        steps = 400
        width = t / steps
        ends = density(0.0) + density(t)
        inner = sum((4 if n % 2 else 2) * density(n * width) for n in range(1, steps))
        return 0.5 + (ends + inner) * width / 3

    low, high = 0.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle) < share else (low, middle)
    return (low + high) / 2
