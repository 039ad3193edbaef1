"""The worked surfaces of one member, each a small drawing with running dimensions."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet
from kdkit.publish.workshop.drawings.hole_table import number_bores
from kdkit.publish.workshop.drawings.panel_drawings import ViewDrawing, fitting_scale, view_head
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.views import PanelViews, SurfaceView

__all__ = ["SmallDrawing", "draw_member"]

WIDE = 88.0
"""Width of a drawing, mm: two of them go on a page side by side."""

_ROOM, _EDGE_ROOM = (62.0, 42.0), (62.0, 14.0)  # the most that a view measures, mm
_LEFT = 17.0
_NOTES, _ORDINATES = 11.0, 15.0  # above or below a view, mm


@dataclass(frozen=True)
class SmallDrawing:
    """One surface: what is drawn, in words, and the drawing."""

    caption: str
    svg: Markup


def draw_member(panel: PanelViews, job: WorkshopJob) -> Iterator[SmallDrawing]:
    """Yield a drawing of every worked surface of a panel."""
    numbers = number_bores(panel)
    for view in panel.views:
        if not view.is_worked:
            continue
        n = _scale(view)
        least_x, least_y, _, most_y = view.box
        title = f"{panel.cut.title} {panel.letter}"
        caption = f"{title}. {view_head(panel, view, job)} 1 : {n}"
        high = _NOTES + _ORDINATES + (most_y - least_y) / n
        sheet = DrawingSheet(WIDE, high, caption)
        above = _ORDINATES if view.y_down else _NOTES
        origin = (_LEFT - least_x / n, above + most_y / n)
        zone = (0.5, 0.5, WIDE - 0.5, high - 0.5)
        ViewDrawing(sheet, view, n, origin, zone, job).draw(numbers, grain=False)
        yield SmallDrawing(caption, Markup(_free(sheet.render())))


def _scale(view: SurfaceView) -> int:
    least_x, least_y, most_x, most_y = view.box
    return fitting_scale(most_x - least_x, most_y - least_y, _EDGE_ROOM if view.is_edge else _ROOM)


def _free(svg: str) -> str:
    """Return a drawing whose size the page sets."""
    return re.sub(r'(<svg[^>]*?) width="[^"]*" height="[^"]*"', r"\1", svg, count=1)
