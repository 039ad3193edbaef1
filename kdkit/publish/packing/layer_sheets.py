"""Pictures for the packer: every layer of every carton, seen from above, to scale."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from kdkit.frames import Vec2
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.packing.table import piece_title
from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    Box,
    DrawingSheet,
    fitted_text,
    text_width,
)
from kdkit.schedule.packing import Carton, Layer, Placed
from kdkit.units import mm_text

__all__ = ["MARGIN", "carton_facts", "draw_head", "draw_layers", "sizes_text", "wrapped_lines"]

MARGIN = 12.0
_HEAD = 23.0  # height of what stands above the pictures, mm
_CAPTION = 14.0
_STACK = 11.0  # room beside a picture for the layers seen from the side
_GAP = 3.0
_SCALES = (2, 5, 10, 20, 50)  # ISO 5455
_CELLS = ((1, 2), (1, 3), (2, 2), (2, 3), (3, 3))  # columns and rows of pictures


def draw_layers(job: PackingJob, carton: Carton) -> list[DrawingSheet]:
    """Return the sheets of one carton: its layers from the bottom up."""
    say = job.messages.plain
    columns, rows, scale = _cells(job, carton)
    sheets: list[DrawingSheet] = []
    for n, layer in enumerate(carton.layers, start=1):
        cell = (n - 1) % (columns * rows)
        if cell == 0:
            title = say("packing.carton", n=carton.number, of=len(job.packing.cartons))
            sheets.append(DrawingSheet(*PAPER_SIZES[job.paper], title))
            draw_head(sheets[-1], job, title, carton_facts(job, carton), f"1 : {scale}")
        sheet = sheets[-1]
        wide, high = _cell_size(sheet, columns, rows)
        x = MARGIN + cell % columns * wide
        y = MARGIN + _HEAD + cell // columns * high
        _draw_layer(sheet, job, carton, layer, n, (x, y, x + wide - _GAP, y + high - _GAP), scale)
    foot = say("packing.closing", cushion=mm_text(carton.rules.cushion))
    sheet = sheets[-1]
    sheet.text(
        (MARGIN, sheet.height - 6), fitted_text(foot, 2.5, sheet.width - 2 * MARGIN - 40), 2.5
    )
    for number, sheet in enumerate(sheets, start=1):
        at = (sheet.width - MARGIN, sheet.height - 6)
        sheet.text(at, f"{number} / {len(sheets)}", 2.5, anchor="end")
    return sheets


def carton_facts(job: PackingJob, carton: Carton) -> str:
    """Return a carton's inner size, masses, bearers and packing material in one line."""
    say, count = job.messages.plain, job.messages.count
    facts = [
        say("packing.inner", size=sizes_text(carton.inner)),
        say("packing.outer", size=sizes_text(carton.outer)),
        say("packing.masses", net=f"{carton.contents_kg:.1f}", gross=f"{carton.gross_kg:.1f}"),
        str(count("packing.persons", carton.persons)),
        str(count("packing.interleaves", carton.interleaves)),
    ]
    if carton.wraps:
        facts.append(str(count("packing.wraps", carton.wraps)))
    if carton.needs_aid:
        facts.append(say("packing.aid"))
    return "; ".join(facts)


def sizes_text(sizes: Sequence[float]) -> str:
    """Return length, width and height in mm, rounded as lengths are in every paper."""
    return " × ".join(map(mm_text, sizes))


def draw_head(sheet: DrawingSheet, job: PackingJob, title: str, facts: str, scale: str) -> None:
    """Draw what stands over a sheet: its title, whose it is, two lines of facts."""
    say = job.messages.plain
    room = sheet.width - 2 * MARGIN
    box = sheet.text((MARGIN, MARGIN + 5), title, 5.0, bold=True)
    whose = say("packing.whose", product=job.title, revision=job.said("revision"))
    if job.said("batch"):
        whose += ", " + say("packing.batch", batch=job.said("batch"))
    whose = fitted_text(whose, 2.5, room - (box[2] - MARGIN) - 10)
    sheet.text((sheet.width - MARGIN, MARGIN + 5), whose, 2.5, anchor="end")
    y = MARGIN + 10.5
    for line in wrapped_lines(facts, 2.5, room)[:2]:
        sheet.text((MARGIN, y), line, 2.5)
        y += 4.2
    if scale:
        text = say("packing.pictures", scale=scale)
        sheet.text((MARGIN, y), fitted_text(text, 1.8, room), 1.8)
    sheet.line((MARGIN, MARGIN + _HEAD - 3), (sheet.width - MARGIN, MARGIN + _HEAD - 3), "edge")


