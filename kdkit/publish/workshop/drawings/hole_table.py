"""The hole table of a panel: every bore and groove with its number and place."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping

from kdkit.catalogue.machines import Machine
from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.tables import surface_words
from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet, fitted_text, text_width
from kdkit.publish.workshop.drawings.title_block import room_on
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.hole_kinds import HoleKind, hole_kind
from kdkit.schedule.schedules import DrillLine, SlotLine
from kdkit.schedule.views import PanelViews, SurfaceView
from kdkit.units import mm_text

__all__ = [
    "ROW",
    "WIDTH",
    "Row",
    "draw_table",
    "hole_label",
    "hole_note",
    "number_bores",
    "slot_note",
    "table_lines",
    "table_sheets",
]

_HEIGHT = 1.8  # of the lettering; ISO 3098-1
ROW = 3.7
"""Height of a line of the table, mm."""
_COLUMNS = ((10.0, "end"), (14.0, "end"), (14.0, "end"), (33.0, "start"), (37.0, "start"))
WIDTH = sum(width for width, _ in _COLUMNS)
"""Of a column of the table, mm."""

_GAP = 8.0

Row = tuple[str, ...]
"""The cells of one line; a heading has one."""


def number_bores(panel: PanelViews) -> dict[DrillLine, int]:
    """Return the number of every bore, running over all surfaces of the panel."""
    bores = (bore for view in panel.views for bore in view.bores)
    return {bore: n for n, bore in enumerate(bores, start=1)}


def hole_label(number: int, bore: DrillLine, kinds: Mapping[HoleKind, str]) -> str:
    """Return what stands at a hole and before its line: its number and the letter of its kind."""
    return f"{number}{kinds.get(hole_kind(bore), '')}"


def hole_note(bore: DrillLine, say: Callable[..., str], machine: Machine) -> str:
    """Return a bore's note: diameter, × and depth; a through bore says so.

    A screw head's recess says the angle and the tip of the countersink that programs use.

    Source:
        ISO 15786:2008, depth after ×; from memory of the standard.
    """
    kind = "through" if bore.through else "blind"
    note = say(f"workshop.hole_{kind}", d=mm_text(bore.diameter, 2), depth=mm_text(bore.depth, 2))
    if bore.towards_deg is not None:
        note += say("workshop.hole_leaning", angle=mm_text(bore.angle_deg, 2))
    number = machine.tool_for(bore.diameter, countersink=True) if bore.sloped else None
    if number is not None:
        tool = machine.tools[number]
        angle, tip = mm_text(tool.angle or 0.0, 1), mm_text(tool.tip or 0.0, 2)
        note += say("workshop.hole_sink", angle=angle, tip=tip)
    elif bore.sloped:
        note += say("workshop.hole_sloped")
    if bore.stage == "home":
        note += say("workshop.hole_at_home")
    return note


def slot_note(slot: SlotLine, say: Callable[..., str]) -> str:
    """Return a slot's note: length, width and depth at its mouth."""
    length = math.dist(slot.start, slot.end)
    note = say(
        "workshop.slot_note",
        length=mm_text(length, 1),
        width=mm_text(slot.width, 2),
        depth=mm_text(slot.depth, 2),
    )
    return note + (say("workshop.hole_at_home") if slot.stage == "home" else "")


def table_sheets(
    rows: list[Row], job: WorkshopJob, new: Callable[[str], DrawingSheet]
) -> Iterator[DrawingSheet]:
    """Yield as many sheets as lines of a table need that have no room beside their surface."""
    what = job.messages.plain("workshop.hole_table")
    while rows:
        sheet = new(what)
        x0, y0, x1, y1 = room_on(sheet)
        lines = int((y1 - y0 - 10 - ROW) / ROW)
        columns = int((x1 - x0 - 6 + _GAP) / (WIDTH + _GAP))
        for column in range(columns):
            taken, rows = _take(rows, lines)
            if taken:
                draw_table(sheet, taken, (x0 + 3 + column * (WIDTH + _GAP), y0 + 8), job)
        yield sheet


def _take(rows: list[Row], lines: int) -> tuple[list[Row], list[Row]]:
    """Return what goes into one column, no heading alone at its foot, and the rest."""
    count = min(lines, len(rows))
    while count > 1 and count < len(rows) and len(rows[count - 1]) == 1:
        count -= 1
    return rows[:count], rows[count:]


def table_lines(
    views: Iterable[SurfaceView],
    numbers: Mapping[DrillLine, int],
    kinds: Mapping[HoleKind, str],
    job: WorkshopJob,
) -> list[Row]:
    """Return the lines for some surfaces of a panel, each under its name."""
    say = job.messages.plain
    rows: list[Row] = []
    for view in views:
        if not view.is_worked:
            continue
        rows.append((surface_words(job.messages, view.surface).capitalize(),))
        for bore in view.bores:
            purpose = job.messages.name("purposes", bore.purpose, bore.purpose)
            if bore.spare:
                purpose += say("workshop.spare")
            if bore.asked is not None:
                purpose += say("workshop.levelled", asked=mm_text(bore.asked, 2))
            first, *rest = wrap_lines(purpose, _fits_purpose)
            rows.append(
                (
                    hole_label(numbers[bore], bore, kinds),
                    mm_text(bore.x, 2),
                    mm_text(bore.y, 2),
                    hole_note(bore, say, job.machine),
                    first,
                )
            )
            rows += [("", "", "", "", line) for line in rest]
        for groove in view.grooves:
            rows.append(
                (
                    "",
                    mm_text(groove.x[0], 2),
                    mm_text(groove.y[0], 2),
                    say("workshop.groove_note", depth=mm_text(groove.depth, 2)),
                    say("workshop.groove_to", x=mm_text(groove.x[1], 2), y=mm_text(groove.y[1], 2)),
                )
            )
        for slot in view.slots:
            rows.append(
                (
                    "",
                    mm_text((slot.start[0] + slot.end[0]) / 2, 2),
                    mm_text((slot.start[1] + slot.end[1]) / 2, 2),
                    slot_note(slot, say),
                    job.messages.name("purposes", slot.purpose, slot.purpose),
                )
            )
    return rows


def _fits_purpose(line: str) -> bool:
    return text_width(line, _HEIGHT) <= _COLUMNS[-1][0] - 2


def draw_table(
    sheet: DrawingSheet, rows: list[Row], at: tuple[float, float], job: WorkshopJob
) -> None:
    """Draw lines under the headings, from their upper left corner on."""
    say = job.messages.plain
    x, y = at
    heads = tuple(say(f"workshop.hole_{h}") for h in ("number", "x", "y", "note", "purpose"))
    _line(sheet, heads, x, y, bold=True)
    sheet.line((x, y + 1.1), (x + WIDTH, y + 1.1), "edge")
    for row in rows:
        y += ROW
        _line(sheet, row, x, y, bold=len(row) == 1)
        sheet.line((x, y + 1.0), (x + WIDTH, y + 1.0), "dimension")


def _line(sheet: DrawingSheet, row: Row, x: float, y: float, *, bold: bool = False) -> None:
    if len(row) == 1:
        sheet.text((x + 1, y), fitted_text(row[0], _HEIGHT, WIDTH - 2), _HEIGHT, bold=True)
        return
    for text, (width, anchor) in zip(row, _COLUMNS, strict=True):
        shown = fitted_text(text, _HEIGHT, (width - 2) / (1.12 if bold else 1.0))
        place = x + width - 1 if anchor == "end" else x + 1
        sheet.text((place, y), shown, _HEIGHT, anchor=anchor, bold=bold)
        x += width
