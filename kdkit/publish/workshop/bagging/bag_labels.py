"""Labels for the bags, on sheets in a grid: pieces at true size, counts, mass, code."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.catalogue.bagging import LabelSheet
from kdkit.illustrate.figures.item_figure import REDUCTIONS, draw_item
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line
from kdkit.publish.workshop.bagging.bag_code import QUIET, code_cells, code_text
from kdkit.publish.workshop.bagging.bag_tables import limits_of, shown_g
from kdkit.publish.workshop.drawings.drawing_sheet import Box, DrawingSheet, fitted_text, text_width
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.bags import Bag, Bagged

__all__ = ["CODE", "draw_bag_labels"]

CODE = 20.0
"""Side of the code, mm."""

_RIM = 3.0  # white inside a label's edge
_HEAD = CODE + 2.0
_FOOT = 8.0
_WORDS = 7.5  # under a piece: its count, its name
_NARROWEST = 25.0  # of a piece with its words
_BALLOON = 2.0  # radius, round a piece's number in the manual
_PENS = {"hardware": "edge", "thin": "dimension"}
_TONES = {"hardware": "#fff", "bore": "#333"}


@dataclass(frozen=True)
class _Piece:
    """An item as it lies on a label."""

    item: Bagged
    figure: Figure
    count: str
    words: str
    width: float

    @property
    def height(self) -> float:
        return self.figure.height + _WORDS


def draw_bag_labels(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return the sheets of labels: each bag has one, or as many as its pieces take."""
    grid = job.label_sheet
    labels = [label for bag in job.results.schedules.bags for label in _labels(job, bag, grid)]
    sheets = []
    for start in range(0, len(labels), grid.per_sheet):
        sheet = DrawingSheet(*grid.paper, job.messages.plain("bag_label.sheet"))
        for place, (bag, rows, n, of) in enumerate(labels[start : start + grid.per_sheet]):
            x, y = grid.corner(place)
            _draw(sheet, job, bag, rows, (n, of), (x, y, x + grid.label[0], y + grid.label[1]))
        sheets.append(sheet)
    return tuple(sheets)


def _labels(
    job: WorkshopJob, bag: Bag, grid: LabelSheet
) -> Iterator[tuple[Bag, list[list[_Piece]], int, int]]:
    """Yield each label of a bag: its rows of pieces, its number, how many there are."""
    room = (grid.label[0] - 2 * _RIM, grid.label[1] - 2 * _RIM - _HEAD - _FOOT)
    turned = {
        action.item
        for fitting in job.results.joinery.fittings.values()
        for action in fitting.actions
        if action.do == "turn"
    }
    pieces = [_piece(job, line, room, line.item in turned) for line in bag.items]
    pages: list[list[list[_Piece]]] = []
    for row in _rows(pieces, room[0]):
        high = max(piece.height for piece in row)
        if not pages or _height(pages[-1]) + high > room[1] + 1e-6:
            pages.append([])
        pages[-1].append(row)
    for n, rows in enumerate(pages, start=1):
        yield bag, rows, n, len(pages)


def _piece(job: WorkshopJob, line: Bagged, room: tuple[float, float], turned: bool) -> _Piece:
    """Return an item drawn at true size, or at the first reduction at which a label holds it."""
    item = job.results.catalogue.items[line.item]
    for reduction in REDUCTIONS:
        figure = draw_item(item, turned=turned, scale=1 / reduction)
        if figure.width <= room[0] and figure.height <= room[1] - _WORDS:
            break
    words = _words(job, line, figure)
    key = "bag_label.with_spares" if line.spares else "bag_label.pieces"
    count = job.messages.plain(key, n=line.needed, spares=line.spares)
    told = text_width(count, 2.5) * 1.12 + 2 * _BALLOON + 4
    width = max(figure.width, _NARROWEST, told, text_width(words, 1.8) + 2)
    return _Piece(line, figure, count, words, min(room[0], width))


def _words(job: WorkshopJob, line: Bagged, figure: Figure) -> str:
    """Return what stands under a piece: its name and size, and how much it is reduced."""
    title = job.messages.name("items", line.item, line.title)
    size = job.messages.name("item_sizes", line.item, line.size)
    words = f"{title} {size}".strip()
    if figure.scale < 1:
        scale = job.messages.plain("hardware.scale", scale=f"1 : {round(1 / figure.scale)}")
        return f"{scale}: {words}"
    return words


def _rows(pieces: Sequence[_Piece], width: float) -> Iterator[list[_Piece]]:
    row: list[_Piece] = []
    for piece in pieces:
        if row and sum(p.width for p in row) + piece.width > width + 1e-6:
            yield row
            row = []
        row.append(piece)
    if row:
        yield row


def _height(rows: Sequence[Sequence[_Piece]]) -> float:
    return sum(max(piece.height for piece in row) for row in rows)


def _draw(
    sheet: DrawingSheet,
    job: WorkshopJob,
    bag: Bag,
    rows: Sequence[Sequence[_Piece]],
    number: tuple[int, int],
    box: Box,
) -> None:
    sheet.rectangle(box, "hidden")
    x0, y0, x1, y1 = (box[0] + _RIM, box[1] + _RIM, box[2] - _RIM, box[3] - _RIM)
    module = _draw_code(sheet, _code(job, bag), (x1 - CODE, y0))
    _head(sheet, job, bag, (x0, y0, x1 - CODE - QUIET * module, y0 + CODE))
    y = y0 + _HEAD
    for row in rows:
        x = x0
        for piece in row:
            _draw_piece(sheet, piece, (x, y))
            x += piece.width
        y += max(piece.height for piece in row)
    _foot(sheet, job, bag, number, (x0, x1, y1))


