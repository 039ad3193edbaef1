"""A run on paper: its tables, then every sheet of board with its cuts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kdkit.publish.packing.layer_sheets import MARGIN, wrapped_lines
from kdkit.publish.production.tables import RunJob, RunTable
from kdkit.publish.workshop.cutting_list import alike_sheets
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, DrawingSheet, fitted_text
from kdkit.publish.workshop.order import draw_plan
from kdkit.publish.workshop.timber_sheet import draw_timber
from kdkit.schedule.schedules import CutLine
from kdkit.units import mm_text

__all__ = ["draw_run"]

_ROW = 4.6
_HEAD_LINES = 2
_WORDS = 1.8


def draw_run(job: RunJob, tables: Sequence[RunTable]) -> list[DrawingSheet]:
    """Return all pages: the tables in their order, the sheets of board, alike ones once."""
    pages = [page for table in tables for page in _pages(job, table)]
    lines: dict[str, CutLine] = {}
    for made in job.made:
        for line in made.results.schedules.cut:
            letter = f"{made.number}·{line.letter}"
            lines[letter] = replace(line, letter=letter)
    say = job.messages.plain
    for order in job.orders:
        alike = alike_sheets(order.sheets)
        bound = say("workshop.order_plan_bound", n=len(order.sheets), fewest=order.fewest)
        for n, plan in enumerate(alike, start=1):
            what = say(
                "run.plan",
                board=order.board,
                t=mm_text(order.thickness),
                n=n,
                of=len(alike),
                times=alike[plan],
            )
            sheet, scale = draw_plan(job.messages, job.paper, lines, plan, what, bound)
            said = say(
                "run.plan_note", scale=scale, kerf=mm_text(job.saw.kerf), trim=mm_text(job.saw.trim)
            )
            sheet.text((MARGIN + 11, sheet.height - 20), said, 2.5)
            pages.append(sheet)
    sections = [
        (f"{order.board}, {mm_text(order.thickness)} mm", timber)
        for order in job.orders
        for timber in order.timber
    ]
    bars = say("workshop.order_bars")
    pages += draw_timber(job.messages, job.paper, bars, sections, job.saw)
    for number, sheet in enumerate(pages, start=1):
        at = (sheet.width - MARGIN, sheet.height - 6)
        sheet.text(at, f"{number} / {len(pages)}", 2.5, anchor="end")
        whose = say("run.whose", run=job.title)
        if job.batch:
            whose += ", " + say("packing.batch", batch=job.batch)
        sheet.text((MARGIN, sheet.height - 6), fitted_text(whose, 2.5, 200), 2.5)
    return pages


def _pages(job: RunJob, table: RunTable) -> list[DrawingSheet]:
    head, *rest = table.rows
    pages: list[DrawingSheet] = []
    while rest or not pages:
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], table.title)
        room = sheet.width - 2 * MARGIN
        sheet.text((MARGIN, MARGIN + 5), fitted_text(table.title, 5.0, room), 5.0, bold=True)
        y = MARGIN + 14
        rows = max(1, int((sheet.height - y - 18) / _ROW) - _HEAD_LINES)
        _line(sheet, head, table.shares, y, bold=True)
        y += _ROW * _HEAD_LINES
        for row in rest[:rows]:
            _line(sheet, row, table.shares, y, bold=False)
            sheet.line((MARGIN, y + 1.5), (sheet.width - MARGIN, y + 1.5), "dimension")
            y += _ROW
        rest = rest[rows:]
        pages.append(sheet)
    return pages


def _line(
    sheet: DrawingSheet, cells: Sequence[object], shares: Sequence[float], y: float, *, bold: bool
) -> None:
    x, room = MARGIN, sheet.width - 2 * MARGIN
    for cell, share in zip(cells, shares, strict=True):
        wide = room * share
        text = str(cell)
        if bold:
            for n, line in enumerate(wrapped_lines(text, _WORDS, wide / 1.12 - 1)[:_HEAD_LINES]):
                sheet.text((x, y + 2.6 * n), line, _WORDS, bold=True)
        else:
            sheet.text((x, y), fitted_text(text, _WORDS, wide - 1), _WORDS)
        x += wide
