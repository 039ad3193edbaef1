"""One scale of a figure tried out: everything that belongs to it put in its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

import numpy as np

from kdkit.frames import Vec2, Vec3
from kdkit.illustrate.annotation.detail import (
    CAPTION,
    caption_width,
    draw_caption,
    ring,
    ring_radius,
    spot,
)
from kdkit.illustrate.annotation.glue import drop_places, glue_drops
from kdkit.illustrate.annotation.hidden_places import hidden_rings
from kdkit.illustrate.annotation.letters import Named, draw_letter, place_letter
from kdkit.illustrate.annotation.travel_arrows import travel_arrows
from kdkit.illustrate.composition.set_out import OVER, set_out
from kdkit.illustrate.composition.unplaced import Unplaced
from kdkit.illustrate.hidden_lines.drawing import Drawing
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.arrows import turn_over_arrow
from kdkit.illustrate.paper.figure import Circle, Primitive
from kdkit.illustrate.paper.ground import Ground, Sides
from kdkit.illustrate.paper.layout import FreePlaces, Placed, Thing
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.staging.subject import Subject

__all__ = ["Attempt", "Composed"]

LONG = 28.0
"""A detail's leader that runs farther over the drawing than this is a flaw, mm."""


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


class Attempt:
    """One scale and arrangement, tried out."""

    def __init__(
        self,
        subject: Subject,
        unplaced: Unplaced,
        scale: float,
        row: int,
        limit: Vec2,
        *,
        only_new: bool = False,
    ) -> None:
        self.subject, self.unplaced, self.scale, self.limit = subject, unplaced, scale, limit
        self.only_new = only_new
        self.lines = unplaced.lines
        self.offsets = set_out(self.lines, unplaced.plates, scale, row)
        self.views: tuple[View, ...] = tuple(
            plate.view.at_scale(scale).placed(offset)
            for plate, offset in zip(unplaced.plates, self.offsets, strict=True)
        )
        self.boxes = [
            (x0 * scale + dx, y0 * scale + dy, x1 * scale + dx, y1 * scale + dy)
            for (x0, y0, x1, y1), (dx, dy) in zip(
                (one.bounds for one in self.lines), self.offsets, strict=True
            )
        ]
        self.whole = (
            min(b[0] for b in self.boxes),
            min(b[1] for b in self.boxes),
            max(b[2] for b in self.boxes),
            max(b[3] for b in self.boxes),
        )
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

    def set_all(self, than: Attempt | None = None, *, faultless: bool = False) -> bool:
        """Put everything in its place; count what could not be, and what is not nice.

        Args:
            than: give up when it is clear that this will be no better.
            faultless: give up at the first thing that has no place.

        Returns:
            False when it was given up.
        """
        self.free = FreePlaces.over(
            self.whole,
            self.limit,
            areas=_sides((one.areas for one in self.lines), self.scale, self.offsets),
            lines=_sides((one.strokes for one in self.lines), self.scale, self.offsets),
        )
        self.over = self._arrows()
        self.free.bar(self.over)
        self.free.bar(Circle(centre=at, radius=r, pen="leader") for at, r in self.spots)
        for _ in chain(self._set_details(), self._set_insets(), self._set_letters()):
            best = than is None or (self.faults, self.flaws) < (than.faults, than.flaws)
            if not best or (faultless and self.faults):
                return False
        if not self.free.fits():
            self.faults += 2
        return True

    def _set_details(self) -> Iterator[None]:
        for detail, window, (at, reach) in zip(
            self.unplaced.details, self.unplaced.windows, self.spots, strict=True
        ):
            thing = Thing(
                width=max(2 * window.radius, caption_width(detail)),
                height=2 * window.radius + CAPTION,
                anchors=(at,),
                white=1.6,
                hub=(0.0, CAPTION / 2),
                radius=window.radius,
                short_of=reach + 0.8,
                near=0.7,
            )
            self._keep(self.windows, thing)
            yield

    def _set_insets(self) -> Iterator[None]:
        corner = (self.whole[0], self.whole[1])
        for inset in self.unplaced.insets:
            x0, y0, x1, y1 = extent(inset)
            thing = Thing(
                width=x1 - x0,
                height=y1 - y0,
                anchors=(corner,),
                white=2.5,
                leader=False,
                near=0.3,
            )
            self._keep(self.set_insets, thing)
            yield

    def _set_letters(self) -> Iterator[None]:
        named = [
            (one, plate, places)
            for (one, plate), places in zip(self.unplaced.named, self.unplaced.anchors, strict=True)
            if one.new or not self.only_new
        ]
        for one, plate, places in sorted(named, key=lambda each: not each[0].new):
            self._letter(one, [self._there(p, plate) for p in places])
            yield

    def _letter(self, one: Named, places: Sequence[Vec2]) -> None:
        placed = place_letter(self.free, one, places)
        if placed is not None:
            self.letters.append((placed, one))
            self.faults += placed.crosses
        elif one.new and places:
            self.faults += 2

    def _keep(self, where: list[Placed], thing: Thing) -> None:
        placed = self.free.find(thing)
        if placed is None:
            self.faults += 4
            x0, _, _, y1 = self.free.bounds
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
        self.free.put(placed)
        where.append(placed)

    def _there(self, at: Vec2, plate: int) -> Vec2:
        """Return a place of a drawing as it was made, on this paper."""
        factor = self.scale / self.unplaced.drawn_at
        dx, dy = self.offsets[plate]
        return (at[0] * factor + dx, at[1] * factor + dy)

    @cached_property
    def spots(self) -> list[tuple[Vec2, float]]:
        """Return middle and radius of the ring of each detail."""
        found = []
        for detail, window in zip(self.unplaced.details, self.unplaced.windows, strict=True):
            view = self.views[detail.plate]
            p: Vec3 = spot(detail, self.unplaced.plates[detail.plate], self.subject)
            x, y, _ = view.project(p)
            found.append(((x, y), ring_radius(window, view.scale)))
        return found

    def _arrows(self) -> list[Primitive]:
        shapes: list[Primitive] = []
        for n, (plate, view) in enumerate(zip(self.unplaced.plates, self.views, strict=True)):
            glue = (self.subject, plate.state, plate.apart, plate.shown, view)
            shapes += travel_arrows(
                plate, view, self.subject, drop_places(*glue), self.free.ink, self._new_parts(n)
            )
            shapes += glue_drops(*glue)
            shapes += hidden_rings(
                plate,
                view,
                self.unplaced.drawings[n],
                self.subject,
                [d for d in self.unplaced.details if d.plate == n],
            )
            if plate.over:
                x0, y0, x1, _ = self.boxes[n]
                shapes += turn_over_arrow(x0 + 0.3 * (x1 - x0), y0 - OVER + 1.5, y0 + 4.5)
        return shapes

    def _new_parts(self, n: int) -> Ground:
        """Return the ground of a plate's new parts: no arrow should lie on them."""
        ground = self.free.ink.blank_copy()
        if self.unplaced.plates[n].apart.travels:
            ground.fill_sides(
                *_sides([self.lines[n].new_areas], self.scale, self.offsets[n : n + 1])
            )
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
            drawing.scaled(offset, self.scale / self.unplaced.drawn_at)
            for drawing, offset in zip(self.unplaced.drawings, self.offsets, strict=True)
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
        unplaced = self.unplaced
        for detail, window, placed, (at, reach) in zip(
            unplaced.details, unplaced.windows, self.windows, self.spots, strict=True
        ):
            y = placed.hub[1]
            below = placed.hub[1] > placed.centre[1]  # the window lies low: caption over it
            foot = y - window.radius - 2.0 if below else y + window.radius + 5.2
            shapes += ring(at, reach, placed.hub, window.radius, hidden=window.hidden)
            shapes += moved(window.shapes, placed.hub)
            shapes += draw_caption(detail, unplaced.numbers, (placed.centre[0], foot), window.scale)
        for inset, placed in zip(unplaced.insets, self.set_insets, strict=True):
            x0, y0, x1, y1 = extent(inset)
            shapes += moved(
                inset, (placed.centre[0] - (x0 + x1) / 2, placed.centre[1] - (y0 + y1) / 2)
            )
        for placed, named in self.letters:
            shapes += draw_letter(placed, named)
        return shapes


def _sides(of_plates: Iterable[Sides], scale: float, offsets: Sequence[Vec2]) -> Sides:
    """Return the sides of all plates in their places on paper."""
    placed = [
        (starts * scale + np.array(offset), ends * scale + np.array(offset))
        for (starts, ends), offset in zip(of_plates, offsets, strict=True)
    ]
    return (
        np.concatenate([starts for starts, _ in placed]),
        np.concatenate([ends for _, ends in placed]),
    )
