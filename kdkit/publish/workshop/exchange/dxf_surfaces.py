"""One DXF file a surface, for programs that take one set-up a file.

Layers are short words without spaces, the same in every language; the surface is in the
file's name. Where an outline or a slot is round, its polyline has true arcs.
"""

from __future__ import annotations

import pathlib
from collections import Counter
from collections.abc import Sequence

from ezdxf.document import Drawing

from kdkit.diagnostics import Problem
from kdkit.frames import Vec2
from kdkit.publish.files.columns import Column, mm, product_columns, table_rows
from kdkit.publish.files.tables import render_rows, surface_words
from kdkit.publish.workshop.exchange.arcs import ArcPoint, with_arcs
from kdkit.publish.workshop.exchange.dxf import Layer, PanelSheet, sound_text, view_note
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.schedules import DrillLine, GrooveLine, SlotLine
from kdkit.schedule.views import PanelViews, SurfaceView
from kdkit.units import mm_text

__all__ = ["LONGEST", "render_surface", "write_surfaces"]

LONGEST = 31
"""Characters of a layer's name that older programs take. Source: the DXF reference of
release 12, from memory."""

_PLAIN = {
    "outline": "OUTLINE",
    "far": "OUTLINE_FAR",
    "opening": "OPENING",
    "datum": "DATUM",
    "notes": "NOTES",
}


def write_surfaces(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``dxf-surfaces/A-face.dxf`` … and ``layers.csv``: every face and what is worked."""
    target = folder / "dxf-surfaces"
    target.mkdir()
    rows: list[tuple[PanelViews, str, Layer, int]] = []
    for panel in job.panels:
        for view in panel.views:
            if view.surface == "face" or view.is_worked or view.shows_bevel:
                name = f"{panel.letter}-{view.surface.replace(':', '-')}.dxf"
                text, counts = render_surface(panel, view, job)
                (target / name).write_text(text, encoding="utf-8", newline="")
                rows += [(panel, name, layer, count) for layer, count in counts.items()]
    say = job.messages.plain
    columns = [
        Column("workshop.layer_file", lambda row: row[1]),
        Column("workshop.layer_layer", lambda row: row[2].name),
        Column("workshop.layer_letter", lambda row: row[0].letter),
        Column("workshop.layer_surface", lambda row: surface_words(job.messages, row[2].surface)),
        Column("workshop.layer_kind", lambda row: say(f"workshop.kind_{row[2].kind}")),
        Column("workshop.layer_diameter", lambda row: row[2].diameter, mm(2)),
        Column("workshop.layer_depth", lambda row: row[2].depth, mm(2)),
        Column("workshop.layer_count", lambda row: row[3]),
        *product_columns(job.results),
    ]
    (target / "layers.csv").write_text(
        render_rows(table_rows(columns, rows, job.messages)), encoding="utf-8", newline=""
    )
    return ()


def render_surface(
    panel: PanelViews, view: SurfaceView, job: WorkshopJob
) -> tuple[str, Counter[Layer]]:
    """Return one surface's file as text, its datum in the origin, and what each layer holds."""

    def fill(drawing: Drawing) -> PanelSheet:
        sheet = _SurfaceSheet(drawing, job.messages)
        sheet.draw(view, (0.0, 0.0), view_note(panel, view, job))
        return sheet

    return sound_text(fill, panel.letter)


class _SurfaceSheet(PanelSheet):
    """One surface being drawn: short layers, true arcs."""

    def _plain(self, view: SurfaceView, kind: str) -> Layer:
        return Layer(_PLAIN[kind], view.surface, kind)

    def _bore_layer(self, bore: DrillLine) -> Layer:
        return Layer(_bore_name(bore), bore.surface, "bore", bore.diameter, bore.depth)

    def _groove_layer(self, groove: GrooveLine) -> Layer:
        name = f"GROOVE_T{_number(groove.depth, 2)}"
        return Layer(name, groove.surface, "groove", depth=groove.depth)

    def _slot_layer(self, slot: SlotLine) -> Layer:
        home = "_HOME" if slot.stage == "home" else ""
        name = f"SLOT_W{_number(slot.width, 2)}_T{_number(slot.depth, 2)}{home}"
        return Layer(name, slot.surface, "slot", depth=slot.depth)

    def _ring(self, points: Sequence[Vec2], layer: Layer) -> None:
        self._arcs(with_arcs(points), layer)

    def _slot(self, corners: Sequence[Vec2], slot: SlotLine) -> None:
        """Draw a routed slot with its half-round ends; a plunged one has square ones."""
        layer = self._slot_layer(slot)
        if slot.disc is not None:
            self._ring(corners, layer)
            return
        a, b, c, d = corners  # a and b at the start, c and d at the end
        half = slot.width / 2
        inner = [_moved(p, q, half) for p, q in ((a, d), (b, c), (c, b), (d, a))]
        turned = (b[0] - a[0]) * (d[1] - a[1]) - (b[1] - a[1]) * (d[0] - a[0]) < 0
        bulge = 1.0 if turned else -1.0
        p, q, r, s = inner
        self._arcs(((*s, 0.0), (*p, -bulge), (*q, 0.0), (*r, -bulge)), layer)

    def _arcs(self, points: Sequence[ArcPoint], layer: Layer) -> None:
        self.points += [(x, y) for x, y, _ in points]
        self.space.add_lwpolyline(
            points, format="xyb", close=True, dxfattribs=self._attributes(layer)
        )


def _bore_name(bore: DrillLine) -> str:
    """Return ``BORE_D8_T12``, ``BORE_D7_THROUGH`` …; rounded further where it is too long."""
    name = ""
    for places in (2, 1, 0):
        name = f"BORE_D{_number(bore.diameter, 2)}"
        name += "_THROUGH" if bore.through else f"_T{_number(bore.depth, 2)}"
        if bore.towards_deg is not None:
            name += f"_A{_number(bore.angle_deg, places)}R{_number(bore.towards_deg, places)}"
        if bore.sloped:
            name += "_SINK"
        if bore.stage == "home":
            name += "_HOME"
        if len(name) <= LONGEST:
            break
    return name[:LONGEST]


def _number(value: float, places: int) -> str:
    """Return a number with a P for its point, which names of layers may not hold."""
    return mm_text(value, places).replace(".", "P")


def _moved(p: Vec2, q: Vec2, far: float) -> Vec2:
    length = ((q[0] - p[0]) ** 2 + (q[1] - p[1]) ** 2) ** 0.5
    return (p[0] + (q[0] - p[0]) / length * far, p[1] + (q[1] - p[1]) / length * far)