def wrapped_lines(text: str, height: float, room: float) -> list[str]:
    """Return a text in lines that fit; a word that is too long is cut."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, height) <= room:
            lines[-1] = joined
        else:
            lines.append(fitted_text(word, height, room))
    return lines


def _cell_size(sheet: DrawingSheet, columns: int, rows: int) -> Vec2:
    return (
        (sheet.width - 2 * MARGIN) / columns,
        (sheet.height - 2 * MARGIN - _HEAD) / rows,
    )


def _cells(job: PackingJob, carton: Carton) -> tuple[int, int, int]:
    """Return columns and rows of pictures on a sheet, and their scale: large, then many."""
    sheet = DrawingSheet(*PAPER_SIZES[job.paper], "")
    length, width, _ = carton.inner
    found = []
    for columns, rows in _CELLS:
        wide, high = _cell_size(sheet, columns, rows)
        room = (wide - _GAP - _STACK, high - _GAP - _CAPTION)
        scale = next(
            (n for n in _SCALES if length / n <= room[0] and width / n <= room[1]), _SCALES[-1]
        )
        used = min(columns * rows, len(carton.layers))
        found.append((max(scale, 5), -used, columns * rows, columns, rows))
    _, _, _, columns, rows = best = min(found)
    return columns, rows, best[0]


def _draw_layer(
    sheet: DrawingSheet,
    job: PackingJob,
    carton: Carton,
    layer: Layer,
    number: int,
    cell: Box,
    scale: int,
) -> None:
    say = job.messages.plain
    x0, y0, x1, _ = cell
    last = number == len(carton.layers)
    where = "packing.layer_bottom" if number == 1 else "packing.layer_top"
    place = say(where if number == 1 or last else "packing.layer", n=number)
    if number == 1 and last:
        place = say("packing.layer_only")
    sheet.text((x0, y0 + 2.5), place, 2.5, bold=True)
    contents = _contents(job, layer)
    for n, line in enumerate(wrapped_lines(contents, 1.8, x1 - x0)[:3]):
        sheet.text((x0, y0 + 6.0 + 3.0 * n), line, 1.8)
    length, width, _ = carton.inner
    pad = carton.rules.cushion + carton.rules.clearance / 2
    left, foot = x0, y0 + _CAPTION + width / scale

    def at(x: float, y: float) -> Vec2:
        return (left + (x + pad) / scale, foot - (y + pad) / scale)

    sheet.rectangle((left, foot - width / scale, left + length / scale, foot), "frame")
    for void in layer.voids:
        a, b = at(*void.box[:2]), at(*void.box[3:5])
        if void.box[5] >= layer.high - 0.01:  # what fills up under a piece is not seen
            sheet.hatch((a[0], b[1], b[0], a[1]))
    columns: dict[tuple[float, float], list[Placed]] = {}
    for placed in layer.placed:
        columns.setdefault((placed.box[0], placed.box[1]), []).append(placed)
    for pile in columns.values():
        pile.sort(key=lambda p: p.box[2])
        for placed in pile:
            _draw_piece(sheet, placed, at)
    for pile in columns.values():
        _name_pile(sheet, job, pile, at)
    _draw_stack(sheet, carton, number, left + length / scale + 4, foot)


def _contents(job: PackingJob, layer: Layer) -> str:
    say = job.messages.plain
    counted = Counter(
        (p.piece.mark, piece_title(p.piece, job.messages), p.piece.wrapped) for p in layer.placed
    )
    words = []
    for (mark, title, wrapped), n in counted.items():
        said = f"{mark} {title}".strip()
        if n > 1:
            said = say("packing.times", n=n, what=said)
        words.append(f"{said} ({say('packing.wrapped')})" if wrapped else said)
    return "; ".join(words)


def _draw_piece(sheet: DrawingSheet, placed: Placed, at: object) -> None:
    assert callable(at)
    piece, box = placed.piece, placed.box
    if not piece.outline:
        a, b = at(*box[:2]), at(*box[3:5])
        tone = "#d8d8d8" if piece.is_hardware else "#fff"
        sheet.rectangle((a[0], b[1], b[0], a[1]), "outline", fill=tone)
        return

    def flat(ring: Sequence[Vec2]) -> list[Vec2]:
        # A quarter turn, so that it lies as it would be laid: never mirrored.
        wide = piece.size[1]
        turned = [(wide - v, u) if placed.turned else (u, v) for u, v in ring]
        return [at(box[0] + x, box[1] + y) for x, y in turned]

    sheet.polyline(flat(piece.outline), "outline", closed=True, fill="#fff")
    for ring in piece.openings:
        sheet.polyline(flat(ring), "edge", closed=True, fill="#ededed")


def _name_pile(sheet: DrawingSheet, job: PackingJob, pile: Sequence[Placed], at: object) -> None:
    """Write the letters of pieces that lie on each other, from the lowest, where they lie."""
    assert callable(at)
    box = pile[0].box
    a, b = at(*box[:2]), at(*box[3:5])
    room: Box = (a[0] + 0.4, b[1] + 0.4, b[0] - 0.4, a[1] - 0.4)
    marks = Counter(p.piece.mark or job.messages.plain("packing.hardware") for p in pile)
    long = ", ".join(m if n == 1 else f"{n} × {m}" for m, n in marks.items())
    sizes = {p.piece.size for p in pile}
    wide, deep, _ = pile[0].piece.size
    full = f"{long}   {mm_text(wide)} × {mm_text(deep)}" if len(sizes) == 1 else long
    middle = ((room[0] + room[2]) / 2, (room[1] + room[3]) / 2)
    for text, height in ((full, 2.5), (full, 1.8), (long, 2.5), (long, 1.8)):
        if sheet.place_text(middle, text, height, (room,), start=0.0, reach=4):
            return
    upright = room[3] - room[1] > room[2] - room[0]
    span = room[3] - room[1] if upright else room[2] - room[0]
    text = fitted_text(long, 1.8, span)
    if upright:
        sheet.text((middle[0] + 0.9, middle[1]), text, 1.8, anchor="middle", upright=True)
    else:
        sheet.text((middle[0], middle[1] + 0.9), text, 1.8, anchor="middle")


def _draw_stack(sheet: DrawingSheet, carton: Carton, number: int, x: float, foot: float) -> None:
    """Draw the layers seen from the side, the one of this picture dark."""
    whole = carton.layers[-1].high
    high = min(24.0, 3.0 * len(carton.layers))
    for n, layer in enumerate(carton.layers, start=1):
        top, low = foot - layer.high / whole * high, foot - layer.low / whole * high
        tone = "#333" if n == number else "#fff"
        sheet.rectangle((x, top, x + 7, low), "rule", fill=tone)
