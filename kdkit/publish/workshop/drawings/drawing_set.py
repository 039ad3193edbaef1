"""``drawings.pdf``: the sheets of all panels, as few as they can be read on.

Surfaces of a panel stand below each other on one sheet, the table of their holes beside
them, as long as their scale falls by no more than one step of ISO 5455 against a sheet of
their own and the table has room. What does not find room so has a sheet of its own, and its
table the next.
"""

from __future__ import annotations

import math
import pathlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from kdkit.diagnostics import Problem
from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.tables import surface_words
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, Box, DrawingSheet, text_width
from kdkit.publish.workshop.drawings.hole_table import (
    ROW,
    WIDTH,
    Row,
    draw_table,
    number_bores,
    table_lines,
    table_sheets,
)
from kdkit.publish.workshop.drawings.panel_drawings import (
    AWAY,
    NOTE,
    SCALES,
    SIDE,
    ZONE,
    ViewDrawing,
    fitting_scale,
    view_head,
)
from kdkit.publish.workshop.drawings.title_block import draw_frame, draw_title_block, room_on
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.hole_kinds import HoleKind, name_kinds
from kdkit.schedule.schedules import CutLine, DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView

__all__ = ["draw_panels", "write_drawings"]

_HEAD = 4.0  # beside the lines of a view's heading
_TABLE_GAP = 4.0


@dataclass(frozen=True)
class _Page:
    """A drawn sheet and what its title block says."""

    sheet: DrawingSheet
    line: CutLine
    what: str
    scale: str = ""


