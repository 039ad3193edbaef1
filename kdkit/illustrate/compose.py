"""Setting a figure into the room that its page gives it.

Takes drawings of which only the size is open, things of fixed size that belong to them
(details, insets, letters) and a room; gives the largest figure that has everything in
its place. Details are drawn at a scale of ISO 5455, so they never grow or shrink here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2, Vec3
from kdkit.illustrate.arrows import turn_over_arrow
from kdkit.illustrate.boxes import FigureBox
from kdkit.illustrate.detail import (
    CAPTION,
    Detail,
    Window,
    caption_width,
    draw_caption,
    ring,
    ring_radius,
    spot,
)
from kdkit.illustrate.figure import Area, Circle, Primitive
from kdkit.illustrate.glue import drop_places, glue_drops
from kdkit.illustrate.ground import Ground
from kdkit.illustrate.hidden import Drawing
from kdkit.illustrate.hidden_places import hidden_rings
from kdkit.illustrate.layout import Placed, Sheet, Thing
from kdkit.illustrate.letters import Named, draw_letter, find_anchors, place_letter
from kdkit.illustrate.paper import extent, moved, scaled_drawing
from kdkit.illustrate.plates import Plate
from kdkit.illustrate.scene import Workshop
from kdkit.illustrate.travel_arrows import travel_arrows
from kdkit.illustrate.view import View

__all__ = ["Composed", "Material", "Setting", "compose", "is_clear", "measure", "set_pieces"]

Array = NDArray[np.float64]

BETWEEN, OVER = 9.0, 15.0
"""White between two plates, and before one that shows a part turned over, mm."""

SMALLER = 0.94
"""From one try to the next the drawing shrinks by this factor."""

TRIES = 26
PATIENCE = 4
"""How often it is made smaller only to be rid of flaws."""

LONG = 28.0
"""A detail's leader that runs farther over the drawing than this is a flaw, mm."""

ON_AREAS = frozenset({"edge", "contact", "mark", "bore", "recess", "outline"})
"""Kinds of lines that always lie on an area or on its rim."""


@dataclass(frozen=True, kw_only=True)
class PlateLines:
    """A plate's drawing as arrays about the product's origin, at scale 1."""

    loops: tuple[Array, ...]
    new_loops: tuple[Array, ...]
    strokes: tuple[Array, ...]
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Material:
    """Everything that goes into a step's figure.

    Args:
        plates, drawings: the drawings, all at ``drawn_at``; they may be shrunk and grown.
        largest: scale that is not passed.
        details, windows: magnified details and their drawings round (0, 0).
        insets: small pictures of fixed size.
        named: the parts to be lettered, each with the number of its plate.
        numbers: of the items, for captions.
    """

    plates: tuple[Plate, ...]
    drawings: tuple[Drawing, ...]
    drawn_at: float
    largest: float
    details: tuple[Detail, ...]
    windows: tuple[Window, ...]
    insets: tuple[tuple[Primitive, ...], ...]
    named: tuple[tuple[Named, int], ...]
    numbers: dict[str, int]

    def lines(self) -> tuple[PlateLines, ...]:
        """Return every plate's drawing as arrays."""
        return tuple(_plate_lines(d, self.drawn_at) for d in self.drawings)

    def anchors(self) -> tuple[tuple[Vec2, ...], ...]:
        """Return for each named part where its leader may end, in its drawing."""
        return tuple(find_anchors(self.drawings[n], one.part) for one, n in self.named)


@dataclass(frozen=True, kw_only=True)
class Composed:
    """A figure in its room.

    ``complete``: nothing crosses and nothing was left out; ``clear``: and no leader runs
    far across the work.
    """

    shapes: tuple[Primitive, ...]
    drawings: tuple[Drawing, ...]
    scale: float
    size: Vec2
    complete: bool
    clear: bool


def _plate_lines(drawing: Drawing, scale: float) -> PlateLines:
    loops, new_loops = (
        tuple(
            np.array(loop) / scale
            for region in drawing.regions
            if not region.is_mark and (region.role == "new" or not new)
            for loop in (region.outer, *region.holes)
        )
        for new in (False, True)
    )
    strokes = tuple(
        np.array(s.points + (s.points[:1] if s.closed else ())) / scale for s in drawing.strokes
    )
    x0, y0, x1, y1 = drawing.bounds()
    return PlateLines(
        loops=loops,
        new_loops=new_loops,
        strokes=strokes,
        bounds=(x0 / scale, y0 / scale, x1 / scale, y1 / scale),
    )


