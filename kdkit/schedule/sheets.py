"""Sheets and timber to buy: what a product's boards come to, laid out for the saw.

Source of the kerf: common practice, no source; a maker's own stands in its place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.schedule.nesting.layouts import lay_out
from kdkit.schedule.nesting.sawn import Cut, Laid, SheetPlan, find_cuts, rect_area
from kdkit.schedule.saw import KERF, Saw
from kdkit.schedule.sheet_room import TRIM
from kdkit.schedule.timber import TimberOrder, is_timber, order_timber
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


@dataclass(frozen=True, kw_only=True)
class BoardOrder:
    """What one board in one thickness comes to.

    Args:
        count, area, mass_kg: of all panels; the area of cut sizes, mm².
        bands: thickness → metres of edge band as finished, without allowance.
        sheets: none for a board that is not sold in sheets.
        unplaced: letters of panels larger than every sheet, or longer than every bar.
        fewest: no plan on sheets of this size needs fewer; 0 without sheets.
        timber: a plan for every section, of a board that is sold by the metre.
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
    fewest: int = 0
    timber: tuple[TimberOrder, ...] = ()

    @property
    def used(self) -> float:
        """Share of the sheets' area that becomes panels."""
        whole = sum(s.size[0] * s.size[1] for s in self.sheets)
        laid = sum(rect_area(piece.place) for s in self.sheets for piece in s.laid)
        return laid / whole if whole else 0.0


def order_boards(
    panels: Sequence[PanelViews],
    catalogue: Catalogue,
    saw: Saw = Saw(),  # noqa: B008 - it cannot be changed
) -> tuple[BoardOrder, ...]:
    """Return what to buy, by board and thickness, in the order of the cut list."""
    groups: dict[tuple[str, str, float], list[PanelViews]] = {}
    for panel in panels:
        line = panel.cut
        groups.setdefault((line.board, line.material, line.thickness), []).append(panel)
    return tuple(_order(key, group, catalogue, saw) for key, group in groups.items())


def _order(
    key: tuple[str, str, float],
    panels: Sequence[PanelViews],
    catalogue: Catalogue,
    saw: Saw,
) -> BoardOrder:
    lines = [panel.cut for panel in panels]
    board = catalogue.boards.get(key[1])
    plans: tuple[SheetPlan, ...] = ()
    unplaced: tuple[str, ...] = ()
    fewest = 0
    timber: tuple[TimberOrder, ...] = ()
    if board is not None and board.sheets:
        plans, unplaced, fewest = lay_out(lines, board.sheets, saw.kerf, saw.trim)
    elif board is not None and is_timber(board):
        timber = order_timber(lines, board, saw)
        unplaced = tuple(letter for one in timber for letter in one.unplaced)
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
        fewest=fewest,
        timber=timber,
    )
