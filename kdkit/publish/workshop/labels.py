"""A label for every part, on sheets to be cut."""

from __future__ import annotations

from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    Box,
    DrawingSheet,
    fitted_text,
)
from kdkit.publish.workshop.drawings.title_block import board_words
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.schedules import CutLine
from kdkit.units import mm_text

__all__ = ["LABELS", "draw_labels"]

LABELS = (4, 6)
"""Columns and rows of labels on a lying sheet."""


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
    part = line.parts[n % len(line.parts)]
    said = (
        size,
        board_words(job, line),
        bands,
        bevels,
        say("workshop.label_count", part=part, n=n + 1, of=line.quantity),
        say("workshop.label_product", product=job.product, revision=job.revision),
    )
    texts = [text for text in said if text]
    first = y + 11.5
    pitch = min(3.9, (box[3] - first) / (len(texts) - 1))
    for row, text in enumerate(texts):
        sheet.text((x, first + pitch * row), fitted_text(text, 1.8, room), 1.8)
