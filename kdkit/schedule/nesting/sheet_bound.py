"""How many sheets any plan needs at the least, whether a saw can cut it or not.

A line across a sheet meets panels whose lengths, a kerf with each, fit into the sheet's. Taken
over all heights, the panels' heights are shared out among such fillings; the least height that
this takes, divided by the sheet's, is below every plan. The same holds the other way, and for
the area, which is the weakest of the three.

Source:
    The bar relaxation of rectangle packing: G. Scheithauer, LP-based bounds for the container
    and multi-container loading problem, International Transactions in Operational Research 6,
    1999, 199-213, from memory; turned panels divide their height by a free share.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.schedule.nesting.knapsack import cells_of, fullest
from kdkit.schedule.nesting.patterns import Free, Master, Pattern, generate

__all__ = ["FINE", "Piece", "fewest_sheets"]

FINE = 100
"""Whole hundredths of a millimetre."""

_CELLS = 3_000_000  # filled lengths times pieces, above which the area alone is asked
_NEAR = 1e-6


@dataclass(frozen=True)
class Piece:
    """Panels of one size, hundredths of a millimetre with a kerf; whether they may be turned."""

    long: int
    wide: int
    count: int
    turns: bool


def fewest_sheets(pieces: Sequence[Piece], room: tuple[int, int], known: int | None = None) -> int:
    """Return a number of sheets that no plan is below.

    Args:
        room: of a sheet without its trims, a kerf longer and wider.
        known: of a plan; where the area alone says that none is better, that is enough.
    """
    if not pieces:
        return 0
    area = sum(p.long * p.wide * p.count for p in pieces) / (room[0] * room[1])
    bound = _whole(area)
    for axis in (0, 1):
        if bound == known:
            break
        bound = max(bound, _whole(_share(pieces, room, axis)))
    return bound


def _whole(sheets: float) -> int:
    return max(1, math.ceil(sheets * (1 - 1e-9) - _NEAR))


def _share(pieces: Sequence[Piece], room: tuple[int, int], axis: int) -> float:
    """Return the least sheets by fillings along one axis; 0 where it is too much to work out."""
    along, across = room[axis], room[1 - axis]
    ways: list[tuple[int, int, int]] = []  # piece, size along, size across
    for n, piece in enumerate(pieces):
        sizes = (piece.long, piece.wide)
        ways.append((n, sizes[axis], sizes[1 - axis]))
        if piece.turns and piece.long != piece.wide:
            ways.append((n, sizes[1 - axis], sizes[axis]))
    ways = [way for way in ways if way[1] <= along and way[2] <= across]
    if {n for n, _, _ in ways} != set(range(len(pieces))):
        return 0.0  # some fit no sheet: not asked for
    lengths = [size for _, size, _ in ways]
    if cells_of(along, lengths) * len(ways) > _CELLS:
        return 0.0
    most = [pieces[n].count for n, _, _ in ways]
    rows: list[float] = []
    free: list[Free] = []
    for row, (n, _, wide) in enumerate(ways):
        first = next(k for k, way in enumerate(ways) if way[0] == n)
        rows.append(float(pieces[n].count * wide) if first == row else 0.0)
        if first != row:
            moved = [0.0] * len(ways)
            moved[first] = float(pieces[n].count * ways[first][2])
            moved[row] = -float(pieces[n].count * wide)
            free.append(Free(tuple(moved)))
    scale = max(rows)

    def price(prices: Sequence[float]) -> Iterator[Pattern]:
        yield Pattern(1.0, tuple(map(float, fullest(along, lengths, prices, most).counts)))

    begun = [Pattern(1.0, tuple(float(k == n) for k in range(len(ways)))) for n in range(len(ways))]
    rows = [value / scale for value in rows]
    free = [Free(tuple(value / scale for value in f.counts)) for f in free]
    return generate(Master(rows, begun, free), price).bound * scale / across