def _head(sheet: DrawingSheet, job: WorkshopJob, bag: Bag, box: Box) -> None:
    """Write the bag's name large, and what it belongs to."""
    say = job.messages.plain
    x0, y0, x1, _ = box
    word = sheet.text((x0, y0 + 9.0), say("table.bag"), 2.5)
    room = x1 - word[2] - 2.5
    height = next((h for h in (8.5, 7.0, 5.0, 3.5) if text_width(bag.name, h) * 1.12 <= room), 3.5)
    name = fitted_text(bag.name, height, room / 1.12)
    sheet.text((word[2] + 2.0, y0 + 9.0), name, height, bold=True)  # J and Q go below
    said = job.results.resolved.said
    marks = [say("bag_label.revision", revision=job.revision)]
    if job.results.resolved.variant:
        marks.append(say("bag_label.variant", variant=job.results.resolved.variant))
    if getattr(said, "batch", ""):
        marks.append(say("bag_label.batch", batch=said.batch))
    if getattr(said, "gtin", ""):
        marks.append(say("bag_label.gtin", gtin=said.gtin))
    sheet.text((x0, y0 + 14.6), fitted_text(job.product, 2.5, x1 - x0), 2.5)
    for n, text in enumerate(_folded(marks, say("list.comma"), x1 - x0)):
        sheet.text((x0, y0 + 17.6 + 2.7 * n), fitted_text(text, 1.8, x1 - x0), 1.8)


def _folded(marks: Sequence[str], comma: str, room: float) -> list[str]:
    """Return texts on one line, or on two where one is too short for them."""
    line = comma.join(marks)
    if text_width(line, 1.8) <= room or len(marks) < 2:
        return [line]
    return [comma.join(marks[:-1]), marks[-1]]


def _draw_piece(sheet: DrawingSheet, piece: _Piece, at: tuple[float, float]) -> None:
    """Draw a piece with its count and its name under it."""
    x, y = at
    for shape in piece.figure.primitives:
        if isinstance(shape, Area):
            sheet.area([(x + u, y + v) for u, v in shape.outer], _TONES.get(shape.tone, "#fff"))
        elif isinstance(shape, Line):
            points = [(x + u, y + v) for u, v in shape.points]
            sheet.polyline(points, _PENS.get(shape.pen, "edge"), closed=shape.closed)
        elif isinstance(shape, Circle):
            centre = (x + shape.centre[0], y + shape.centre[1])
            fill = _TONES.get(shape.tone, "#fff") if shape.tone else "none"
            sheet.circle(centre, shape.radius, _PENS.get(shape.pen, "edge"), fill=fill)
    base = y + piece.figure.height + 2.8
    ends = sheet.text((x + 1, base), piece.count, 2.5, bold=True)
    middle = ends[2] + 1.2 + _BALLOON
    sheet.circle((middle, base - 1.25), _BALLOON)
    sheet.text((middle, base - 0.4), str(piece.item.number), 1.8, anchor="middle")
    sheet.text((x + 1, base + 3.2), fitted_text(piece.words, 1.8, piece.width - 2), 1.8)


def _foot(
    sheet: DrawingSheet,
    job: WorkshopJob,
    bag: Bag,
    number: tuple[int, int],
    place: tuple[float, float, float],
) -> None:
    """Write what the bag weighs, and when it is opened."""
    say = job.messages.plain
    x0, x1, y = place
    scale = job.results.catalogue.scales.get(bag.scale)
    if bag.weighs:
        low, high = limits_of(bag, scale)
        mass = say("bag_label.mass", mass=shown_g(bag.mass_g, scale), low=low, high=high)
    else:
        mass = say("bag_label.count", mass=shown_g(bag.mass_g, scale), n=bag.pieces)
    notes = [say("bag_label.opened", n=bag.opened)] if bag.opened else []
    if number[1] > 1:
        notes.append(say("bag_label.number", n=number[0], of=number[1]))
    note = say("list.comma").join(notes)
    sheet.line((x0, y - 7.4), (x1, y - 7.4), "rule")
    height = 2.5 if text_width(mass, 2.5) <= x1 - x0 else 1.8
    sheet.text((x0, y - 3.8), fitted_text(mass, height, x1 - x0), height)
    sheet.text((x0, y - 0.6), fitted_text(note, 1.8, x1 - x0), 1.8)


def _code(job: WorkshopJob, bag: Bag) -> str:
    """Return what the code says: which bag, of what, and what it weighs."""
    said = job.results.resolved.said
    scale = job.results.catalogue.scales.get(bag.scale)
    return code_text(
        {
            "bag": bag.name,
            "product": job.product,
            "revision": job.revision,
            "variant": job.results.resolved.variant or "",
            "batch": str(getattr(said, "batch", "")),
            "gtin": str(getattr(said, "gtin", "")),
            "grams": [float(shown_g(bag.mass_g, scale)), round(bag.limit_g, 2)],
        }
    )


def _draw_code(sheet: DrawingSheet, text: str, corner: tuple[float, float]) -> float:
    """Draw the code ``CODE`` wide and return the width of a module, mm."""
    side, runs = code_cells(text)
    module = CODE / side
    for y, x, n in runs:
        left, top = corner[0] + x * module, corner[1] + y * module
        right, low = left + n * module, top + module
        sheet.area(((left, top), (right, top), (right, low), (left, low)), "#000")
    return module
