"""The sheet that the bagging bench picks by: a line for every item of every bag, boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from kdkit.publish.files.columns import Column, table_rows
from kdkit.publish.workshop.bagging.bag_tables import (
    BagLine,
    bag_columns,
    bag_lines,
    limits_of,
    shown_g,
)
from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    DrawingSheet,
    fitted_text,
    text_width,
)
from kdkit.publish.workshop.drawings.title_block import draw_frame, draw_title_block, room_on
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.bags import Bag

__all__ = ["draw_picking_sheet"]

_ROW = 5.0
_BAG = 7.0  # of a bag's own line
_TICK = 3.0
_IN = 10.0  # where the cells begin, right of the boxes
_HEAD = 9.0
_NOTES = 4.0  # of each line at the foot


def draw_picking_sheet(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return the sheets; a bag is split only if it is longer than one."""
    say = job.messages.plain
    what = say("picking.title")
    lines = bag_lines(job.results)
    columns = [c for c in bag_columns(job.results, job.messages) if c.share]
    heads, *cells = table_rows(columns, lines, job.messages)
    rows = list(zip(lines, cells, strict=True))
    blocks = [(bag, list(group)) for bag, group in groupby(rows, key=lambda row: row[0].bag)]
    notes = _notes(job, lines)
    sheets: list[DrawingSheet] = []
    y = foot = 0.0
    for bag, members in blocks:
        rest = members
        while rest:
            needed = _BAG + _ROW * len(rest)
            if not sheets or (y + needed > foot and y + needed > _top(sheets[-1]) + needed):
                sheet = DrawingSheet(*PAPER_SIZES[job.paper], what)
                x0, y0, x1, y1 = room_on(sheet)
                foot = y1 - 2 - _NOTES * len(notes)
                y = y0 + _HEAD
                _write_row(sheet, heads, columns, (x0 + _IN, y - 2, x1 - 3), bold=True)
                for n, note in enumerate(notes):
                    text = fitted_text(note, 1.8, x1 - x0 - 6)
                    sheet.text((x0 + 3, foot + 2.5 + _NOTES * n), text, 1.8)
                sheets.append(sheet)
            sheet = sheets[-1]
            x0, _, x1, _ = room_on(sheet)
            y = _write_bag(sheet, job, bag, (x0 + 3, y, x1 - 3))
            fitting = max(1, int((foot - y) / _ROW + 1e-6))
            for _, texts in rest[:fitting]:
                sheet.rectangle((x0 + 4, y + 1, x0 + 4 + _TICK, y + 1 + _TICK), "edge")
                _write_row(sheet, texts, columns, (x0 + _IN, y + 3.6, x1 - 3))
                y += _ROW
            rest = rest[fitting:]
    for n, sheet in enumerate(sheets, start=1):
        draw_frame(sheet)
        draw_title_block(sheet, job, None, _marked(job, what), "", f"{n} / {len(sheets)}")
    return tuple(sheets)


def _top(sheet: DrawingSheet) -> float:
    return room_on(sheet)[1] + _HEAD


def _marked(job: WorkshopJob, what: str) -> str:
    """Return the sheet's name with pieces and batch, for which the title block has no cell."""
    say = job.messages.plain
    if job.count > 1:
        what += say("list.comma") + say("picking.times", n=job.count)
    batch = str(getattr(job.results.resolved.said, "batch", ""))
    if not batch:
        return what
    return what + say("list.comma") + say("bag_label.batch", batch=batch)


def _write_row(
    sheet: DrawingSheet,
    cells: Sequence[object],
    columns: Sequence[Column],
    place: tuple[float, float, float],
    *,
    bold: bool = False,
) -> None:
    """Write cells under each other's columns; a heading may take two lines."""
    x, y, x1 = place
    width = x1 - x
    for cell, column in zip(cells, columns, strict=True):
        room = width * column.share - 1.5
        text = str(cell)
        if bold and text_width(text, 1.8) * 1.12 > room and " " in text:
            first, second = _halves(text, room / 1.12)
            sheet.text((x, y - 2.7), fitted_text(first, 1.8, room / 1.12), 1.8, bold=True)
            text = second
        fits = room / 1.12 if bold else room
        sheet.text((x, y), fitted_text(text, 1.8, fits), 1.8, bold=bold)
        x += width * column.share


def _halves(text: str, room: float) -> tuple[str, str]:
    """Return a text on two lines, the first as long as it may be."""
    words = text.split(" ")
    n = max(
        (n for n in range(1, len(words)) if text_width(" ".join(words[:n]), 1.8) <= room), default=1
    )
    return " ".join(words[:n]), " ".join(words[n:])


def _write_bag(
    sheet: DrawingSheet, job: WorkshopJob, bag: Bag, place: tuple[float, float, float]
) -> float:
    """Write a bag's own line and return where the next one begins."""
    say = job.messages.plain
    x0, y, x1 = place
    scale = job.results.catalogue.scales.get(bag.scale)
    name = say("picking.bag", name=bag.name)
    said = []
    if bag.opened:
        said.append(say("bag_label.opened", n=bag.opened))
    if bag.weighs and scale is not None:
        low, high = limits_of(bag, scale)
        title = job.messages.in_sentence(job.messages.name("scales", bag.scale, scale.title))
        mass = shown_g(bag.mass_g, scale)
        said.append(say("picking.weigh", mass=mass, low=low, high=high, scale=title))
    else:
        said.append(say("picking.count", n=bag.pieces))
    if bag.apart:
        said.append(say("picking.apart"))
    sheet.area(((x0, y), (x1, y), (x1, y + _BAG - 1), (x0, y + _BAG - 1)), "#ececec")
    right = x1 - 2
    for word in (
        say("picking.sealed"),
        say("picking.weighed" if bag.weighs else "picking.counted"),
    ):
        left = sheet.text((right, y + 3.9), word, 1.8, anchor="end")[0]
        box = (left - 1.5 - _TICK, y + 1.5, left - 1.5, y + 1.5 + _TICK)
        sheet.rectangle(box, "edge", fill="#fff")
        right = box[0] - 4
    ends = sheet.text((x0 + 2, y + 4.2), fitted_text(name, 2.5, 40), 2.5, bold=True)
    text = say("list.comma").join(said)
    sheet.text((ends[2] + 4, y + 4.2), fitted_text(text, 1.8, right - ends[2] - 4), 1.8)
    return y + _BAG


def _notes(job: WorkshopJob, lines: Sequence[BagLine]) -> list[str]:
    """Return what the bench must know: how the scale is set, and what its limits rest on."""
    say = job.messages.plain
    weighing = [line.scale for line in lines if line.bag.weighs and line.scale is not None]
    if not weighing:
        return [say("picking.note_count")]
    most = max(round(100 * 2 * (1 - scale.found)) for scale in weighing)
    least = min(round(100 * scale.found) for scale in weighing)
    weighed = max(scale.weighed for scale in weighing)
    return [
        say("picking.note_zero"),
        say("picking.note_mean", n=weighed),
        say("picking.note_limits", found=least, again=most),
    ]