def compose(shop: Workshop, material: Material, room: FigureBox, margin: float) -> Composed:
    """Return the largest figure that fits the room; a last try that does not is kept.

    Args:
        room: with the margin on all sides.
    """
    return _search(shop, material, room, margin).finish()


def is_clear(shop: Workshop, material: Material, room: FigureBox, margin: float) -> bool:
    """Tell whether ``compose`` gives a clear figure."""
    return _search(shop, material, room, margin).clear


def measure(
    shop: Workshop, material: Material, room: FigureBox, margin: float
) -> tuple[Vec2, bool]:
    """Return the size of what ``compose`` gives and whether it is clear, without drawing it."""
    found = _search(shop, material, room, margin)
    return found.size(), found.clear


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Where everything in a figure lies.

    Args:
        placed: details, insets, letters.
        arrows: outlines of arrows and drops.
        rings: middle and radius of the ring of each detail.
        drawings: in their places.
    """

    placed: tuple[Placed, ...]
    arrows: tuple[tuple[Vec2, ...], ...]
    rings: tuple[tuple[Vec2, float], ...]
    drawings: tuple[Drawing, ...]


def set_pieces(shop: Workshop, material: Material, room: FigureBox, margin: float) -> Setting:
    """Return where ``compose`` puts everything."""
    found = _search(shop, material, room, margin)
    return Setting(
        placed=tuple(found.sheet.placed),
        arrows=tuple(shape.outer for shape in found.over if isinstance(shape, Area)),
        rings=tuple(found.spots()),
        drawings=found.finish().drawings,
    )


def _search(shop: Workshop, material: Material, room: FigureBox, margin: float) -> _Try:
    """Return the largest try in which everything has its place, or the best there is."""
    limit = (room.width - 2 * margin, room.height - 2 * margin)
    lines, anchors = material.lines(), material.anchors()
    rows = _rows(material)
    starts = sorted({round(_fitting(lines, material, row, limit), 9) for row in rows}, reverse=True)
    scale = starts[0]
    best: _Try | None = None
    patience = PATIENCE
    for _ in range(TRIES):
        for row in rows:
            offsets = _set_out(lines, material.plates, scale, row)
            tried = _Try(shop, material, lines, anchors, scale, offsets, limit)
            if not tried.fits():
                continue
            tried.set_all()
            if best is None or (tried.faults, tried.flaws) < (best.faults, best.flaws):
                best = tried
            if not tried.faults and not tried.flaws:
                return tried
        patience -= best is not None and not best.faults
        if not patience:
            break
        scale *= SMALLER
    if best is None:
        offsets = _set_out(lines, material.plates, scale, rows[0])
        best = _Try(shop, material, lines, anchors, scale, offsets, limit)
        best.set_all()
    return best


def _rows(material: Material) -> tuple[int, ...]:
    """Return how many plates may stand side by side."""
    count = sum(not plate.over for plate in material.plates)
    return tuple(range(count, 0, -1))


def _fitting(lines: Sequence[PlateLines], material: Material, row: int, limit: Vec2) -> float:
    """Return the scale at which plates alone fill the room."""
    wide, high = _spread(lines, material.plates, 0.0, row)
    white_w, white_h = _spread(lines, material.plates, 1.0, row)
    return min(
        material.largest,
        max(1e-3, limit[0] - white_w) / max(wide, 1e-9),
        max(1e-3, limit[1] - white_h) / max(high, 1e-9),
    )


def _spread(lines: Sequence[PlateLines], plates: Sequence[Plate], white: float, row: int) -> Vec2:
    """Return width and height of all plates at scale 1, or of the white between them."""
    x = y = high = widest = 0.0
    for plate, (x0, y0, x1, y1), starts in _walk(lines, plates, row):
        if starts and (y or high):
            y, x, high = y + high + white * (OVER if plate.over else BETWEEN), 0.0, 0.0
        elif x:
            x += white * BETWEEN
        x += 0.0 if white else x1 - x0
        high = max(high, 0.0 if white else y1 - y0)
        widest = max(widest, x)
    return widest, y + high


def _walk(
    lines: Sequence[PlateLines], plates: Sequence[Plate], row: int
) -> list[tuple[Plate, tuple[float, float, float, float], bool]]:
    """Return each plate, its bounds at scale 1, and whether it starts a row."""
    result = []
    count = 0
    for plate, one in zip(plates, lines, strict=True):
        starts = plate.over or count % row == 0
        count = 1 if starts else count + 1
        if plate.over:
            count = row
        result.append((plate, one.bounds, starts))
    return result


def _set_out(
    lines: Sequence[PlateLines], plates: Sequence[Plate], scale: float, row: int
) -> tuple[Vec2, ...]:
    """Return where the product's origin lies on paper for each plate."""
    offsets: list[Vec2] = []
    x = y = high = 0.0
    for plate, (x0, y0, x1, y1), starts in _walk(lines, plates, row):
        if starts and offsets:
            x, y, high = 0.0, y + high + (OVER if plate.over else BETWEEN), 0.0
        offsets.append((x - x0 * scale, y - y0 * scale))
        x += (x1 - x0) * scale + BETWEEN
        high = max(high, (y1 - y0) * scale)
    return tuple(offsets)