def write_drawings(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``drawings.pdf``, the sheets of all panels."""
    sheets = draw_panels(job)
    title = job.messages.plain("workshop.drawings_title", product=job.product)
    pdf = make_sheets([s.render() for s in sheets], PAPER_SIZES[job.paper], title, job.messages)
    (folder / "drawings.pdf").write_bytes(pdf)
    return ()


def draw_panels(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return the sheets of all panels, framed and numbered."""
    kinds = name_kinds(job.panels)
    pages = [page for panel in job.panels for page in _PanelSheets(panel, kinds, job).pages()]
    for number, page in enumerate(pages, start=1):
        draw_frame(page.sheet)
        draw_title_block(
            page.sheet, job, page.line, page.what, page.scale, f"{number} / {len(pages)}"
        )
    return tuple(page.sheet for page in pages)


class _PanelSheets:
    """The sheets of one panel."""

    def __init__(self, panel: PanelViews, kinds: Mapping[HoleKind, str], job: WorkshopJob) -> None:
        self.panel, self.kinds, self.job = panel, kinds, job
        self.numbers: dict[DrillLine, int] = number_bores(panel)
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], "")
        self.room: Box = room_on(sheet)
        self.lines = int((self.room[3] - self.room[1] - 10 - ROW) / ROW)

    def pages(self) -> Iterator[_Page]:
        """Yield the sheets: surfaces together while they can be read, in their order."""
        views = [
            view
            for view in self.panel.views
            if view.surface == "face" or view.is_worked or (view.is_edge and view.shows_bevel)
        ]
        together: list[SurfaceView] = []
        for view in views:
            if together and self._scale([*together, view]) is None:
                yield from self._sheet(together)
                together = []
            together.append(view)
        yield from self._sheet(together)

    def _rows(self, views: Sequence[SurfaceView]) -> list[Row]:
        return table_lines(views, self.numbers, self.kinds, self.job)

    def _zone(self, views: Sequence[SurfaceView], *, table: bool) -> Box:
        """Return what of a sheet is left for views, with or without their table beside them."""
        x0, y0, x1, y1 = self.room
        columns = math.ceil(len(self._rows(views)) / self.lines) if table else 0
        return (x0 + 1, y0 + 1, x1 - 1 - columns * (WIDTH + _TABLE_GAP), y1 - 1)

    def _alone(self, view: SurfaceView) -> int:
        """Return the scale that a view has on a sheet of its own."""
        x0, y0, x1, y1 = self._zone([view], table=False)
        room = (x1 - x0 - SIDE - AWAY, y1 - y0 - _HEAD - 4.0 - ZONE - AWAY)
        return fitting_scale(*_size(view), room)

    def _scale(self, views: Sequence[SurfaceView]) -> int | None:
        """Return the scale at which views and their table share a sheet, None if too small."""
        x0, y0, x1, y1 = self._zone(views, table=True)
        largest = max(SCALES.index(self._alone(view)) for view in views)
        for n in SCALES[: largest + 2]:
            wide = max(_size(view)[0] for view in views) / n + SIDE + AWAY
            high = sum(self._height(view, n, x1 - x0) for view in views)
            if wide <= x1 - x0 and high <= y1 - y0:
                return n
        return None

    def _heads(self, view: SurfaceView, room: float) -> list[str]:
        """Return the lines above a view."""
        return _wrapped(view_head(self.panel, view, self.job), room - 4)

    def _height(self, view: SurfaceView, n: int, room: float) -> float:
        """Return what a view takes at least with heading, numbers and notes."""
        return _HEAD + 4.0 * len(self._heads(view, room)) + ZONE + AWAY + _size(view)[1] / n

    def _sheet(self, views: Sequence[SurfaceView]) -> Iterator[_Page]:
        """Yield the sheet of some views with their table, or one view's and then its table's."""
        n, table = self._scale(views), True
        if n is None:
            (view,) = views
            n, table = self._alone(view), False
        what = ", ".join(surface_words(self.job.messages, view.surface) for view in views)
        new = self._maker()
        sheet = new(what)
        x0, y0, x1, y1 = self._zone(views, table=table)
        spare = y1 - y0 - sum(self._height(view, n, x1 - x0) for view in views)
        top = y0
        for view in views:
            wide, high = (size / n for size in _size(view))
            own = self._height(view, n, x1 - x0) + max(0.0, spare) / len(views)
            heads = self._heads(view, x1 - x0)
            for row, line in enumerate(heads):
                sheet.text((x0 + 2, top + 5 + 4.0 * row), line, NOTE)
            zone = (x0, top + 3 + 4.0 * len(heads), x1, top + own - 1)
            left = x0 + SIDE + (x1 - x0 - SIDE - AWAY - wide) / 2
            slack = (zone[3] - zone[1] - ZONE - AWAY - high) / 2
            above = zone[1] + max(0.0, slack) + (ZONE if view.y_down else AWAY)
            origin = (left - view.box[0] / n, above + view.box[3] / n)
            drawing = ViewDrawing(sheet, view, n, origin, zone, self.job, self.kinds)
            flat = not view.is_edge
            drawing.draw(self.numbers, grain=flat and self.panel.cut.grain == "length")
            top += own
        rows = self._rows(views)
        if table:
            at = x1 + _TABLE_GAP
            while rows:
                taken, rows = rows[: self.lines], rows[self.lines :]
                draw_table(sheet, taken, (at, self.room[1] + 8), self.job)
                at += WIDTH + _TABLE_GAP
        yield _Page(sheet, self.panel.cut, what, f"1 : {n}")
        for more in table_sheets(rows, self.job, new):
            yield _Page(more, self.panel.cut, self.job.messages.plain("workshop.hole_table"))

    def _maker(self) -> Callable[[str], DrawingSheet]:
        panel, paper = self.panel, PAPER_SIZES[self.job.paper]

        def new(what: str) -> DrawingSheet:
            return DrawingSheet(*paper, f"{panel.letter}, {panel.cut.title}: {what}")

        return new


def _size(view: SurfaceView) -> tuple[float, float]:
    """Return width and height of a view, from its datum on."""
    x0, y0, x1, y1 = view.box
    return (x1 - min(x0, 0.0), y1 - y0)


def _wrapped(text: str, room: float) -> list[str]:
    return wrap_lines(text, lambda line: text_width(line, NOTE) <= room)
