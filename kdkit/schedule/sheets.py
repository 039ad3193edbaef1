"""Sheets to buy: the panels of each board laid out so that a saw can cut them.

A saw for boards cuts right through, so every layout is guillotine: each cut runs from
side to side of the piece that it parts. Grained boards keep the panel's length along the
sheet's. Lengths in mm.

Layouts of sheets are guillotine, and the cuts prove it. A packing library lays the panels
out; the cuts from side to side are then found, or it is a fault.

Source:
    J. Jylänki, A thousand ways to pack the bin, 2010 (the packing library's rules, from
    memory); the strips rule n = ⌊(W + k)/(w + k)⌋ follows from a kerf beside every panel
    but the last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import rectpack  # type: ignore[import-untyped]  # it has no types
from rectpack import guillotine

from kdkit.catalogue.entries import Catalogue
from kdkit.schedule.schedules import CutLine
from kdkit.schedule.sheet_room import TRIM, fits_on
from kdkit.schedule.views import PanelViews

__all__ = [
    "KERF",
    "TRIM",
    "BoardOrder",
    "Cut",
    "Laid",
    "Saw",
    "SheetPlan",
    "find_cuts",
    "order_boards",
]

KERF = 4.4
"""Width of the cut of a panel saw. Common practice, no source."""

_FINE = 100  # the packing library counts in hundredths of a millimetre
_MANY = 150  # panels, above which two of the ways are tried: it takes their square in time
_LEAST_OFFCUT = 100.0  # narrower pieces are waste; common practice
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

Rect = tuple[float, float, float, float]
"""Least x and y, greatest x and y, from a corner of the sheet as bought."""


@dataclass(frozen=True, kw_only=True)
class Saw:
    """What a saw takes: the width of its cut, and what comes off every side first.

    Args:
        pre_mill: what the edge bander mills off every edge before it bands it, so that
            panels are sawn larger by as much.
    """

    kerf: float = KERF
    trim: float = TRIM
    pre_mill: float = 0.0


@dataclass(frozen=True)
class Laid:
    """One panel on a sheet: its letter, its place, whether its length lies across."""

    letter: str
    place: Rect
    turned: bool


@dataclass(frozen=True)
class Cut:
    """One cut right across a piece: ``across_x`` at x = ``at``, else at y = ``at``."""

    piece: Rect
    across_x: bool
    at: float


@dataclass(frozen=True)
class SheetPlan:
    """One sheet: its panels, its cuts in order, the offcuts worth keeping."""

    size: tuple[float, float]
    laid: tuple[Laid, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Rect, ...]


@dataclass(frozen=True, kw_only=True)
class BoardOrder:
    """What one board in one thickness comes to.

    Args:
        count, area, mass_kg: of all panels; the area of cut sizes, mm².
        bands: thickness → metres of edge band as finished, without allowance.
        sheets: none for a board that is not sold in sheets.
        unplaced: letters of panels larger than every sheet.
        used: share of the sheets' area that becomes panels, 0 without sheets.
    """

    board: str
    material: str
    thickness: float
    count: int
    area: float
    mass_kg: float
    bands: tuple[tuple[float, float], ...]
    sheets: tuple[SheetPlan, ...]
    unplaced: tuple[str, ...]

    @property
    def used(self) -> float:
        """Share of the sheets' area that becomes panels."""
        whole = sum(s.size[0] * s.size[1] for s in self.sheets)
        laid = sum(_area(piece.place) for s in self.sheets for piece in s.laid)
        return laid / whole if whole else 0.0


def order_boards(
    panels: Sequence[PanelViews],
    catalogue: Catalogue,
    saw: Saw = Saw(),
) -> tuple[BoardOrder, ...]:
    """Return what to buy, by board and thickness, in the order of the cut list."""
    groups: dict[tuple[str, str, float], list[PanelViews]] = {}
    for panel in panels:
        line = panel.cut
        groups.setdefault((line.board, line.material, line.thickness), []).append(panel)
    return tuple(_order(key, group, catalogue, saw.kerf, saw.trim) for key, group in groups.items())


def _order(
    key: tuple[str, str, float],
    panels: Sequence[PanelViews],
    catalogue: Catalogue,
    kerf: float,
    trim: float,
) -> BoardOrder:
    lines = [panel.cut for panel in panels]
    sizes = catalogue.boards[key[1]].sheets if key[1] in catalogue.boards else ()
    plans, unplaced = _choose(lines, sizes, kerf, trim) if sizes else ((), ())
    bands: dict[float, float] = {}
    for panel in panels:
        for band in panel.view("face").bands:
            metres = math.dist(band.start, band.end) * panel.cut.quantity / 1000
            bands[band.thickness] = bands.get(band.thickness, 0.0) + metres
    return BoardOrder(
        board=key[0],
        material=key[1],
        thickness=key[2],
        count=sum(line.quantity for line in lines),
        area=sum(line.cut[0] * line.cut[1] * line.quantity for line in lines),
        mass_kg=sum(line.mass_kg * line.quantity for line in lines),
        bands=tuple(sorted(bands.items())),
        sheets=plans,
        unplaced=unplaced,
    )