class _Try:
    """One scale and arrangement, tried out."""

    def __init__(
        self,
        shop: Workshop,
        material: Material,
        lines: Sequence[PlateLines],
        anchors: Sequence[tuple[Vec2, ...]],
        scale: float,
        offsets: Sequence[Vec2],
        limit: Vec2,
    ) -> None:
        self.shop, self.material, self.scale, self.offsets = shop, material, scale, offsets
        self.anchors = anchors
        self.views: tuple[View, ...] = tuple(
            plate.view.at_scale(scale).placed(offset)
            for plate, offset in zip(material.plates, offsets, strict=True)
        )
        bounds = [
            (x0 * scale + dx, y0 * scale + dy, x1 * scale + dx, y1 * scale + dy)
            for (x0, y0, x1, y1), (dx, dy) in zip(
                (one.bounds for one in lines), offsets, strict=True
            )
        ]
        whole = (
            min(b[0] for b in bounds),
            min(b[1] for b in bounds),
            max(b[2] for b in bounds),
            max(b[3] for b in bounds),
        )
        self.boxes = bounds
        self.lines = lines
        self.limit = limit
        self.whole = whole
        self.faults = 0
        self.flaws = 0
        self.over: list[Primitive] = []
        self.windows: list[Placed] = []
        self.set_insets: list[Placed] = []
        self.letters: list[tuple[Placed, Named]] = []

    def fits(self) -> bool:
        """Tell whether the plates alone are within the limit."""
        x0, y0, x1, y1 = self.whole
        return x1 - x0 <= self.limit[0] + 1e-6 and y1 - y0 <= self.limit[1] + 1e-6

    def set_all(self) -> None:
        """Put everything in its place; count what could not be, and what is not nice."""
        self.sheet = Sheet.over(
            self.whole,
            self.limit,
            areas=[a * self.scale + o for one, o in self._each() for a in one.loops],
            lines=[s * self.scale + o for one, o in self._each() for s in one.strokes],
        )
        self.over = self._arrows()
        self.sheet.bar(self.over)
        spots = self.spots()
        self.sheet.bar(Circle(centre=at, radius=r, pen="leader") for at, r in spots)
        for detail, window, (at, reach) in zip(
            self.material.details, self.material.windows, spots, strict=True
        ):
            self._keep(
                self.windows,
                Thing(
                    width=max(2 * window.radius, caption_width(detail)),
                    height=2 * window.radius + CAPTION,
                    anchors=(at,),
                    white=1.6,
                    hub=(0.0, CAPTION / 2),
                    radius=window.radius,
                    short_of=reach + 0.8,
                    near=0.7,
                ),
            )
        corner = (self.whole[0], self.whole[1])
        for inset in self.material.insets:
            x0, y0, x1, y1 = extent(inset)
            self._keep(
                self.set_insets,
                Thing(
                    width=x1 - x0,
                    height=y1 - y0,
                    anchors=(corner,),
                    white=2.5,
                    leader=False,
                    near=0.3,
                ),
            )
        for (one, plate), places in sorted(
            zip(self.material.named, self.anchors, strict=True), key=lambda pair: not pair[0][0].new
        ):
            placed = place_letter(self.sheet, one, [self._there(p, plate) for p in places])
            if placed is not None:
                self.letters.append((placed, one))
                self.faults += placed.crosses
            elif one.new and places:
                self.faults += 2
        if not self.sheet.fits():
            self.faults += 2

    def _each(self) -> list[tuple[PlateLines, Array]]:
        return [
            (one, np.array(offset)) for one, offset in zip(self.lines, self.offsets, strict=True)
        ]

    def _keep(self, where: list[Placed], thing: Thing) -> None:
        placed = self.sheet.find(thing)
        if placed is None:
            self.faults += 4
            x0, _, _, y1 = self.sheet.bounds
            box = (x0, y1 + 2.0, x0 + thing.width, y1 + 2.0 + thing.height)
            middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
            hub = (middle[0], middle[1] - thing.hub[1])
            line = (hub, thing.anchors[0]) if thing.leader else ()
            placed = Placed(
                centre=middle,
                box=box,
                hub=hub,
                anchor=thing.anchors[0],
                leader=line,
                crosses=True,
            )
        self.faults += placed.crosses
        self.flaws += placed.over > LONG
        self.sheet.put(placed)
        where.append(placed)

    def _there(self, at: Vec2, plate: int) -> Vec2:
        """Return a place of a drawing as it was made, on this paper."""
        factor = self.scale / self.material.drawn_at
        dx, dy = self.offsets[plate]
        return (at[0] * factor + dx, at[1] * factor + dy)

    def spots(self) -> list[tuple[Vec2, float]]:
        """Return middle and radius of the ring of each detail."""
        found = []
        for detail, window in zip(self.material.details, self.material.windows, strict=True):
            view = self.views[detail.plate]
            p: Vec3 = spot(detail, self.material.plates[detail.plate], self.shop)
            x, y, _ = view.project(p)
            found.append(((x, y), ring_radius(window, view.scale)))
        return found

    def _arrows(self) -> list[Primitive]:
        shapes: list[Primitive] = []
        for n, (plate, view) in enumerate(zip(self.material.plates, self.views, strict=True)):
            glue = (self.shop, plate.state, plate.apart, plate.shown, view)
            shapes += travel_arrows(
                plate, view, self.shop, drop_places(*glue), self.sheet.ink, self._new_parts(n)
            )
            shapes += glue_drops(*glue)
            shapes += hidden_rings(
                plate,
                view,
                self.material.drawings[n],
                self.shop,
                [d for d in self.material.details if d.plate == n],
            )
            if plate.over:
                x0, y0, x1, _ = self.boxes[n]
                shapes += turn_over_arrow(x0 + 0.3 * (x1 - x0), y0 - OVER + 1.5, y0 + 4.5)
        return shapes

    def _new_parts(self, n: int) -> Ground:
        """Return the ground of a plate's new parts: no arrow should lie on them."""
        ground = Ground(self.sheet.ink.x0, self.sheet.ink.y0, np.zeros_like(self.sheet.ink.cells))
        offset = np.array(self.offsets[n])
        ground.fill(loop * self.scale + offset for loop in self.lines[n].new_loops)
        return ground

    @property
    def clear(self) -> bool:
        """Tell whether everything has its place and no leader runs far across the work."""
        return not self.faults and not self.flaws

    def size(self) -> Vec2:
        """Return width and height of the figure as it was placed."""
        x0, y0, x1, y1 = extent(self._beside())
        x2, y2, x3, y3 = self.whole
        return (max(x1, x3) - min(x0, x2), max(y1, y3) - min(y0, y2))

    def finish(self) -> Composed:
        """Return the figure's shapes as they were placed."""
        drawings = tuple(
            scaled_drawing(drawing, offset, self.scale / self.material.drawn_at)
            for drawing, offset in zip(self.material.drawings, self.offsets, strict=True)
        )
        shapes = [s for drawing in drawings for s in drawing.primitives()] + self._beside()
        x0, y0, x1, y1 = extent(shapes)
        return Composed(
            shapes=tuple(shapes),
            drawings=drawings,
            scale=self.scale,
            size=(x1 - x0, y1 - y0),
            complete=not self.faults,
            clear=self.clear,
        )

    def _beside(self) -> list[Primitive]:
        """Return everything but the drawings: arrows, details, insets, letters."""
        shapes = list(self.over)
        material = self.material
        for detail, window, placed, (at, reach) in zip(
            material.details, material.windows, self.windows, self.spots(), strict=True
        ):
            y = placed.hub[1]
            below = placed.hub[1] > placed.centre[1]  # the window lies low: caption over it
            foot = y - window.radius - 2.0 if below else y + window.radius + 5.2
            shapes += ring(at, reach, placed.hub, window.radius, hidden=window.hidden)
            shapes += moved(window.shapes, placed.hub)
            shapes += draw_caption(detail, material.numbers, (placed.centre[0], foot), window.scale)
        for inset, placed in zip(material.insets, self.set_insets, strict=True):
            x0, y0, x1, y1 = extent(inset)
            shapes += moved(
                inset, (placed.centre[0] - (x0 + x1) / 2, placed.centre[1] - (y0 + y1) / 2)
            )
        for placed, named in self.letters:
            shapes += draw_letter(placed, named)
        return shapes
