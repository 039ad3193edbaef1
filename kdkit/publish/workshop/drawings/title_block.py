"""The frame round a sheet and the title block at its foot."""

from __future__ import annotations

import re

from kdkit.model.says import Product
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.drawings.drawing_sheet import Box, DrawingSheet, fitted_text, text_width
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.schedules import CutLine
from kdkit.units import mm_text

__all__ = ["BLOCK", "board_words", "draw_frame", "draw_title_block", "room_on"]

BORDER = (20.0, 10.0, 10.0, 10.0)
"""Left, top, right, bottom of the frame, mm; the left one for filing. Source: ISO 5457,
from memory."""

BLOCK = 20.0
"""Height of the title block, mm."""

Cell = tuple[str, str, float]
"""Caption, text, share of the width."""


def room_on(sheet: DrawingSheet) -> Box:
    """Return what frame and title block leave free."""
    left, top, right, bottom = BORDER
    return (left, top, sheet.width - right, sheet.height - bottom - BLOCK)


def draw_frame(sheet: DrawingSheet) -> None:
    """Draw the frame."""
    x0, y0, x1, y1 = room_on(sheet)
    sheet.rectangle((x0, y0, x1, y1 + BLOCK), "frame")


def board_words(job: WorkshopJob, line: CutLine) -> str:
    """Return a board as people name it, with its thickness."""
    board = job.results.resolved.boards.get(line.board)
    material = job.results.catalogue.boards.get(line.material)
    title = (board.title if board is not None else "") or job.messages.name(
        "boards", line.material, material.title if material else line.board
    )
    return thick_board(job.messages, title, line.thickness)


def thick_board(messages: Messages, title: str, thickness: float) -> str:
    """Return a board's title with its thickness, which the title may say already."""
    t = mm_text(thickness)
    bare = re.sub(rf"[\s,]*(?<![\d.,]){re.escape(t)}(\s*mm)?$", "", title)
    return messages.plain("workshop.board", title=bare or title, t=t)


def draw_title_block(
    sheet: DrawingSheet, job: WorkshopJob, line: CutLine | None, what: str, scale: str, number: str
) -> None:
    """Draw the title block.

    Args:
        line: the panel that the sheet is about, None for the whole product.
        what: what the sheet shows.
        scale: as it is written, "" for a sheet without one.
        number: of the sheet, "2 / 9".
    """
    say = job.messages.plain
    said = job.results.resolved.said
    maker = said.maker.name if isinstance(said, Product) and said.maker is not None else ""
    variant = job.results.resolved.variant
    product = f"{job.product} ({variant})" if variant else job.product
    if line is None:
        upper: list[Cell] = [(say("workshop.block_shows"), what, 0.6)]
        lower: list[Cell] = [(say("workshop.block_maker"), maker, 0.35)]
    else:
        upper = [
            (say("workshop.block_title"), f"{line.letter}  {line.title}", 0.3),
            (say("workshop.block_shows"), what, 0.23),
        ]
        size = say("parts.size", length=mm_text(line.finished[0]), width=mm_text(line.finished[1]),
                   thickness=mm_text(line.thickness))  # fmt: skip
        lower = [
            (say("workshop.block_maker"), maker, 0.14),
            (say("workshop.block_board"), board_words(job, line), 0.24),
            (say("workshop.block_size"), size, 0.18),
            (say("workshop.block_quantity"), str(line.quantity), 0.08),
            (say("workshop.block_mass"), say("workshop.kg", mass=f"{line.mass_kg:.2f}"), 0.09),
            (say("workshop.block_pair"), line.pair or say("workshop.none"), 0.12),
            (say("workshop.block_tolerance"), say("workshop.tolerance"), 0.15),
        ]
    upper += [
        (say("workshop.block_product"), product, 0.22),
        (say("workshop.block_revision"), job.revision, 0.11),
        (say("workshop.block_date"), str(getattr(said, "date", "")), 0.14),
    ]
    x0, _, x1, y1 = room_on(sheet)
    right = x1 - 46.0
    _row(sheet, upper, x0, right, y1)
    _row(sheet, lower, x0, right, y1 + BLOCK / 2)
    corner = [(say("workshop.block_scale"), scale, 0.5), (say("workshop.block_sheet"), number, 0.5)]
    _row(sheet, corner, right, x1, y1)
    units = [(say("workshop.block_units"), say("workshop.units"), 0.6), ("", "", 0.4)]
    _row(sheet, units, right, x1, y1 + 10)
    _projection(sheet, (x1 - 9.2, y1 + 15))


def _projection(sheet: DrawingSheet, middle: tuple[float, float]) -> None:
    """Draw the sign of first-angle projection: a cone's frustum, and it seen from its left.

    Source:
        ISO 5456-2, from memory.
    """
    x, y = middle
    frustum = ((x - 6.5, y - 1.5), (x - 0.5, y - 3.0), (x - 0.5, y + 3.0), (x - 6.5, y + 1.5))
    sheet.polyline(frustum, "edge", closed=True)
    for radius in (1.5, 3.0):
        sheet.circle((x + 4.5, y), radius, "edge")
    sheet.line((x - 7.5, y), (x + 0.5, y), "centre")
    sheet.line((x + 0.5, y), (x + 8.5, y), "centre")
    sheet.line((x + 4.5, y - 4.0), (x + 4.5, y + 4.0), "centre")


def _row(sheet: DrawingSheet, cells: list[Cell], x0: float, x1: float, y: float) -> None:
    """Draw cells side by side; the last one takes what is left."""
    x = x0
    for n, (caption, text, share) in enumerate(cells):
        end = x1 if n == len(cells) - 1 else x + (x1 - x0) * share
        sheet.rectangle((x, y, end, y + BLOCK / 2), "edge")
        sheet.text((x + 1.2, y + 3.0), fitted_text(caption, 1.8, end - x - 2), 1.8)
        _fill(sheet, text, x + 1.2, y, end - x - 2)
        x = end


def _fill(sheet: DrawingSheet, text: str, x: float, y: float, room: float) -> None:
    """Write a cell's text: smaller, then on two lines, before any of it is left out."""
    for height in (2.5, 1.8):
        if text_width(text, height) <= room:
            sheet.text((x, y + 7.9), text, height)
            return
    words = text.split(" ")
    fitting = [n for n in range(1, len(words)) if text_width(" ".join(words[:n]), 1.8) <= room]
    first = " ".join(words[: fitting[-1]]) if fitting else fitted_text(text, 1.8, room)
    sheet.text((x, y + 6.0), first, 1.8)
    if fitting:
        rest = " ".join(words[fitting[-1] :])
        sheet.text((x, y + 9.0), fitted_text(rest, 1.8, room), 1.8)
