"""Labels for cartons: what it is, which carton of how many, how heavy, its code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from kdkit.definition.trade_numbers import digital_link, element_text
from kdkit.model.says import Product
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.packing.layer_sheets import sizes_text, wrapped_lines
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    Box,
    DrawingSheet,
    fitted_text,
)
from kdkit.schedule.packing import Carton

__all__ = ["CartonLabel", "draw_labels", "labels_of", "qr_rows"]

COLUMNS, ROWS = 2, 2
"""Labels on a lying sheet: on A4 each has the size of A6, less the margin."""

_EDGE = 6.0
_CELL = 0.6
"""mm, the least side of a square of the code. Source: GS1 General Specifications, from memory,
ask 0.396 at least where goods are scanned in general distribution."""


@dataclass(frozen=True, kw_only=True)
class CartonLabel:
    """What stands on one carton's label; texts are as printed."""

    title: str
    whose: str
    carton: str
    open_first: str
    outer: str
    mass: str
    persons: int
    carry: str
    contents: str
    maker: str
    code: tuple[tuple[int, ...], ...] = ()
    code_text: str = ""


def qr_rows(text: str) -> tuple[tuple[int, ...], ...]:
    """Return the squares of a QR code (ISO/IEC 18004), 1 for dark, without its white border."""
    code = segno.make(text, error="m", micro=False, boost_error=False)
    return tuple(tuple(1 if cell else 0 for cell in row) for row in code.matrix)


def labels_of(job: PackingJob) -> tuple[CartonLabel, ...]:
    """Return the label of every carton of one product."""
    return tuple(_label_of(job, carton) for carton in job.packing.cartons)


def _label_of(job: PackingJob, carton: Carton) -> CartonLabel:
    say = job.messages.plain
    said = job.results.resolved.said
    maker = said.maker if isinstance(said, Product) else None
    batch, of = job.said("batch"), len(job.packing.cartons)
    whose = say("packing.revision", revision=job.said("revision"))
    if batch:
        whose += ", " + say("packing.batch", batch=batch)
    carry = "packing.aid" if carton.needs_aid else "packing.persons"
    marks = dict.fromkeys(p.piece.mark for p in carton.placed if p.piece.mark)
    code: tuple[tuple[int, ...], ...] = ()
    code_text = ""
    if job.gtin:
        code = qr_rows(digital_link(job.gtin, batch, carton.number, of, job.domain))
        code_text = element_text(job.gtin, batch, carton.number, of)
    return CartonLabel(
        title=job.title,
        whose=whose,
        carton=say("packing.carton", n=carton.number, of=of),
        open_first=say("packing.open_first") if carton.has_hardware and of > 1 else "",
        outer=say("packing.outer", size=sizes_text(carton.outer)),
        mass=say("packing.gross", gross=f"{carton.gross_kg:.1f}"),
        persons=carton.persons,
        carry=say(carry)
        if carton.needs_aid
        else str(job.messages.count("packing.persons", carton.persons)),
        contents=say("packing.holds", marks=", ".join(marks)),
        maker=" · ".join(text for text in (maker.name, maker.address, maker.contact) if text)
        if maker is not None
        else "",
        code=code,
        code_text=code_text,
    )


def draw_labels(
    labels: Sequence[CartonLabel], paper: str, messages: Messages
) -> list[DrawingSheet]:
    """Return sheets with labels side by side, to be cut apart."""
    sheets: list[DrawingSheet] = []
    for n, label in enumerate(labels):
        place = n % (COLUMNS * ROWS)
        if place == 0:
            title = messages.plain("packing.labels_sheet", n=len(sheets) + 1)
            sheets.append(DrawingSheet(*PAPER_SIZES[paper], title))
        sheet = sheets[-1]
        wide, high = sheet.width / COLUMNS, sheet.height / ROWS
        x, y = place % COLUMNS * wide, place // COLUMNS * high
        sheet.rectangle((x + 2, y + 2, x + wide - 2, y + high - 2), "hidden")
        _draw(sheet, label, messages, (x + _EDGE, y + _EDGE, x + wide - _EDGE, y + high - _EDGE))
    return sheets


def _draw(sheet: DrawingSheet, label: CartonLabel, messages: Messages, box: Box) -> None:
    x0, y0, x1, y1 = box
    room = x1 - x0
    y = y0 + 6
    for line in wrapped_lines(label.title, 5.0, room / 1.12)[:2]:
        sheet.text((x0, y), line, 5.0, bold=True)
        y += 8
    sheet.text((x0, y), fitted_text(label.whose, 2.5, room), 2.5)
    y += 13
    sheet.text((x0, y), fitted_text(label.carton, 7.0, room / 1.12), 7.0, bold=True)
    if label.open_first:
        y += 7
        sheet.text((x0, y), fitted_text(label.open_first, 3.5, room), 3.5)
    side = _CELL * len(label.code)
    left = room - side - 4 * _CELL - 2 if label.code else room
    y += 12
    _draw_bearers(sheet, label.persons, (x0, y - 6))
    at = x0 + 6 * label.persons + 3
    sheet.text((at, y - 3), fitted_text(label.mass, 3.5, x0 + left - at), 3.5)
    sheet.text((at, y + 2.5), fitted_text(label.carry, 2.5, x0 + left - at), 2.5)
    sheet.text((at, y + 7), fitted_text(label.outer, 2.5, x0 + left - at), 2.5)
    y += 13.5
    for line in wrapped_lines(label.contents, 2.5, left)[: max(1, int((y1 - 8 - y) / 4))]:
        sheet.text((x0, y), line, 2.5)
        y += 4
    if label.code:
        sheet.code((x1 - side - 2, y1 - side - 8), side, label.code)
        sheet.text((x1 - 2, y1 - 3.6), label.code_text, 1.8, anchor="end")
    sheet.text((x0, y1), fitted_text(label.maker, 1.8, room), 1.8)


def _draw_bearers(sheet: DrawingSheet, persons: int, corner: tuple[float, float]) -> None:
    """Draw as many figures as carry it: a sign of our own, for no standard has one."""
    x, y = corner
    for n in range(persons):
        middle = x + 2.5 + 6 * n
        sheet.circle((middle, y + 1.2), 1.1, "outline", fill="#000")
        sheet.polyline(
            ((middle - 1.7, y + 3), (middle + 1.7, y + 3), (middle + 1.2, y + 8.6),
             (middle - 1.2, y + 8.6)),
            "outline",
            closed=True,
            fill="#000",
        )  # fmt: skip
