"""A sheet for every part, for somebody at a drill press: one step after the other.

A step is one row of bores: bit, depth stop, side up, edge against the fence, places of the
stop. Steps stand in the order in which least is set anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.tables import surface_words
from kdkit.publish.workshop.drawings.hole_table import slot_note
from kdkit.publish.workshop.drawings.title_block import board_words
from kdkit.publish.workshop.handwork.posture import draw_posture
from kdkit.publish.workshop.handwork.setting_words import (
    bit_words,
    depth_words,
    end_words,
    fence_words,
    place_words,
)
from kdkit.publish.workshop.handwork.table_pages import MARGIN, SheetWriter, fits
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.datum import OPPOSITE
from kdkit.schedule.fence_rows import FenceRow, count_changes, fence_rows, fewest_changes
from kdkit.schedule.jig_rows import run_towards
from kdkit.schedule.views import PanelViews
from kdkit.units import mm_text

__all__ = ["draw_part_sheets", "step_lines"]

_PICTURE = (56.0, 34.0)
_STEP = 3.6  # between lines
_SMALL, _TEXT = 1.8, 2.5


def draw_part_sheets(writer: SheetWriter, job: WorkshopJob) -> None:
    """Write the steps of every part that has any; each part begins a page."""
    for panel in job.panels:
        rows = fewest_changes(fence_rows(panel))
        others = tuple(_not_drilled(panel, job))
        if not rows and not others:
            continue
        _head(writer, panel, rows, job)
        column, top, low = 0, writer.y, writer.y
        wide = writer.width / 2
        before: FenceRow | None = None
        for n, row in enumerate(rows, start=1):
            lines = [
                (text, bold)
                for told, bold in step_lines(row, before, n, job)
                for text in wrap_lines(told, fits(wide - 61, 2.0))
            ]
            height = max(_PICTURE[1], _STEP * len(lines)) + 3
            if column == 0 and top + height > writer.size[1] - MARGIN:
                _head(writer, panel, rows, job)
                top = low = writer.y
            x = MARGIN + column * wide
            writer.sheet.rectangle((x, top, x + wide - 2, top + height - 1), "dimension")
            draw_posture(
                writer.sheet, row, (x + 1, top + 1, x + 1 + _PICTURE[0], top + _PICTURE[1])
            )
            for m, (text, bold) in enumerate(lines):
                at = (x + _PICTURE[0] + 3, top + 4 + _STEP * m)
                writer.sheet.text(at, text, _SMALL, bold=bold)
            low = max(low, top + height)
            column = 1 - column
            if column == 0:
                top = low
            before = row
        writer.y = low + 2
        for text in others:
            writer.words(text)


def _head(
    writer: SheetWriter, panel: PanelViews, rows: Sequence[FenceRow], job: WorkshopJob
) -> None:
    """Begin a page with what the part is."""
    say, cut = job.messages.plain, panel.cut
    writer.new_page()
    bits, depths, fences = count_changes(rows)
    writer.heading(
        say("workshop.hand_part", letter=cut.letter, title=cut.title, n=cut.quantity)
        + ": "
        + say("parts.size", length=mm_text(cut.finished[0]), width=mm_text(cut.finished[1]),
              thickness=mm_text(cut.thickness))
        + ", "
        + board_words(job, cut)
    )  # fmt: skip
    writer.words(say("workshop.hand_legend", n=len(rows), bits=bits, depths=depths, fences=fences))


def step_lines(
    row: FenceRow, before: FenceRow | None, n: int, job: WorkshopJob
) -> Iterator[tuple[str, bool]]:
    """Yield the lines of a step and whether they are bold: what is set anew is."""
    messages = job.messages
    say = messages.plain
    same = before is not None and before.setting[:2] == row.setting[:2]
    deep = before is not None and before.setting[:3] == row.setting[:3]
    still = before is not None and before.setting[3] == row.setting[3]
    bit = bit_words(messages, row)
    yield (
        say("workshop.hand_step", n=n, bit=bit) + (say("workshop.hand_stays") if same else ""),
        True,
    )
    yield depth_words(messages, row) + (say("workshop.hand_stays") if deep else ""), not deep
    if row.kind[2]:
        yield say("workshop.hand_waste"), False
    surface = surface_words(messages, row.view.surface)
    yield say("workshop.hand_up", surface=surface), True
    fence = say(
        "workshop.hand_fence", what=fence_words(messages, row), distance=mm_text(row.distance, 2)
    )
    yield fence + (say("workshop.hand_stays") if still else ""), not still
    yield (
        say("workshop.hand_stop", side=say(f"sides.{row.stop}"), end=end_words(messages, row)),
        False,
    )
    yield place_words(row.positions), True
    purposes = dict.fromkeys(messages.name("purposes", b.purpose, b.purpose) for b in row.bores)
    yield say("workshop.hand_bores", n=len(row.bores), purposes=", ".join(purposes)), False
    asked = sorted({mm_text(b.asked, 2) for b in row.bores if b.asked is not None})
    if asked:
        depth = mm_text(row.kind[1], 2)
        yield say("workshop.hand_levelled", asked=", ".join(asked), depth=depth), False
    if not row.straight:
        yield say("workshop.hand_no_edge"), False
    if row.view.leans:
        yield say("workshop.hand_bevel", angle=mm_text(row.view.leans, 2)), False
    elif row.view.slants > 0.01:
        yield say("workshop.hand_slant", angle=mm_text(row.view.slants, 2)), False
    if row.towards is not None:
        yield say("workshop.hand_lean", angle=mm_text(90 - row.kind[4], 2),
                  towards=_lean_words(row, job)), False  # fmt: skip
    if row.kind[5] == "home":
        yield say("workshop.hand_home"), True


def _lean_words(row: FenceRow, job: WorkshopJob) -> str:
    """Return where a slanted bore runs: to a side if it runs square to one, else degrees."""
    assert row.towards is not None
    say = job.messages.plain
    x, y = math.cos(math.radians(row.towards)), math.sin(math.radians(row.towards))
    for share, axis in ((x, 0), (y, 1)):
        if abs(share) > 0.9999:
            side = run_towards(row.panel, row.view.surface, axis)
            side = side if share > 0 else OPPOSITE.get(side, "")
            if side:
                return say(f"runs.{side}")
    return say("workshop.hand_degrees", n=mm_text(row.towards, 1))


def _not_drilled(panel: PanelViews, job: WorkshopJob) -> Iterator[str]:
    """Yield what a drill press does not make."""
    say = job.messages.plain
    for view in panel.views:
        surface = surface_words(job.messages, view.surface)
        for groove in view.grooves:
            (x0, x1), (y0, y1) = groove.x, groove.y
            yield say("workshop.hand_groove", surface=surface, depth=mm_text(groove.depth, 2),
                      x0=mm_text(x0, 2), y0=mm_text(y0, 2), x1=mm_text(x1, 2),
                      y1=mm_text(y1, 2))  # fmt: skip
        for slot in view.slots:
            x, y = ((a + b) / 2 for a, b in zip(slot.start, slot.end, strict=True))
            yield say("workshop.hand_slot", surface=surface, note=slot_note(slot, say),
                      x=mm_text(x, 2), y=mm_text(y, 2))  # fmt: skip
