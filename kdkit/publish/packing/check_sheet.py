"""The check sheet: what must be in every carton, to be ticked off while it is packed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kdkit.publish.packing.job import PackingJob
from kdkit.publish.packing.layer_sheets import (
    MARGIN,
    carton_facts,
    draw_head,
    sizes_text,
    wrapped_lines,
)
from kdkit.publish.packing.table import piece_title
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, DrawingSheet, fitted_text
from kdkit.schedule.packing import Carton

__all__ = ["draw_check"]

_ROW = 5.2
_SHARES = (0.05, 0.09, 0.1, 0.4, 0.24, 0.12)
"""Of the width: box to tick, layer, letter or number, what, size, how many."""

_Line = tuple[str, str, str, str, str]


def draw_check(job: PackingJob, carton: Carton) -> list[DrawingSheet]:
    """Return the check sheets of one carton."""
    say = job.messages.plain
    lines = list(_lines(job, carton))
    heads = tuple(
        say(f"packing.check_{name}") for name in ("layer", "mark", "what", "size", "count")
    )
    sheets: list[DrawingSheet] = []
    while lines or not sheets:
        title = say("packing.check", n=carton.number, of=len(job.packing.cartons))
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], title)
        draw_head(sheet, job, title, carton_facts(job, carton), "")
        y = MARGIN + 26.0
        rows = int((sheet.height - y - 30) / _ROW)
        for n, line in enumerate([heads, *lines[:rows]]):
            _row(sheet, line, y, head=n == 0)
            y += _ROW
        lines = lines[rows:]
        if not lines:
            _foot(sheet, job, carton, y + 5)
        sheets.append(sheet)
    return sheets


def _row(sheet: DrawingSheet, line: _Line | tuple[str, ...], y: float, *, head: bool) -> None:
    room = sheet.width - 2 * MARGIN
    x = MARGIN
    if not head:
        sheet.rectangle((x + 1, y - 3, x + 4.2, y + 0.2), "edge")
    x += room * _SHARES[0]
    for text, share in zip(line, _SHARES[1:], strict=True):
        wide = room * share
        sheet.text((x, y), fitted_text(text, 2.5, wide / 1.12 - 2), 2.5, bold=head)
        x += wide
    sheet.line((MARGIN, y + 1.6), (sheet.width - MARGIN, y + 1.6), "dimension")


def _lines(job: PackingJob, carton: Carton) -> Iterator[_Line]:
    """Yield the pieces, layer by layer from the bottom, then the manual and the hardware's box."""
    say, messages = job.messages.plain, job.messages
    for n, layer in enumerate(carton.layers, start=1):
        pieces = [p.piece for p in layer.placed]
        counted = Counter(
            (piece.mark, piece_title(piece, messages), piece.size) for piece in pieces
        )
        for (mark, title, size), count in counted.items():
            yield str(n), mark, title, sizes_text(size), str(count)
    if not carton.has_hardware:
        return
    yield "", "", say("packing.manual"), "", "1"
    for bag in job.results.schedules.bags:
        for one in bag.items:
            title = messages.name("items", one.item, one.title)
            sizes = messages.name("item_sizes", one.item, one.size)
            place = say("packing.in_bag", bag=bag.name)
            yield place, str(one.number), title, sizes, str(one.count)


def _foot(sheet: DrawingSheet, job: PackingJob, carton: Carton, y: float) -> None:
    say = job.messages.plain
    text = say("packing.weigh", gross=f"{carton.gross_kg:.1f}")
    for line in wrapped_lines(text, 2.5, sheet.width - 2 * MARGIN):
        sheet.text((MARGIN, y), line, 2.5)
        y += 4.5
    x = MARGIN
    for key in ("weighed", "checked", "dated"):
        box = sheet.text((x, y + 9), say(f"packing.{key}"), 2.5)
        sheet.line((box[2] + 2, y + 9.5), (box[2] + 45, y + 9.5), "rule")
        x = box[2] + 53
