"""What is sawn, in order: every cut with its saw and its setting, timber by stops and offcuts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from kdkit.publish.files.columns import Column, mm
from kdkit.publish.wording.messages import Messages
from kdkit.schedule.saw import Edging, Saw, fence_of, late_cuts, saw_of
from kdkit.schedule.sheets import BoardOrder, Cut, SheetPlan
from kdkit.schedule.timber import Stop, TimberOrder
from kdkit.schedule.views import PanelViews
from kdkit.units import mm_text

__all__ = [
    "BoardName",
    "alike_sheets",
    "cut_columns",
    "list_cutting",
    "list_timber",
    "section_text",
    "timber_columns",
    "timber_words",
]

BoardName = Callable[[BoardOrder], str]

_SAME = 0.05  # a piece as large as a panel, but for rounding, mm


@dataclass(frozen=True)
class SheetCut:
    """One cut through a sheet that is laid out so: its number, what it gives."""

    board: str
    layout: int
    times: int
    number: int
    cut: Cut
    gives: str


@dataclass(frozen=True)
class LateCut:
    """A slanted cut at panels that are already sawn to size."""

    board: str
    edging: Edging
    pieces: int


@dataclass(frozen=True)
class TimberCut:
    """One setting of the stop, a slanted end, or an offcut to keep: length, pieces."""

    board: str
    section: str
    what: Stop | Edging | tuple[float, int]
    number: int
    pieces: int


def alike_sheets(sheets: Sequence[SheetPlan]) -> dict[SheetPlan, int]:
    """Return each layout once, and how many sheets are laid out so."""
    found: dict[SheetPlan, int] = {}
    for plan in sheets:
        found[plan] = found.get(plan, 0) + 1
    return found


def list_cutting(
    orders: Sequence[BoardOrder], panels: Sequence[PanelViews], named: BoardName
) -> list[SheetCut | LateCut]:
    """Return the cuts of all sheets, layout by layout, then what is sawn aslant after them.

    Args:
        panels: those that are cut, by the letters on the plans.
    """
    rows: list[SheetCut | LateCut] = []
    for order in orders:
        for layout, (plan, times) in enumerate(alike_sheets(order.sheets).items(), start=1):
            rows += [
                SheetCut(named(order), layout, times, number, cut, _gives(cut, plan))
                for number, cut in enumerate(plan.cuts, start=1)
            ]
    for order in orders:
        if not order.timber:
            rows += [
                LateCut(named(order), edging, panel.cut.quantity)
                for panel in _of_order(order, panels)
                for edging in late_cuts(panel)
            ]
    return rows


def _of_order(order: BoardOrder, panels: Iterable[PanelViews]) -> Iterator[PanelViews]:
    key = (order.board, order.material, order.thickness)
    for panel in panels:
        if (panel.cut.board, panel.cut.material, panel.cut.thickness) == key:
            yield panel


def _gives(cut: Cut, plan: SheetPlan) -> str:
    """Return the letters of the panels that lie alone, at their size, in the part by the fence."""
    x0, y0, x1, y1 = cut.piece
    near = (x0, y0, cut.at, y1) if cut.across_x else (x0, y0, x1, cut.at)
    return ", ".join(
        laid.letter
        for laid in plan.laid
        if all(abs(a - b) <= _SAME for a, b in zip(laid.place, near, strict=True))
    )


def list_timber(
    orders: Sequence[BoardOrder], panels: Sequence[PanelViews], named: BoardName
) -> list[TimberCut]:
    """Return what is done with every section: stops in their order, mitres, offcuts to keep."""
    rows: list[TimberCut] = []
    for order in orders:
        own = {panel.letter: panel for panel in _of_order(order, panels)}
        for timber in order.timber:
            name, section = named(order), section_text(timber)
            lengths = dict.fromkeys(stop.length for stop in timber.stops)
            settings = {length: n for n, length in enumerate(lengths, start=1)}
            rows += [
                TimberCut(name, section, stop, settings[stop.length], stop.count)
                for stop in timber.stops
            ]
            letters = dict.fromkeys(stop.letter for stop in timber.stops)
            late = [
                (own[letter], edging) for letter in letters for edging in late_cuts(own[letter])
            ]
            rows += [
                TimberCut(name, section, edging, n, panel.cut.quantity)
                for n, (panel, edging) in enumerate(late, start=len(settings) + 1)
            ]
            rows += [TimberCut(name, section, offcut, 0, offcut[1]) for offcut in timber.offcuts]
    return rows


def section_text(timber: TimberOrder) -> str:
    """Return a section as it is asked for: 45 × 60."""
    return " × ".join(mm_text(side) for side in timber.section)


def cut_columns(messages: Messages) -> list[Column]:
    """Return the columns of the cuts through sheets and of what is sawn aslant after them."""
    say = messages.plain

    def of_sheet(value: Callable[[SheetCut], object]) -> Callable[[object], object]:
        return lambda row: value(row) if isinstance(row, SheetCut) else None

    def saw(row: SheetCut | LateCut) -> str:
        return say(f"saw.{saw_of(row.cut) if isinstance(row, SheetCut) else row.edging.saw}")

    def piece(row: SheetCut) -> str:
        x0, y0, x1, y1 = row.cut.piece
        return f"{mm_text(x1 - x0)} × {mm_text(y1 - y0)}"

    def gives(row: SheetCut | LateCut) -> str:
        if isinstance(row, SheetCut):
            return row.gives
        return say("saw.at", letter=row.edging.letter, n=row.pieces, where=_edging(row.edging, say))

    return [
        Column("saw.board", lambda row: row.board, share=0.24),
        Column("saw.layout", of_sheet(lambda row: row.layout), share=0.08),
        Column("saw.times", of_sheet(lambda row: row.times), share=0.08),
        Column("saw.number", of_sheet(lambda row: row.number), share=0.08),
        Column("saw.saw", saw, share=0.1),
        Column("saw.fence", of_sheet(lambda row: fence_of(row.cut)), mm(1), share=0.1),
        Column("saw.piece", of_sheet(piece), share=0.12),
        Column("saw.gives", gives, share=0.2),
    ]


def _edging(edging: Edging, say: Callable[..., str]) -> str:
    """Return where and how an edge is sawn aslant."""
    side, angle = say(f"sides.{edging.side or 'other'}"), mm_text(edging.angle_deg, 2)
    if not edging.tilted:
        return say("saw.turned", side=side, angle=angle)
    return say("saw.tilted", side=side, angle=angle, long=say(f"table.bevel_{edging.long}"))


def timber_columns(messages: Messages) -> list[Column]:
    """Return the columns of timber: settings in their order, mitres, offcuts."""
    say = messages.plain

    def saw(row: TimberCut) -> str:
        if isinstance(row.what, Stop):
            return say("saw.crosscut")
        return say(f"saw.{row.what.saw}") if isinstance(row.what, Edging) else say("saw.offcut")

    def stop(row: TimberCut) -> float | None:
        if isinstance(row.what, Edging):
            return None
        return row.what.length if isinstance(row.what, Stop) else row.what[0]

    def letter(row: TimberCut) -> str:
        return "" if isinstance(row.what, tuple) else row.what.letter

    def where(row: TimberCut) -> str:
        if isinstance(row.what, Edging):
            return _edging(row.what, say)
        if isinstance(row.what, tuple):
            return say("saw.keep")
        return "; ".join(say("saw.from_bar", bars=_bars(a, b), n=n) for a, b, n in row.what.bars)

    return [
        Column("saw.board", lambda row: row.board, share=0.17),
        Column("saw.section", lambda row: row.section, share=0.09),
        Column("saw.order", lambda row: row.number or None, share=0.05),
        Column("saw.saw", saw, share=0.1),
        Column("saw.stop", stop, mm(1), share=0.08),
        Column("table.letter", letter, share=0.07),
        Column("saw.pieces", lambda row: row.pieces, share=0.07),
        Column("saw.where", where, share=0.37),
    ]


def _bars(first: int, last: int) -> str:
    return str(first) if first == last else f"{first}–{last}"


def timber_words(messages: Messages, timber: TimberOrder, saw: Saw) -> tuple[str, ...]:
    """Return what stands over a section's bars: what is bought, the bound, how it is cut."""
    say = messages.plain
    bought = ", ".join(
        say("saw.bars", n=n, stock=mm_text(stock)) for stock, n in timber.by_stock.items()
    )
    if timber.fewest is not None:
        bound = say("saw.fewest", n=sum(timber.by_stock.values()), fewest=timber.fewest)
    else:
        bound = say(
            "saw.least", metres=mm_text(timber.bought / 1000), least=mm_text(timber.bound / 1000)
        )
    cut = say(
        "saw.timber_note",
        kerf=mm_text(saw.kerf),
        trim=mm_text(saw.end_trim),
        net=mm_text(timber.net / 1000, 3),
    )
    usual = say("saw.usual", stocks=", ".join(mm_text(s) for s in timber.stocks))
    return (f"{bought}. {bound}", cut, *((usual,) if timber.usual else ()))
