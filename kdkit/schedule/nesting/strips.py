"""Layouts of whole batches: sheets ripped into strips, strips crosscut, found by their worth.

A strip is as wide as its widest panel; narrower ones lie in it one above the other. Strips run
along the sheet or across it. Every such layout can be sawn from side to side. Which layouts are
worth having the prices of column generation say, and whole numbers of them are then chosen,
together with layouts that came from elsewhere.

Sizes are whole hundredths of a millimetre with a kerf in each, as in ``sheet_bound``.

Source:
    P. C. Gilmore and R. E. Gomory, Multistage cutting stock problems of two and more
    dimensions, Operations Research 13, 1965, 94-120, from memory.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from kdkit.schedule.nesting.knapsack import cells_of, fill_in_turn, fullest
from kdkit.schedule.nesting.patterns import Master, Pattern, best_whole, generate
from kdkit.schedule.nesting.sheet_bound import Piece

__all__ = ["Lay", "better_sheets"]

_CELLS = 2_000_000  # filled lengths times ways, above which sizes are taken more coarsely
_COARSE = 50
_TALLEST = 6  # panels one above the other in a strip
_FEW = 16  # kinds of panel, above which whole numbers of layouts take long to find
_TIMES = 10  # of each kind, on the average, that are worth it all the same
_ROUNDS = 3  # the second and third on what whole numbers of layouts leave


@dataclass(frozen=True, order=True)
class Lay:
    """A piece on a sheet: its place in the list, its least corner, whether it is turned."""

    piece: int
    x: int
    y: int
    turned: bool


@dataclass(frozen=True)
class _Stack:
    """Panels of one kind one above the other in a strip: ``long`` of the strip, ``high`` in all."""

    piece: int
    turned: bool
    many: int
    long: int
    high: int


def better_sheets(
    pieces: Sequence[Piece], room: tuple[int, int], known: Sequence[Sequence[Lay]], bound: int
) -> list[tuple[Lay, ...]] | None:
    """Return layouts of fewer sheets than are known, each piece as often as it is asked for.

    Args:
        known: a plan: the layout of each of its sheets.
        bound: no plan has fewer sheets.

    Returns:
        None where nothing better was found.
    """
    demand = [float(piece.count) for piece in pieces]
    begun = {_pattern(lays, len(pieces)) for lays in known}
    pool = sorted(begun, key=lambda p: (p.counts, str(p.of)))
    best: list[Pattern] = [_pattern(lays, len(pieces)) for lays in known]
    rest, found = list(demand), False
    few = len(pieces) <= _FEW
    if not few and sum(demand) < _TIMES * len(pieces):
        return None  # too few of each for layouts to come again, and slow to choose from
    for _ in range(_ROUNDS if few else 1):
        own = [replace(p, count=round(r)) for p, r in zip(pieces, rest, strict=True)]
        master = generate(Master(rest, pool), _pricing(own, room))
        pool = master.patterns
        whole, _ = best_whole(pool, demand, float(bound))
        if whole is not None and sum(whole) < len(best):
            best = [p for p, times in zip(pool, whole, strict=True) for _ in range(times)]
            found = True
        if len(best) <= bound:
            break
        for pattern, share in zip(pool, master.shares, strict=False):
            times = math.floor(share + 1e-9)
            rest = [max(0.0, r - times * c) for r, c in zip(rest, pattern.counts, strict=True)]
        if not any(rest):
            break
    return _without_surplus(best, demand) if found else None


def _pattern(lays: Sequence[Lay], many: int) -> Pattern:
    counts = Counter(lay.piece for lay in lays)
    return Pattern(1.0, tuple(float(counts[n]) for n in range(many)), tuple(sorted(lays)))


def _without_surplus(sheets: Sequence[Pattern], demand: Sequence[float]) -> list[tuple[Lay, ...]]:
    """Return the layouts; what is cut beyond need is taken off the emptiest sheets."""
    plans = [list(_lays(pattern)) for pattern in sheets]
    plans.sort(key=lambda lays: (len(lays), lays), reverse=True)
    over = Counter(lay.piece for lays in plans for lay in lays)
    over.subtract({n: round(asked) for n, asked in enumerate(demand)})
    for lays in reversed(plans):
        for lay in sorted(lays, key=lambda one: (one.y, one.x), reverse=True):
            if over[lay.piece] > 0:
                over[lay.piece] -= 1
                lays.remove(lay)
    return [tuple(lays) for lays in plans if lays]


def _lays(pattern: Pattern) -> tuple[Lay, ...]:
    assert isinstance(pattern.of, tuple)
    return pattern.of


def _pricing(
    pieces: Sequence[Piece], room: tuple[int, int]
) -> Callable[[Sequence[float]], Iterator[Pattern]]:
    """Return what gives, at any prices, the best layout with strips along and across a sheet."""
    kinds = [_stacks(pieces, room, axis) for axis in (0, 1)]

    def price(prices: Sequence[float]) -> Iterator[Pattern]:
        for axis, stacks in enumerate(kinds):
            if stacks:
                yield _layout(pieces, stacks, room, axis, prices)

    return price


def _stacks(pieces: Sequence[Piece], room: tuple[int, int], axis: int) -> list[_Stack]:
    """Return what may stand in a strip along an axis, the lowest first."""
    along, across = room[axis], room[1 - axis]
    found = []
    for n, piece in enumerate(pieces):
        for turned in (False, True) if piece.turns and piece.long != piece.wide else (False,):
            size = (piece.wide, piece.long) if turned else (piece.long, piece.wide)
            long, high = size[axis], size[1 - axis]
            if long > along:
                continue
            most = min(piece.count, across // high, _TALLEST)
            found += [_Stack(n, turned, many, long, many * high) for many in range(1, most + 1)]
    return sorted(found, key=lambda s: (s.high, s.long, s.piece, s.many))


def _layout(
    pieces: Sequence[Piece],
    stacks: Sequence[_Stack],
    room: tuple[int, int],
    axis: int,
    prices: Sequence[float],
) -> Pattern:
    """Return the layout that is worth most: the best strips of each height, then their best."""
    along, across = room[axis], room[1 - axis]
    heights = sorted({s.high for s in stacks if s.many == 1})
    stops = [sum(s.high <= high for s in stacks) for high in heights]
    longs = [s.long for s in stacks]
    if cells_of(along, longs) * len(stacks) > _CELLS:
        longs, along = [-(-long // _COARSE) for long in longs], along // _COARSE
    strips = list(
        fill_in_turn(
            along,
            longs,
            [s.many * prices[s.piece] for s in stacks],
            [pieces[s.piece].count // s.many for s in stacks],
            stops,
        )
    )
    many = [across // high for high in heights]
    if cells_of(across, heights) * len(heights) > _CELLS:
        coarse = [-(-high // _COARSE) for high in heights]
        chosen = fullest(across // _COARSE, coarse, [s.worth for s in strips], many)
    else:
        chosen = fullest(across, heights, [s.worth for s in strips], many)
    lays: list[Lay] = []
    at = 0
    for high, strip, times in reversed(list(zip(heights, strips, chosen.counts, strict=True))):
        for _ in range(times):
            lays += _strip(stacks, strip.counts, at, axis, pieces)
            at += high
    return _pattern(lays, len(pieces))


def _strip(
    stacks: Sequence[_Stack], counts: Sequence[int], at: int, axis: int, pieces: Sequence[Piece]
) -> Iterator[Lay]:
    """Yield the panels of a strip, the highest stacks first, the longest of them first."""
    start = 0
    standing = [(s, n) for s, n in zip(stacks, counts, strict=True) if n]
    for stack, times in sorted(standing, key=lambda one: (-one[0].high, -one[0].long)):
        each = stack.high // stack.many
        for _ in range(times):
            for level in range(stack.many):
                corner = (start, at + level * each)
                x, y = corner if axis == 0 else (corner[1], corner[0])
                yield Lay(stack.piece, x, y, stack.turned)
            start += stack.long
