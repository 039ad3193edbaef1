"""What is ordered: boards, sheets, timber, edge bands; both as they are sawn; a label a part."""

from __future__ import annotations

import pathlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from kdkit.diagnostics import Problem, Severity
from kdkit.publish.files.columns import Column, fixed, product_columns, table_rows
from kdkit.publish.files.tables import render_rows
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.cutting_list import (
    alike_sheets,
    cut_columns,
    list_cutting,
    list_timber,
    section_text,
    timber_columns,
)
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
from kdkit.publish.workshop.labels import draw_labels
from kdkit.publish.workshop.timber_sheet import draw_timber
from kdkit.schedule.schedules import CutLine
from kdkit.schedule.sheet_room import tell_too_large, tell_too_long
from kdkit.schedule.sheets import BoardOrder, Cut, SheetPlan, order_boards
from kdkit.units import mm_text

__all__ = ["draw_order", "draw_plan", "write_order"]

_ROW = 5.0
_MORE = 3.0  # of each further line of a row
_MOST_LINES = 20
_SCALES = (5, 10, 20, 50)  # of the sheets; ISO 5455
_OFF_LINE = 0.35  # white between a line and the number beside it, mm


def write_order(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``order.csv``, ``cuts.csv``, ``timber.csv``, ``order.pdf`` and ``labels.pdf``.

    A table without rows is not written.

    Returns:
        A warning for every panel that is larger than every sheet or longer than every bar.
    """
    orders = order_boards(job.panels, job.results.catalogue, job.saw)
    say = job.messages.plain
    columns = [*_columns(job), *product_columns(job.results)]
    table = table_rows(columns, orders, job.messages)
    (folder / "order.csv").write_text(render_rows(table), encoding="utf-8", newline="")
    for name, own, rows in _tables(job, orders):
        if rows:
            table = table_rows([*own, *product_columns(job.results)], rows, job.messages)
            (folder / f"{name}.csv").write_text(render_rows(table), encoding="utf-8", newline="")
    size = PAPER_SIZES[job.paper]
    for name, sheets in (("order", draw_order(job, orders)), ("labels", draw_labels(job))):
        title = say(f"workshop.{name}_title", product=job.product)
        pdf = make_sheets([s.render() for s in sheets], size, title, job.messages)
        (folder / f"{name}.pdf").write_bytes(pdf)
    lines = {line.letter: line for line in job.results.schedules.cut}
    resolved = job.results.resolved
    found = []
    for order in orders:
        for letter in order.unplaced:
            if order.timber:
                found.append(tell_too_long(lines[letter], order.timber[0].stocks, resolved))
            else:
                found.append(tell_too_large(lines[letter], resolved, Severity.WARNING))
    return tuple(found)


def _tables(
    job: WorkshopJob, orders: Sequence[BoardOrder]
) -> tuple[tuple[str, list[Column], Sequence[object]], ...]:
    """Return what is sawn, as tables by the names of their files."""

    def named(order: BoardOrder) -> str:
        return board_words(job, _line_of(job, order))

    return (
        ("cuts", cut_columns(job.messages), list_cutting(orders, job.panels, named)),
        ("timber", timber_columns(job.messages), list_timber(orders, job.panels, named)),
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

    def lengths(order: BoardOrder) -> str:
        return "; ".join(
            say(
                "workshop.order_length",
                section=section_text(timber),
                n=n,
                stock=mm_text(stock),
            )
            for timber in order.timber
            for stock, n in timber.by_stock.items()
        )

    def least(order: BoardOrder) -> str:
        if order.sheets:
            return str(order.fewest)
        return "; ".join(
            say(
                "workshop.order_metres",
                section=section_text(timber),
                metres=mm_text(timber.bound / 1000, 2),
            )
            for timber in order.timber
        )

    def used(order: BoardOrder) -> float | None:
        return order.used * 100 if order.sheets else None

    return (
        Column(
            "workshop.order_board", lambda order: board_words(job, _line_of(job, order)), share=0.19
        ),
        Column("workshop.order_pieces", lambda order: order.count, share=0.06),
        Column("workshop.order_area", lambda order: order.area / 1e6, fixed(3), share=0.07),
        Column("workshop.order_mass", lambda order: order.mass_kg, fixed(2), share=0.07),
        Column("workshop.order_bands", bands, share=0.13),
        Column("workshop.order_sheets", sheets, share=0.13),
        Column("workshop.order_lengths", lengths, share=0.13),
        Column("workshop.order_least", least, share=0.08),
        Column("workshop.order_used", used, fixed(0), share=0.06),
        Column("workshop.order_unplaced", lambda order: "; ".join(order.unplaced), share=0.08),
    )


def draw_order(job: WorkshopJob, orders: Sequence[BoardOrder]) -> tuple[DrawingSheet, ...]:
    """Return the summary, every layout to its scale, the bars of timber, what is sawn in order."""
    say = job.messages.plain
    summary = say("workshop.order_summary")
    pages: list[tuple[DrawingSheet, str, str]] = [
        (sheet, summary, "")
        for sheet in _table_pages(job, summary, _columns(job), orders, _notes(job))
    ]
    lines = {line.letter: line for line in job.results.schedules.cut}
    for order in orders:
        words = board_words(job, _line_of(job, order))
        alike = alike_sheets(order.sheets)
        several = len(alike) < len(order.sheets)
        bound = say("workshop.order_plan_bound", n=len(order.sheets), fewest=order.fewest)
        for n, (plan, times) in enumerate(alike.items(), start=1):
            key = "workshop.order_plan_alike" if several else "workshop.order_plan"
            what = say(key, board=words, n=n, of=len(alike), times=times)
            sheet, scale = draw_plan(job.messages, job.paper, lines, plan, what, bound)
            pages.append((sheet, what, scale))
    what = say("workshop.order_bars")
    sections = [
        (board_words(job, _line_of(job, order)), timber)
        for order in orders
        for timber in order.timber
    ]
    pages += [(s, what, "") for s in draw_timber(job.messages, job.paper, what, sections, job.saw)]
    for name, columns, rows in _tables(job, orders):
        if rows:
            what = say("workshop.order_cutting" if name == "cuts" else "workshop.order_timber")
            pages += [(s, what, "") for s in _table_pages(job, what, columns, rows, ())]
    for n, (sheet, what, scale) in enumerate(pages, start=1):
        draw_frame(sheet)
        draw_title_block(sheet, job, None, what, scale, f"{n} / {len(pages)}")
    return tuple(sheet for sheet, _, _ in pages)


def _notes(job: WorkshopJob) -> tuple[str, ...]:
    """Return what stands under the summary."""
    say, saw = job.messages.plain, job.saw
    notes = [say("workshop.order_note", kerf=mm_text(saw.kerf), trim=mm_text(saw.trim))]
    if saw.pre_mill:
        notes.append(say("workshop.order_pre_mill", pre_mill=mm_text(saw.pre_mill, 2)))
    if job.count > 1:
        notes.append(say("workshop.order_batch", n=job.count))
    return tuple(notes)


def _table_pages(
    job: WorkshopJob,
    what: str,
    columns: Sequence[Column],
    rows: Sequence[object],
    notes: Sequence[str],
) -> Iterator[DrawingSheet]:
    """Yield a table's pages; each has its heads, and the notes under its rows."""
    rest = list(rows)
    while True:
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], what)
        x0, y0, x1, y1 = room_on(sheet)
        foot = y1 - 7 - 4 * len(notes)
        y, done = y0 + 9, 0
        for n, line in enumerate(table_rows(columns, rest, job.messages)):
            cells = [_cell_lines(str(cell)) for cell in line]
            high = _ROW + _MORE * (max(len(cell) for cell in cells) - 1)
            if n > 1 and y + high - _ROW > foot:
                break
            x = x0 + 3
            for cell, column in zip(cells, columns, strict=True):
                width = (x1 - x0 - 6) * column.share
                for row, text in enumerate(cell):
                    words = fitted_text(text, 1.8, width / 1.12 - 1)
                    sheet.text((x, y + _MORE * row), words, 1.8, bold=n == 0)
                x += width
            y += high
            sheet.line((x0 + 3, y - _ROW + 1.6), (x1 - 3, y - _ROW + 1.6), "dimension")
            done = n
        for n, note in enumerate(notes):
            sheet.text((x0 + 3, y + 4 + 4 * n), fitted_text(note, 1.8, x1 - x0 - 6), 1.8)
        yield sheet
        rest = rest[done:]
        if not rest:
            return


def _cell_lines(text: str) -> list[str]:
    """Return the lines of a cell; the CSV file has what is too long for a page."""
    lines = text.split("; ")
    return lines if len(lines) <= _MOST_LINES else [*lines[: _MOST_LINES - 1], "…"]


def draw_plan(
    messages: Messages,
    paper: str,
    lines: Mapping[str, CutLine],
    plan: SheetPlan,
    what: str,
    bound: str,
) -> tuple[DrawingSheet, str]:
    """Return one sheet of board to scale, its length to the right, and the scale.

    Args:
        lines: what is cut, by the letters on the plan.
        bound: says how many sheets there are and how few any plan needs.
    """
    say = messages.plain
    sheet = DrawingSheet(*PAPER_SIZES[paper], what)
    x0, y0, x1, y1 = room_on(sheet)
    text = say(
        "workshop.order_plan_head", length=mm_text(plan.size[0]), width=mm_text(plan.size[1])
    )
    sheet.text((x0 + 3, y0 + 5), fitted_text(f"{what}. {text}", 2.5, x1 - x0 - 6), 2.5)
    sheet.text((x0 + 3, y0 + 8.4), fitted_text(bound, 1.8, x1 - x0 - 6), 1.8)
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
