"""Pieces cut from bars of stock lengths: the least that is bought, with its bound.

A kerf lies beside every piece but the last, so a bar holds what a bar that is a kerf longer
holds of pieces that are each a kerf longer. Lengths are mm; within, whole hundredths.

Where the fullest patterns are few, all of them are tried and the plan is the best there is;
else the plan is made of the patterns of column generation, and the bound is that program's.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.schedule.nesting.knapsack import cells_of, fullest
from kdkit.schedule.nesting.patterns import Master, Pattern, best_whole, generate

__all__ = ["Bar", "BarPlan", "cut_bars"]

_FINE = 100
_ALL = 1500  # fullest patterns that are tried one and all
_CELLS = 8_000_000  # lengths times pieces, above which sizes are taken at tenths


@dataclass(frozen=True)
class Bar:
    """A stock length, mm, how many of each piece come out of it, and how often it is cut so."""

    stock: float
    counts: tuple[int, ...]
    times: int


@dataclass(frozen=True)
class BarPlan:
    """All bars, longest first, and the least length, mm, that any plan buys.

    Args:
        unplaced: places of the pieces that no stock length has room for.
    """

    bars: tuple[Bar, ...]
    bound: float
    unplaced: tuple[int, ...] = ()

    @property
    def bought(self) -> float:
        """The stock lengths together, mm."""
        return math.fsum(bar.stock * bar.times for bar in self.bars)


def cut_bars(
    pieces: Sequence[tuple[float, int]], stocks: Sequence[float], kerf: float, trim: float
) -> BarPlan:
    """Return the plan that buys the least length.

    Args:
        pieces: length and how many.
        stocks: the lengths that are sold.
        trim: what comes off either end of a bar first, its cut included.
    """
    fine = _FINE
    rooms = {s: math.floor((s - 2 * trim + kerf) * fine + 1e-6) for s in sorted(set(stocks))}
    sizes = [math.ceil((length + kerf) * fine - 1e-6) for length, _ in pieces]
    longest = max(rooms.values(), default=0)
    unplaced = tuple(n for n, size in enumerate(sizes) if size > longest)
    sorts = sorted({size for size in sizes if size <= longest}, reverse=True)
    if not sorts:
        return BarPlan((), 0.0, unplaced)
    demand = [sum(c for s, (_, c) in zip(sizes, pieces, strict=True) if s == one) for one in sorts]
    rooms = {s: room for s, room in rooms.items() if room >= sorts[-1]}
    found, bound = _solve(sorts, demand, rooms)
    return BarPlan(tuple(_shared_out(found, sorts, sizes, pieces)), bound, unplaced)


def _solve(
    sizes: Sequence[int], demand: Sequence[int], rooms: dict[float, int]
) -> tuple[list[tuple[float, list[int]]], float]:
    """Return every bar with the counts of each size, and the bound, mm."""
    step = math.gcd(*(round(s * _FINE) for s in rooms)) / _FINE
    simple = _one_after_another(sizes, demand, rooms)
    cost = math.fsum(stock for stock, _ in simple)
    bound = _rounded_up(_by_length(sizes, demand, rooms), step)
    if cost <= bound + 1e-6:
        return simple, bound
    fullest_ones = _all_patterns(sizes, demand, rooms)
    if fullest_ones is not None:
        whole, proved = best_whole(fullest_ones, demand, bound)
        if whole is not None and proved:
            bars = _bars_of(fullest_ones, whole)
            return _without_surplus(bars, sizes, demand, rooms), math.fsum(s for s, _ in bars)
    if cells_of(max(rooms.values()), sizes) * len(sizes) > _CELLS:
        sizes = [math.ceil(s / 10) * 10 for s in sizes]  # still true pieces, a hair longer
        rooms = {stock: room // 10 * 10 for stock, room in rooms.items()}
        master = _generated(sizes, demand, rooms, simple)
    else:
        master = _generated(sizes, demand, rooms, simple)
        bound = max(bound, _rounded_up(master.bound, step))
    whole, _ = best_whole(master.patterns, demand, bound)
    if whole is not None:
        bars = _bars_of(master.patterns, whole)
        if math.fsum(s for s, _ in bars) < cost - 1e-6:
            simple = bars
    return _without_surplus(simple, sizes, demand, rooms), bound


def _generated(
    sizes: Sequence[int],
    demand: Sequence[int],
    rooms: dict[float, int],
    simple: Sequence[tuple[float, list[int]]],
) -> Master:
    """Return the master with its bound, begun with the patterns of a simple plan."""

    def price(prices: Sequence[float]) -> Iterator[Pattern]:
        for stock, room in rooms.items():
            yield Pattern(stock, fullest(room, sizes, prices, demand).counts, stock)

    begun = {(stock, tuple(counts)) for stock, counts in simple}
    return generate(
        Master(demand, [Pattern(stock, counts, stock) for stock, counts in sorted(begun)]), price
    )


def _by_length(sizes: Sequence[int], demand: Sequence[int], rooms: dict[float, int]) -> float:
    """Return the least length bought if bars could be filled without rest."""
    whole = sum(s * d for s, d in zip(sizes, demand, strict=True))
    return min(stock / room for stock, room in rooms.items()) * whole


def _rounded_up(length: float, step: float) -> float:
    """Return the next length that whole bars can come to."""
    return math.ceil(length / step * (1 - 1e-9) - 1e-6) * step


def _one_after_another(
    sizes: Sequence[int], demand: Sequence[int], rooms: dict[float, int]
) -> list[tuple[float, list[int]]]:
    """Return a plan that puts every piece, the longest first, into the first bar with room.

    The bars are the longest; each is then exchanged for the shortest that holds its pieces.
    """
    stock = max(rooms, key=lambda s: rooms[s])
    bars: list[tuple[int, list[int]]] = []
    for n, (size, many) in enumerate(zip(sizes, demand, strict=True)):
        left = many
        for at, (room, counts) in enumerate(bars):
            fits = min(left, room // size)
            counts[n] += fits
            bars[at] = (room - fits * size, counts)
            left -= fits
        while left:
            fits = min(left, rooms[stock] // size)
            counts = [0] * len(sizes)
            counts[n] = fits
            bars.append((rooms[stock] - fits * size, counts))
            left -= fits
    return [(_shortest(counts, sizes, rooms), counts) for _, counts in bars]


def _shortest(counts: Sequence[int], sizes: Sequence[int], rooms: dict[float, int]) -> float:
    filled = sum(c * s for c, s in zip(counts, sizes, strict=True))
    return min(stock for stock, room in rooms.items() if room >= filled)


def _all_patterns(
    sizes: Sequence[int], demand: Sequence[int], rooms: dict[float, int]
) -> list[Pattern] | None:
    """Return every pattern to which nothing can be added; None where they are many."""
    found: list[Pattern] = []
    visits = 0
    for stock, room in rooms.items():
        heap: list[tuple[int, int, tuple[int, ...]]] = [(0, room, ())]
        while heap:
            n, left, counts = heap.pop()
            visits += 1
            if visits > 20 * _ALL or len(found) > _ALL:
                return None
            if n == len(sizes):
                if all(c >= d or left < s for c, d, s in zip(counts, demand, sizes, strict=True)):
                    found.append(Pattern(stock, counts, stock))
                continue
            most = min(demand[n], left // sizes[n])
            heap += [(n + 1, left - c * sizes[n], (*counts, c)) for c in range(most + 1)]
    return found


def _bars_of(patterns: Sequence[Pattern], whole: Sequence[int]) -> list[tuple[float, list[int]]]:
    return [
        (pattern.cost, [round(c) for c in pattern.counts])
        for pattern, times in zip(patterns, whole, strict=True)
        for _ in range(times)
    ]


def _without_surplus(
    bars: list[tuple[float, list[int]]],
    sizes: Sequence[int],
    demand: Sequence[int],
    rooms: dict[float, int],
) -> list[tuple[float, list[int]]]:
    """Take off what is cut beyond need, where a bar then becomes the emptiest."""
    for n, asked in enumerate(demand):
        over = sum(counts[n] for _, counts in bars) - asked
        while over > 0:
            _, counts = min(
                (b for b in bars if b[1][n]),
                key=lambda b: (sum(c * s for c, s in zip(b[1], sizes, strict=True)), b),
            )
            counts[n] -= 1
            over -= 1
    return [(_shortest(counts, sizes, rooms), counts) for _, counts in bars if any(counts)]


def _shared_out(
    bars: Sequence[tuple[float, list[int]]],
    sorts: Sequence[int],
    sizes: Sequence[int],
    pieces: Sequence[tuple[float, int]],
) -> Iterator[Bar]:
    """Yield the bars, alike ones together, with the pieces of one size told apart again."""
    left = [count for _, count in pieces]
    ready: Counter[tuple[float, tuple[int, ...]]] = Counter()
    whole = Counter((stock, tuple(counts)) for stock, counts in bars)
    for (stock, counts), times in sorted(whole.items(), reverse=True):
        for _ in range(times):
            own = [0] * len(pieces)
            for size, many in zip(sorts, counts, strict=True):
                for n in (n for n, one in enumerate(sizes) if one == size):
                    taken = min(left[n], many)
                    own[n] += taken
                    left[n] -= taken
                    many -= taken
            ready[(stock, tuple(own))] += 1
    for (stock, own_counts), times in ready.items():
        yield Bar(stock, own_counts, times)
