"""What is ordered: boards, sheets, edge bands; the sheets laid out; a label for every part."""

from __future__ import annotations

import pathlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from kdkit.diagnostics import Problem, Severity
from kdkit.publish.files.columns import Column, fixed, product_columns, table_rows
from kdkit.publish.files.tables import render_rows
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    Box,
    DrawingSheet,
    fitted_text,
)
from kdkit.publish.workshop.drawings.title_block import (
    board_words,
    draw_frame,
    draw_title_block,
    room_on,
)
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.schedules import CutLine
from kdkit.schedule.sheet_room import tell_too_large
from kdkit.schedule.sheets import BoardOrder, Cut, SheetPlan, order_boards
from kdkit.units import mm_text

__all__ = ["draw_labels", "draw_order", "draw_plan", "write_order"]

_ROW = 5.0
_SCALES = (5, 10, 20, 50)  # of the sheets; ISO 5455
_OFF_LINE = 0.35  # white between a line and the number beside it, mm
LABELS = (4, 6)
"""Columns and rows of labels on a lying sheet."""


def write_order(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``order.csv``, ``order.pdf`` and ``labels.pdf``.

    Returns:
        A warning for every panel that is larger than every sheet.
    """
    orders = order_boards(job.panels, job.results.catalogue, job.saw)
    say = job.messages.plain
    columns = [*_columns(job), *product_columns(job.results)]
    table = table_rows(columns, orders, job.messages)
    (folder / "order.csv").write_text(render_rows(table), encoding="utf-8", newline="")
    size = PAPER_SIZES[job.paper]
    for name, sheets in (("order", draw_order(job, orders)), ("labels", draw_labels(job))):
        title = say(f"workshop.{name}_title", product=job.product)
        pdf = make_sheets([s.render() for s in sheets], size, title, job.messages)
        (folder / f"{name}.pdf").write_bytes(pdf)
    lines = {line.letter: line for line in job.results.schedules.cut}
    return tuple(
        tell_too_large(lines[letter], job.results.resolved, Severity.WARNING)
        for order in orders
        for letter in order.unplaced
    )


def _size(line: CutLine) -> str:
    return f"{mm_text(line.cut[0])} × {mm_text(line.cut[1])}"


def _line_of(job: WorkshopJob, order: BoardOrder) -> CutLine:
    key = (order.board, order.material, order.thickness)
    return next(
        line
        for line in job.results.schedules.cut
        if (line.board, line.material, line.thickness) == key
    )


def _columns(job: WorkshopJob) -> tuple[Column, ...]:
    """Return the columns of an order (BoardOrder): m², kg, metres and per cent."""
    say = job.messages.plain

    def bands(order: BoardOrder) -> str:
        return "; ".join(
            say("workshop.order_band", t=mm_text(t, 2), metres=f"{metres:.2f}")
            for t, metres in order.bands
        )

    def sheets(order: BoardOrder) -> str:
        sizes = Counter(sheet.size for sheet in order.sheets)
        return "; ".join(
            say("workshop.order_sheet", n=n, length=mm_text(size[0]), width=mm_text(size[1]))
            for size, n in sizes.items()
        )

    def used(order: BoardOrder) -> float | None:
        return order.used * 100 if order.sheets else None

    return (
        Column(
            "workshop.order_board", lambda order: board_words(job, _line_of(job, order)), share=0.24
        ),
        Column("workshop.order_pieces", lambda order: order.count, share=0.07),
        Column("workshop.order_area", lambda order: order.area / 1e6, fixed(3), share=0.08),
        Column("workshop.order_mass", lambda order: order.mass_kg, fixed(2), share=0.08),
        Column("workshop.order_bands", bands, share=0.18),
        Column("workshop.order_sheets", sheets, share=0.17),
        Column("workshop.order_used", used, fixed(0), share=0.08),
        Column("workshop.order_unplaced", lambda order: "; ".join(order.unplaced), share=0.1),
    )


def draw_order(job: WorkshopJob, orders: Sequence[BoardOrder]) -> tuple[DrawingSheet, ...]:
    """Return the summary, then every sheet to its scale with its panels and cuts."""
    say = job.messages.plain
    pages: list[tuple[DrawingSheet, str, str]] = [
        (sheet, say("workshop.order_summary"), "") for sheet in _summary(job, orders)
    ]
    for order in orders:
        words = board_words(job, _line_of(job, order))
        for n, plan in enumerate(order.sheets, start=1):
            what = say("workshop.order_plan", board=words, n=n, of=len(order.sheets))
            lines = {line.letter: line for line in job.results.schedules.cut}
            sheet, scale = draw_plan(job.messages, job.paper, lines, plan, what)
            pages.append((sheet, what, scale))
    for n, (sheet, what, scale) in enumerate(pages, start=1):
        draw_frame(sheet)
        draw_title_block(sheet, job, None, what, scale, f"{n} / {len(pages)}")
    return tuple(sheet for sheet, _, _ in pages)


def _summary(job: WorkshopJob, orders: Sequence[BoardOrder]) -> Iterator[DrawingSheet]:
    say = job.messages.plain
    columns, rest = _columns(job), list(orders)
    while True:
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.order_summary"))
        x0, y0, x1, y1 = room_on(sheet)
        rows = int((y1 - y0 - 24) / _ROW)
        y = y0 + 9
        for n, line in enumerate(table_rows(columns, rest[:rows], job.messages)):
            x = x0 + 3
            for cell, column in zip(line, columns, strict=True):
                width = (x1 - x0 - 6) * column.share
                sheet.text((x, y), fitted_text(str(cell), 1.8, width / 1.12 - 1), 1.8, bold=n == 0)
                x += width
            sheet.line((x0 + 3, y + 1.6), (x1 - 3, y + 1.6), "dimension")
            y += _ROW
        note = say("workshop.order_note", kerf=mm_text(job.saw.kerf), trim=mm_text(job.saw.trim))
        sheet.text((x0 + 3, y + 4), fitted_text(note, 1.8, x1 - x0 - 6), 1.8)
        if job.saw.pre_mill:
            note = say("workshop.order_pre_mill", pre_mill=mm_text(job.saw.pre_mill, 2))
            sheet.text((x0 + 3, y + 8), fitted_text(note, 1.8, x1 - x0 - 6), 1.8)
        yield sheet
        rest = rest[rows:]
        if not rest:
            return


def draw_plan(
    messages: Messages, paper: str, lines: Mapping[str, CutLine], plan: SheetPlan, what: str
) -> tuple[DrawingSheet, str]:
    """Return one sheet of board to scale, its length to the right, and the scale.

    Args:
        lines: what is cut, by the letters on the plan.
    """
    say = messages.plain
    sheet = DrawingSheet(*PAPER_SIZES[paper], what)
    x0, y0, x1, y1 = room_on(sheet)
    text = say(
        "workshop.order_plan_head", length=mm_text(plan.size[0]), width=mm_text(plan.size[1])
    )
    sheet.text((x0 + 3, y0 + 6), fitted_text(f"{what}. {text}", 2.5, x1 - x0 - 6), 2.5)
    room = (x1 - x0 - 10, y1 - y0 - 16)
    n = next(
        (n for n in _SCALES if plan.size[0] / n <= room[0] and plan.size[1] / n <= room[1]),
        _SCALES[-1],
    )
    left = x0 + 5 + (room[0] - plan.size[0] / n) / 2
    foot = y0 + 12 + (room[1] + plan.size[1] / n) / 2

    def at(x: float, y: float) -> tuple[float, float]:
        return (left + x / n, foot - y / n)

    sheet.rectangle((*at(0, plan.size[1]), *at(plan.size[0], 0)), "edge")
    for cut in plan.cuts:
        start, end = _ends(cut)
        sheet.line(at(*start), at(*end), "hidden")
    for piece in plan.laid:
        px0, py0, px1, py1 = piece.place
        box = (*at(px0, py1), *at(px1, py0))
        sheet.rectangle(box, "outline", fill="#f2f2f2")
        full = f"{piece.letter}  {_size(lines[piece.letter])}"
        middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        for words, height in ((full, 2.5), (full, 1.8), (piece.letter, 2.5), (piece.letter, 1.8)):
            if sheet.place_text(middle, words, height, (box,), start=0.0, reach=6):
                break
        _keep_off_lines(sheet, box)
    _keep_off_lines(sheet, (*at(0, plan.size[1]), *at(plan.size[0], 0)))
    for cut in plan.cuts:
        a, b = (at(*end) for end in _ends(cut))
        sheet.keep_clear(
            _thick((min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])))
        )
    for number, cut in enumerate(plan.cuts, start=1):
        sheet.place_text(
            at(*_ends(cut)[0]),
            str(number),
            1.8,
            ((x0 + 1, y0 + 9, x1 - 1, y1 - 1),),
            start=0.5,
            reach=12,
        )
    for ox0, oy0, ox1, oy1 in plan.offcuts:
        words = say("workshop.offcut", a=mm_text(ox1 - ox0), b=mm_text(oy1 - oy0))
        box = (*at(ox0, oy1), *at(ox1, oy0))
        middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        sheet.place_text(middle, words, 1.8, (box,), start=0.0, reach=30)
    return sheet, f"1 : {n}"


def _ends(cut: Cut) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a cut starts and ends, from the sheet's corner."""
    x0, y0, x1, y1 = cut.piece
    if cut.across_x:
        return (cut.at, y0), (cut.at, y1)
    return (x0, cut.at), (x1, cut.at)


def _thick(box: Box) -> Box:
    """Return the box round a line, with the line's width and a little white."""
    return (box[0] - _OFF_LINE, box[1] - _OFF_LINE, box[2] + _OFF_LINE, box[3] + _OFF_LINE)


def _keep_off_lines(sheet: DrawingSheet, box: Box) -> None:
    """Keep texts off the four sides of a box."""
    x0, y0, x1, y1 = box
    for side in ((x0, y0, x1, y0), (x0, y1, x1, y1), (x0, y0, x0, y1), (x1, y0, x1, y1)):
        sheet.keep_clear(_thick(side))


def draw_labels(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return sheets of labels, one for every part of the cut list, in its order."""
    pieces = [(line, n) for line in job.results.schedules.cut for n in range(line.quantity)]
    columns, rows = LABELS
    sheets = []
    for start in range(0, len(pieces), columns * rows):
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], job.messages.plain("workshop.labels"))
        wide, high = (sheet.width - 20) / columns, (sheet.height - 20) / rows
        for place, (line, n) in enumerate(pieces[start : start + columns * rows]):
            x, y = 10 + place % columns * wide, 10 + place // columns * high
            sheet.rectangle((x, y, x + wide, y + high), "hidden")
            _label(sheet, job, line, n, (x + 3, y + 2, x + wide - 3, y + high - 2))
        sheets.append(sheet)
    return tuple(sheets)


def _label(
    sheet: DrawingSheet,
    job: WorkshopJob,
    line: CutLine,
    n: int,
    box: Box,
) -> None:
    """Write one part's label into a box; lines stand closer where there are many."""
    say = job.messages.plain
    x, y, room = box[0], box[1], box[2] - box[0]
    letter = sheet.text((x, y + 6.5), line.letter, 5.0, bold=True)
    sheet.text(
        (letter[2] + 2, y + 6.5), fitted_text(line.title, 2.5, x + room - letter[2] - 2), 2.5
    )
    size = say("parts.size", length=mm_text(line.finished[0]), width=mm_text(line.finished[1]),
               thickness=mm_text(line.thickness))  # fmt: skip
    bands = ", ".join(
        say("workshop.label_band", side=say(f"sides.{side}"), t=mm_text(t, 2))
        for side, t in line.bands.items()
    )
    alike: dict[tuple[float, str], list[str]] = {}
    for bevel in line.bevels:
        sides = alike.setdefault((bevel.angle_deg, bevel.long), [])
        sides.append(say(f"sides.{bevel.side}"))
    bevels = "; ".join(
        say(
            "workshop.label_bevel",
            sides=", ".join(sides),
            angle=mm_text(angle, 2),
            long=say(f"table.bevel_{long}"),
        )
        for (angle, long), sides in alike.items()
    )
    said = (
        size,
        board_words(job, line),
        bands,
        bevels,
        say("workshop.label_count", part=line.parts[n], n=n + 1, of=line.quantity),
        say("workshop.label_product", product=job.product, revision=job.revision),
    )
    texts = [text for text in said if text]
    first = y + 11.5
    pitch = min(3.9, (box[3] - first) / (len(texts) - 1))
    for row, text in enumerate(texts):
        sheet.text((x, first + pitch * row), fitted_text(text, 1.8, room), 1.8)
