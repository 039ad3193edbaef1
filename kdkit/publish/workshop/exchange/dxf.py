"""Panels as DXF files in millimetres: one file a letter, every surface laid flat.

The face lies with its datum in the origin; the other surfaces stand below it, each as
seen from outside. A bore is one circle round its mouth. What an entity is stands in the
name of its layer, in plain words: surface, kind, diameter, depth. ``layers.csv`` lists
them all.
"""

from __future__ import annotations

import io
import pathlib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.filemanagement import new

from kdkit.diagnostics import Problem, error
from kdkit.frames import Vec2
from kdkit.publish.files.columns import Column, mm, product_columns, table_rows
from kdkit.publish.files.tables import datum_words, render_rows, runs_on, surface_words
from kdkit.publish.typesetting.engines import EngineFailed, hear
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.plain_text import one_line
from kdkit.publish.workshop.drawings.drawing_sheet import text_width
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.schedules import DrillLine, GrooveLine, SlotLine
from kdkit.schedule.views import PanelViews, SurfaceView, slot_corners
from kdkit.units import mm_text

__all__ = ["Layer", "PanelSheet", "render_dxf", "sound_text", "view_note", "write_dxf"]

_GAP = 40.0  # between surfaces
_NOTE = 5.0  # height of the lettering; ISO 3098-1 row
_ARROW = 20.0  # arms of the datum mark
_REFUSED = '<>/\\":;?*|=`,'
"""Not allowed in a layer's name. Source: the DXF reference on symbol names, from memory."""

_LONGEST = 250
"""Characters of a text or a name; 255 is the limit. Source: the same, from memory."""

_CODES = (("%%", "% "), ("^", "ˆ"), ("\\", "/"))
"""What a reader would take for a code: ``%%c``, ``^J``, ``\\U+0041``, ``\\P``."""

_COLOURS = {
    "outline": 7,
    "far": 9,
    "opening": 7,
    "bore": 1,
    "groove": 3,
    "slot": 4,
    "datum": 5,
    "notes": 8,
}
"""Colour index by kind; the colours are only there to tell layers apart on a screen."""


@dataclass(frozen=True)
class Layer:
    name: str
    surface: str
    kind: str
    diameter: float | None = None
    depth: float | None = None