def _choose(
    lines: Sequence[CutLine], sizes: Sequence[tuple[float, float]], kerf: float, trim: float
) -> tuple[tuple[SheetPlan, ...], tuple[str, ...]]:
    """Return the layout on the one size of sheet that needs the least board.

    Panels too large for every size are left out; sizes that take more panels come first.
    """
    best: tuple[tuple[float, ...], tuple[SheetPlan, ...], tuple[str, ...]] | None = None
    for size in sizes:
        fitting = [line for line in lines if fits_on(line, size, trim)]
        unplaced = tuple(line.letter for line in lines if line not in fitting)
        many = sum(line.quantity for line in fitting) > _MANY
        for algorithm, order in _WAYS[:2] if many else _WAYS:
            plans = _lay(fitting, size, kerf, trim, algorithm, order)
            largest = max((_area(o) for p in plans for o in p.offcuts), default=0.0)
            rank = (float(len(unplaced)), len(plans) * size[0] * size[1], -round(largest, 1))
            if best is None or rank < best[0]:
                best = (rank, plans, unplaced)
    assert best is not None  # there is a size
    return best[1], best[2]


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
    free = tuple(math.floor((s - 2 * trim + kerf) * _FINE + 1e-6) for s in size)
    packer.add_bin(*free, count=count)
    packer.pack()
    long = {line.letter: line.cut[0] for line in lines}
    plans = []
    for sheet in packer:
        laid = tuple(
            sorted(
                (_laid(rect, kerf, trim, long[rect.rid]) for rect in sheet),
                key=lambda piece: (piece.place[1], piece.place[0]),
            )
        )
        inner = (trim, trim, size[0] - trim, size[1] - trim)
        cuts, offcuts = find_cuts(inner, [piece.place for piece in laid], kerf)
        plans.append(SheetPlan(size, laid, cuts, offcuts))
    return tuple(plans)


def _whole(value: float) -> int:
    return math.ceil(value * _FINE - 1e-6)


def _laid(rect: Any, kerf: float, trim: float, length: float) -> Laid:
    x, y = rect.x / _FINE + trim, rect.y / _FINE + trim
    wide, high = rect.width / _FINE - kerf, rect.height / _FINE - kerf
    place = (x, y, x + wide, y + high)
    return Laid(rect.rid, place, abs(wide - length) > 0.02)


def find_cuts(
    piece: Rect, panels: Sequence[Rect], kerf: float
) -> tuple[tuple[Cut, ...], tuple[Rect, ...]]:
    """Return the cuts, in order, that free every panel from a piece, and the offcuts.

    Raises:
        ValueError: no cut from side to side parts the panels: the layout is not one
            that a saw can cut (a fault in kdkit).
    """
    cuts: list[Cut] = []
    offcuts: list[Rect] = []
    open_pieces = [(piece, list(panels))]
    while open_pieces:
        whole, inside = open_pieces.pop(0)
        if not inside:
            if min(whole[2] - whole[0], whole[3] - whole[1]) >= _LEAST_OFFCUT:
                offcuts.append(whole)
            continue
        if len(inside) == 1 and _same(whole, inside[0], kerf):
            continue
        cut, parts = _first_cut(whole, inside, kerf)
        cuts.append(cut)
        open_pieces = [*parts, *open_pieces]
    return tuple(cuts), tuple(sorted(offcuts, key=lambda o: -_area(o)))


def _same(whole: Rect, panel: Rect, kerf: float) -> bool:
    """Tell whether nothing is left beside a panel, or less than the saw takes."""
    return whole[2] - panel[2] <= kerf and whole[3] - panel[3] <= kerf


def _first_cut(
    whole: Rect, inside: Sequence[Rect], kerf: float
) -> tuple[Cut, list[tuple[Rect, list[Rect]]]]:
    """Return a cut through a piece and its two parts with what lies in them.

    Of all cuts the one is taken that leaves the larger empty part; without such a one,
    the first.
    """
    best: tuple[float, Cut, list[tuple[Rect, list[Rect]]]] | None = None
    for axis, at in _candidates(inside):
        low = [p for p in inside if p[axis + 2] <= at + 0.02]
        high = [p for p in inside if p[axis] >= at + kerf - 0.02]
        if len(low) + len(high) < len(inside) or whole[axis + 2] - at < 0.02:
            continue
        x0, y0, x1, y1 = whole
        beyond = min(at + kerf, whole[axis + 2])
        near: Rect = (x0, y0, at, y1) if axis == 0 else (x0, y0, x1, at)
        far: Rect = (beyond, y0, x1, y1) if axis == 0 else (x0, beyond, x1, y1)
        empty = _area(far) if not high else 0.0
        if best is None or empty > best[0]:
            best = (empty, Cut(whole, axis == 0, at), [(near, low), (far, high)])
    if best is None:
        raise ValueError("no cut from side to side parts these panels")
    return best[1], best[2]


def _candidates(inside: Sequence[Rect]) -> Iterator[tuple[int, float]]:
    for axis in (0, 1):
        for at in sorted({round(p[axis + 2], 3) for p in inside}):
            yield axis, at


def _area(rect: Rect) -> float:
    return max(0.0, rect[2] - rect[0]) * max(0.0, rect[3] - rect[1])
