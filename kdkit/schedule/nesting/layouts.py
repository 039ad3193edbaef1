"""Panels laid out on sheets: by a packing library, by strips of whole batches, with a bound.

Grained boards keep the panel's length along the sheet's. Lengths in mm.

Source:
    J. Jylänki, A thousand ways to pack the bin, 2010 (the packing library's rules, from
    memory); the strips rule n = ⌊(W + k)/(w + k)⌋ follows from a kerf beside every panel
    but the last.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import rectpack  # type: ignore[import-untyped]  # it has no types
from rectpack import guillotine

from kdkit.schedule.nesting.sawn import Laid, SheetPlan, rect_area, sawn
from kdkit.schedule.nesting.sheet_bound import FINE, Piece, fewest_sheets
from kdkit.schedule.nesting.strips import Lay, better_sheets
from kdkit.schedule.schedules import CutLine
from kdkit.schedule.sheet_room import fits_on

__all__ = ["lay_out"]

_MANY = 150  # panels, above which two of the ways are tried: it takes their square in time
_WAYS = tuple(
    (algorithm, order)
    for algorithm in (
        guillotine.GuillotineBssfSas,
        guillotine.GuillotineBlsfLas,
        guillotine.GuillotineBafSas,
        guillotine.GuillotineBssfMaxas,
    )
    for order in (rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_AREA)
)


def lay_out(
    lines: Sequence[CutLine], sizes: Sequence[tuple[float, float]], kerf: float, trim: float
) -> tuple[tuple[SheetPlan, ...], tuple[str, ...], int]:
    """Return the layout on the one size of sheet that needs the least board, and its bound.

    Panels too large for every size are left out; sizes that take more panels come first. The
    packing library's layouts are taken where they come to the bound or as near as any; else
    those of whole batches.
    """
    best: tuple[tuple[float, ...], tuple[SheetPlan, ...], tuple[str, ...], int] | None = None
    for size in sizes:
        fitting = [line for line in lines if fits_on(line, size, trim)]
        unplaced = tuple(line.letter for line in lines if line not in fitting)
        plans = _packed(fitting, size, kerf, trim)
        bound = _bound(fitting, size, kerf, trim, len(plans))
        if len(plans) > bound and (
            best is None or (len(unplaced), bound * size[0] * size[1]) < best[0][:2]
        ):
            plans = _in_strips(fitting, size, kerf, trim, plans, bound)
        rank = _rank(plans, unplaced, size)
        if best is None or rank < best[0]:
            best = (rank, plans, unplaced, bound)
    assert best is not None  # there is a size
    return best[1], best[2], best[3]


def _rank(
    plans: Sequence[SheetPlan], unplaced: Sequence[str], size: tuple[float, float]
) -> tuple[float, ...]:
    """Return what is compared: panels left out, board bought, the largest offcut."""
    largest = max((rect_area(o) for p in plans for o in p.offcuts), default=0.0)
    return (float(len(unplaced)), len(plans) * size[0] * size[1], -round(largest, 1))


def _packed(
    lines: Sequence[CutLine], size: tuple[float, float], kerf: float, trim: float
) -> tuple[SheetPlan, ...]:
    """Return the packing library's best layout."""
    many = sum(line.quantity for line in lines) > _MANY
    ways = [_lay(lines, size, kerf, trim, *way) for way in (_WAYS[:2] if many else _WAYS)]
    return min(ways, key=lambda plans: _rank(plans, (), size))


def _room(size: tuple[float, float], kerf: float, trim: float) -> tuple[int, int]:
    """Return a sheet's room as the packing has it: without trims, a kerf larger."""
    long, wide = (math.floor((s - 2 * trim + kerf) * FINE + 1e-6) for s in size)
    return long, wide


def _pieces(lines: Sequence[CutLine], kerf: float) -> dict[Piece, list[CutLine]]:
    """Return panels of one size together, each with a kerf, and the lines they stand for."""
    alike: dict[tuple[int, int, bool], list[CutLine]] = {}
    for line in lines:
        key = (*(_whole(v + kerf) for v in line.cut), line.grain == "none")
        alike.setdefault(key, []).append(line)  # type: ignore[arg-type]
    return {
        Piece(long, wide, sum(line.quantity for line in own), turns): own
        for (long, wide, turns), own in alike.items()
    }


def _bound(
    lines: Sequence[CutLine], size: tuple[float, float], kerf: float, trim: float, known: int
) -> int:
    return fewest_sheets(list(_pieces(lines, kerf)), _room(size, kerf, trim), known)


def _in_strips(
    lines: Sequence[CutLine],
    size: tuple[float, float],
    kerf: float,
    trim: float,
    plans: tuple[SheetPlan, ...],
    bound: int,
) -> tuple[SheetPlan, ...]:
    """Return layouts of the whole batch on fewer sheets, or the plans as they are."""
    sorts = _pieces(lines, kerf)
    places = {line.letter: n for n, own in enumerate(sorts.values()) for line in own}
    known = [
        [
            Lay(
                places[piece.letter],
                round((piece.place[0] - trim) * FINE),
                round((piece.place[1] - trim) * FINE),
                piece.turned,
            )
            for piece in plan.laid
        ]
        for plan in plans
    ]
    found = better_sheets(list(sorts), _room(size, kerf, trim), known, bound)
    if found is None:
        return plans
    left = [[line.letter for line in own for _ in range(line.quantity)] for own in sorts.values()]
    kinds = list(sorts.values())
    made = []
    for lays in found:
        laid = []
        for lay in lays:
            long, wide = kinds[lay.piece][0].cut
            x, y = lay.x / FINE + trim, lay.y / FINE + trim
            dx, dy = (wide, long) if lay.turned else (long, wide)
            laid.append(Laid(left[lay.piece].pop(0), (x, y, x + dx, y + dy), lay.turned))
        made.append(sawn(laid, size, kerf, trim))
    return tuple(made)


def _lay(
    lines: Sequence[CutLine],
    size: tuple[float, float],
    kerf: float,
    trim: float,
    algorithm: Any,
    order: Any,
) -> tuple[SheetPlan, ...]:
    """Pack panels, each with a kerf beside and above, into sheets that are a kerf larger."""
    turnable = all(line.grain == "none" for line in lines)
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=rectpack.PackingBin.BBF,
        pack_algo=algorithm,
        sort_algo=order,
        rotation=turnable,
    )
    count = sum(line.quantity for line in lines)
    for line in lines:
        for _ in range(line.quantity):
            packer.add_rect(*(_whole(v + kerf) for v in line.cut), rid=line.letter)
    packer.add_bin(*_room(size, kerf, trim), count=count)
    packer.pack()
    long = {line.letter: line.cut[0] for line in lines}
    plans = [
        sawn([_laid(rect, kerf, trim, long[rect.rid]) for rect in sheet], size, kerf, trim)
        for sheet in packer
    ]
    return tuple(plans)


def _whole(value: float) -> int:
    return math.ceil(value * FINE - 1e-6)


def _laid(rect: Any, kerf: float, trim: float, length: float) -> Laid:
    x, y = rect.x / FINE + trim, rect.y / FINE + trim
    wide, high = rect.width / FINE - kerf, rect.height / FINE - kerf
    place = (x, y, x + wide, y + high)
    return Laid(rect.rid, place, abs(wide - length) > 0.02)
