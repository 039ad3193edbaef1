"""Timber to buy: pieces of one section cut from stock lengths, with settings and offcuts.

A section is what the cut list says: thickness and cut width. Pieces are cut square at their
greatest length and mitred after that, so a mitre costs no timber beyond its long point.

The stop is set once a length, the longest first: each setting serves every bar that has pieces
of that length, so nothing is measured twice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import BoardMaterial
from kdkit.schedule.nesting.bars import Bar, cut_bars
from kdkit.schedule.saw import LENGTHS, Saw
from kdkit.schedule.schedules import CutLine

__all__ = ["Stop", "TimberBar", "TimberOrder", "is_timber", "order_timber"]


@dataclass(frozen=True)
class TimberBar:
    """Bars that are cut alike, numbered ``first`` to ``last``.

    Args:
        pieces: letter, length, how many, the longest first.
        rest: what is left beyond the far end's trim, mm, 0 where that is less than a kerf.
    """

    first: int
    last: int
    stock: float
    pieces: tuple[tuple[str, float, int], ...]
    rest: float

    @property
    def times(self) -> int:
        """How many bars there are of it."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class Stop:
    """One setting of the stop: pieces of one letter cut from several bars.

    Args:
        bars: first and last number of bars cut alike, pieces out of each.
    """

    length: float
    letter: str
    count: int
    bars: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, kw_only=True)
class TimberOrder:
    """What one section of timber comes to.

    Args:
        section: the smaller and the larger side, mm.
        count, net: pieces, and their lengths together, mm.
        usual: the stock lengths are nobody's but those of common practice.
        bound: no plan buys less length, mm.
        offcuts: length and how many, of those worth keeping, the longest first.
        unplaced: letters of pieces longer than every stock length.
    """

    section: tuple[float, float]
    count: int
    net: float
    stocks: tuple[float, ...]
    usual: bool
    bars: tuple[TimberBar, ...]
    stops: tuple[Stop, ...]
    bound: float
    offcuts: tuple[tuple[float, int], ...]
    unplaced: tuple[str, ...]

    @property
    def bought(self) -> float:
        """The stock lengths together, mm."""
        return math.fsum(bar.stock * bar.times for bar in self.bars)

    @property
    def by_stock(self) -> dict[float, int]:
        """How many of each stock length are bought, the longest first."""
        found: dict[float, int] = {}
        for bar in sorted(self.bars, key=lambda bar: -bar.stock):
            found[bar.stock] = found.get(bar.stock, 0) + bar.times
        return found

    @property
    def fewest(self) -> int | None:
        """Where one stock length alone is bought of one offered: the fewest of it."""
        if len(self.stocks) != 1:
            return None
        return round(self.bound / self.stocks[0])


def is_timber(board: BoardMaterial | None) -> bool:
    """Tell whether a board is bought by the running metre."""
    return (
        board is not None
        and not board.sheets
        and (bool(board.lengths) or board.family == "solid-timber")
    )


def order_timber(
    lines: Sequence[CutLine], board: BoardMaterial, saw: Saw
) -> tuple[TimberOrder, ...]:
    """Return a plan for every section of one board, the largest first."""
    sections: dict[tuple[float, float], list[CutLine]] = {}
    for line in lines:
        low, high = sorted((line.thickness, line.cut[1]))
        sections.setdefault((round(low, 2), round(high, 2)), []).append(line)
    return tuple(
        _order(section, own, board, saw)
        for section, own in sorted(sections.items(), key=lambda one: (-one[0][1], -one[0][0]))
    )


def _order(
    section: tuple[float, float], lines: Sequence[CutLine], board: BoardMaterial, saw: Saw
) -> TimberOrder:
    stocks = tuple(sorted(saw.lengths or board.lengths or LENGTHS))
    pieces = [(line.cut[0], line.quantity) for line in lines]
    plan = cut_bars(pieces, stocks, saw.kerf, saw.end_trim)
    bars: list[TimberBar] = []
    for bar in plan.bars:
        first = bars[-1].last + 1 if bars else 1
        bars.append(_bar(bar, first, lines, saw))
    offcuts: dict[float, int] = {}
    for one in bars:
        if one.rest >= saw.keep:
            offcuts[one.rest] = offcuts.get(one.rest, 0) + one.times
    return TimberOrder(
        section=section,
        count=sum(line.quantity for line in lines),
        net=math.fsum(length * count for length, count in pieces),
        stocks=stocks,
        usual=not (saw.lengths or board.lengths),
        bars=tuple(bars),
        stops=_stops(bars),
        bound=plan.bound,
        offcuts=tuple(sorted(offcuts.items(), reverse=True)),
        unplaced=tuple(lines[n].letter for n in plan.unplaced),
    )


def _bar(bar: Bar, first: int, lines: Sequence[CutLine], saw: Saw) -> TimberBar:
    inside = [(line.letter, line.cut[0], n) for line, n in zip(lines, bar.counts, strict=True) if n]
    filled = math.fsum((length + saw.kerf) * n for _, length, n in inside)
    rest = bar.stock - 2 * saw.end_trim - filled
    return TimberBar(
        first,
        first + bar.times - 1,
        bar.stock,
        tuple(sorted(inside, key=lambda one: (-one[1], one[0]))),
        max(0.0, round(rest, 2)),
    )


def _stops(bars: Sequence[TimberBar]) -> tuple[Stop, ...]:
    """Return every setting of the stop once, the longest first."""
    found: dict[tuple[float, str], list[tuple[int, int, int]]] = {}
    for bar in bars:
        for letter, length, n in bar.pieces:
            found.setdefault((length, letter), []).append((bar.first, bar.last, n))
    return tuple(
        Stop(length, letter, sum((b - a + 1) * n for a, b, n in own), tuple(own))
        for (length, letter), own in sorted(found.items(), key=lambda one: (-one[0][0], one[0][1]))
    )