def write_dxf(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``dxf/panel-A.dxf`` … and ``dxf/layers.csv``, the table of all layers."""
    target = folder / "dxf"
    target.mkdir()
    say = job.messages.plain
    rows: list[tuple[str, Layer, int]] = []
    for panel in job.panels:
        text, counts = render_dxf(panel, job)
        (target / f"panel-{panel.letter}.dxf").write_text(text, encoding="utf-8", newline="")
        rows += [(panel.letter, layer, count) for layer, count in counts.items()]
    columns = [
        Column("workshop.layer_letter", lambda row: row[0]),
        Column("workshop.layer_layer", lambda row: row[1].name),
        Column("workshop.layer_surface", lambda row: surface_words(job.messages, row[1].surface)),
        Column("workshop.layer_kind", lambda row: say(f"workshop.kind_{row[1].kind}")),
        Column("workshop.layer_diameter", lambda row: row[1].diameter, mm(2)),
        Column("workshop.layer_depth", lambda row: row[1].depth, mm(2)),
        Column("workshop.layer_count", lambda row: row[2]),
        *product_columns(job.results),
    ]
    (target / "layers.csv").write_text(
        render_rows(table_rows(columns, rows, job.messages)), encoding="utf-8", newline=""
    )
    return ()


def render_dxf(panel: PanelViews, job: WorkshopJob) -> tuple[str, Counter[Layer]]:
    """Return one panel's file as text, and how many entities each layer holds."""

    def fill(drawing: Drawing) -> PanelSheet:
        sheet = PanelSheet(drawing, job.messages)
        top = None
        for view in panel.views:
            low, high = view.box[1], view.box[3]
            at = (0.0, 0.0) if top is None else (0.0, top - high)
            sheet.draw(view, at, view_note(panel, view, job))
            notes = len(view.bevels) + (view.leans != 0)
            top = at[1] + low - _GAP - 1.6 * _NOTE * notes
        return sheet

    return sound_text(fill, panel.letter)


def sound_text(fill: Callable[[Drawing], PanelSheet], letter: str) -> tuple[str, Counter[Layer]]:
    """Return a drawing as text once the library's own audit finds no fault in it."""
    with hear("ezdxf") as heard, _fixed_marks():
        drawing = new("R2010", units=units.MM)
        sheet = fill(drawing)
        sheet.set_extents()
        # The library adds classes in the order of a set, which changes from run to run.
        for kind in sorted(drawing.entitydb.dxf_types_in_use()):
            drawing.classes.add_class(kind)
        out = io.StringIO()
        drawing.write(out)
        found = [fault.message for fault in drawing.audit().errors]
    if found or heard:
        told = "; ".join([*found, *(said.text for said in heard)])
        raise EngineFailed(
            error("engine-failed", f"the drawing of panel {letter} is not sound: {told}")
        )
    return out.getvalue(), sheet.counts


@contextmanager
def _fixed_marks() -> Iterator[None]:
    """Let the library write no dates and no random identifiers."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def view_note(panel: PanelViews, view: SurfaceView, job: WorkshopJob) -> str:
    """Return the line of text that says what a surface is and how it is measured."""
    x_runs, y_runs = runs_on(panel, view.surface)
    say = job.messages.plain
    return say(
        "workshop.view_note",
        letter=panel.letter,
        title=panel.cut.title,
        surface=surface_words(job.messages, view.surface),
        datum=datum_words(job.messages, panel.datum),
        x=say(f"runs.{x_runs}"),
        y=say(f"runs.{y_runs}"),
    )


class PanelSheet:
    """One drawing being filled; layers are made as they are first needed."""

    def __init__(self, drawing: Drawing, messages: Messages) -> None:
        self.drawing = drawing
        self.space = drawing.modelspace()
        self.messages = messages
        self.counts: Counter[Layer] = Counter()
        self.points: list[Vec2] = []

    def set_extents(self) -> None:
        """Say in the file how far the drawing goes, for programs that open it at that."""
        xs, ys = [p[0] for p in self.points], [p[1] for p in self.points]
        self.space.reset_extents((min(xs), min(ys), 0.0), (max(xs), max(ys), 0.0))

    def draw(self, view: SurfaceView, at: Vec2, note: str) -> None:
        def on_sheet(p: Vec2) -> Vec2:
            x, y = view.seen(p)
            return (at[0] + x, at[1] + y)

        for outline in view.outlines:
            self._ring([on_sheet(p) for p in outline], self._plain(view, "outline"))
        if view.far:
            self._ring([on_sheet(p) for p in view.far], self._plain(view, "far"))
        for opening in view.openings:
            self._ring([on_sheet(p) for p in opening], self._plain(view, "opening"))
        for centre, diameter in view.rounds:
            self._circle(on_sheet(centre), diameter, self._plain(view, "opening"))
        for bore in view.bores:
            layer = self._bore_layer(bore)
            self._circle(on_sheet((bore.x, bore.y)), bore.diameter, layer)
        for groove in view.grooves:
            (x0, x1), (y0, y1) = groove.x, groove.y
            corners = [on_sheet(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
            self._ring(corners, self._groove_layer(groove))
        for slot in view.slots:
            self._slot([on_sheet(p) for p in slot_corners(slot)], slot)
        datum = self._plain(view, "datum")
        for arm in ((_ARROW, 0.0), (0.0, _ARROW / 2)):
            self._line(on_sheet((0.0, 0.0)), on_sheet(arm), datum)
        place = (at[0], at[1] + view.box[1] - _NOTE - 3)
        self._text(note, place, self._plain(view, "notes"))
        for text in self._bevels(view):
            place = (place[0], place[1] - 1.6 * _NOTE)
            self._text(text, place, self._plain(view, "notes"))

    def _bevels(self, view: SurfaceView) -> Iterator[str]:
        """Yield a note for each bevel: where it is on this surface, and which way it leans."""
        say = self.messages.plain
        for bevel in view.bevels:
            (x0, y0), (x1, y1) = bevel.start, bevel.end
            yield say(
                "workshop.bevel_place",
                angle=mm_text(bevel.angle_deg, 2),
                long=say("workshop.bevel_long" if bevel.is_long else "workshop.bevel_short"),
                x0=mm_text(x0, 2),
                y0=mm_text(y0, 2),
                x1=mm_text(x1, 2),
                y1=mm_text(y1, 2),
            )
        if view.leans:
            yield say("workshop.bevel_seen", angle=mm_text(view.leans, 2))

    def _words(self, surface: str, kind: str, **values: object) -> str:
        text = self.messages.plain(
            f"workshop.layer_name_{kind}", surface=surface_words(self.messages, surface), **values
        )
        return _layer_name(text) or kind

    def _plain(self, view: SurfaceView, kind: str) -> Layer:
        return Layer(self._words(view.surface, kind), view.surface, kind)

    def _groove_layer(self, groove: GrooveLine) -> Layer:
        words = self._words(groove.surface, "groove", depth=mm_text(groove.depth, 2))
        return Layer(words, groove.surface, "groove", depth=groove.depth)

    def _slot_layer(self, slot: SlotLine) -> Layer:
        depth, width = mm_text(slot.depth, 2), mm_text(slot.width, 2)
        words = self._words(slot.surface, "slot", width=width, depth=depth)
        if slot.stage == "home":
            words = _layer_name(words + self.messages.plain("workshop.layer_at_home"))
        return Layer(words, slot.surface, "slot", depth=slot.depth)

    def _slot(self, corners: Sequence[Vec2], slot: SlotLine) -> None:
        self._ring(corners, self._slot_layer(slot))

    def _bore_layer(self, bore: DrillLine) -> Layer:
        kind = "through" if bore.through else "blind"
        words = self._words(
            bore.surface, kind, diameter=mm_text(bore.diameter, 2), depth=mm_text(bore.depth, 2)
        )
        if bore.towards_deg is not None:
            words += self.messages.plain(
                "workshop.layer_leaning",
                angle=mm_text(bore.angle_deg, 2),
                towards=mm_text(bore.towards_deg, 2),
            )
        if bore.stage == "home":
            words += self.messages.plain("workshop.layer_at_home")
        return Layer(_layer_name(words), bore.surface, "bore", bore.diameter, bore.depth)

    def _attributes(self, layer: Layer) -> dict[str, object]:
        if layer.name not in self.drawing.layers:
            self.drawing.layers.add(layer.name, color=_COLOURS[layer.kind])
        self.counts[layer] += 1
        return {"layer": layer.name}

    def _ring(self, points: Sequence[Vec2], layer: Layer) -> None:
        self.points += points
        self.space.add_lwpolyline(points, close=True, dxfattribs=self._attributes(layer))

    def _circle(self, centre: Vec2, diameter: float, layer: Layer) -> None:
        x, y, r = *centre, diameter / 2
        self.points += [(x - r, y - r), (x + r, y + r)]
        self.space.add_circle(centre, r, dxfattribs=self._attributes(layer))

    def _line(self, start: Vec2, end: Vec2, layer: Layer) -> None:
        self.points += [start, end]
        self.space.add_line(start, end, dxfattribs=self._attributes(layer))

    def _text(self, text: str, place: Vec2, layer: Layer) -> None:
        line = _line(text)
        self.points += [place, (place[0] + text_width(line, _NOTE), place[1] + _NOTE)]
        entity = self.space.add_text(line, height=_NOTE, dxfattribs=self._attributes(layer))
        entity.set_placement(place)


def _line(text: str) -> str:
    """Return a text that is one value of one entity, and means what it shows.

    A line end would begin a new group code, and with it anything at all.
    """
    line = one_line(text)
    for code, shown in _CODES:
        while code in line:
            line = line.replace(code, shown)
    return one_line(line, _LONGEST)


def _layer_name(text: str) -> str:
    """Return a text as the name of a layer."""
    kept = "".join(" " if c in _REFUSED else c for c in _line(text))
    return " ".join(kept.split())
