"""One surface of a panel to scale, with running dimensions from the datum.

Scales are those of ISO 5455, lines those of ISO 128-2, hole notes as in ISO 15786: the depth
after a ×. Kinds of hole are told apart by a letter and a mark, which are as large at any scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.frames import Vec2
from kdkit.publish.files.tables import datum_words, runs_on, surface_words
from kdkit.publish.workshop.drawings.drawing_sheet import Box, DrawingSheet, text_width
from kdkit.publish.workshop.drawings.hole_marks import draw_mark
from kdkit.publish.workshop.drawings.hole_table import hole_label, hole_note, slot_note
from kdkit.publish.workshop.drawings.ordinates import chosen_values, marked_corners, spread
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.hole_kinds import HoleKind, hole_kind
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView, slot_corners
from kdkit.units import mm_text

__all__ = ["AWAY", "NOTE", "SCALES", "SIDE", "ZONE", "ViewDrawing", "fitting_scale", "view_head"]

SCALES = (1, 2, 5, 10, 20, 50, 100)
"""Reductions 1 : n. Source: ISO 5455."""

SMALL, NOTE, HEAD = 1.8, 2.5, 3.5  # ISO 3098-1
ZONE = 20.0  # for the numbers of the running dimensions along x
SIDE = 16.0  # for those along y
AWAY = 8.0  # on the other sides, for notes
_PITCH = 2.7  # between two numbers
_DATUM = 1.5  # radius of the mark of origin


def view_head(panel: PanelViews, view: SurfaceView, job: WorkshopJob) -> str:
    say = job.messages.plain
    x_runs, y_runs = runs_on(panel, view.surface)
    head = say(
        "workshop.view_head",
        surface=surface_words(job.messages, view.surface).capitalize(),
        datum=datum_words(job.messages, panel.datum),
        x=say(f"runs.{x_runs}"),
        y=say(f"runs.{y_runs}"),
    )
    if view.leans:
        head += " " + say("workshop.bevel_seen", angle=mm_text(view.leans, 2))
    return head


def fitting_scale(width: float, height: float, room: Vec2) -> int:
    """Return n of the largest scale 1 : n at which a view fits into the room."""
    for n in SCALES:
        if width / n <= room[0] and height / n <= room[1]:
            return n
    return SCALES[-1]


class ViewDrawing:
    """One view being drawn on a sheet at 1 : n, its datum at ``origin``."""

    def __init__(
        self,
        sheet: DrawingSheet,
        view: SurfaceView,
        n: int,
        origin: Vec2,
        zone: Box,
        job: WorkshopJob,
        kinds: Mapping[HoleKind, str] = {},
    ) -> None:
        self.sheet, self.view, self.n, self.origin, self.zone = sheet, view, n, origin, zone
        self.say, self.machine, self.kinds = job.messages.plain, job.machine, kinds
        x0, y0, x1, y1 = view.box
        self.box = (
            origin[0] + x0 / n,
            origin[1] - y1 / n,
            origin[0] + x1 / n,
            origin[1] - y0 / n,
        )

    def at(self, p: Vec2) -> Vec2:
        """Return a point from the datum on the paper."""
        x, y = self.view.seen(p)
        return (self.origin[0] + x / self.n, self.origin[1] - y / self.n)

    def draw(self, numbers: dict[DrillLine, int], *, grain: bool) -> None:
        """Draw the view, its dimensions, then all texts where there is room for them."""
        view, sheet = self.view, self.sheet
        for outline in view.outlines:
            sheet.polyline([self.at(p) for p in outline], "outline", closed=True)
        if view.far:
            sheet.polyline([self.at(p) for p in view.far], "hidden", closed=True)
        for opening in view.openings:
            sheet.polyline([self.at(p) for p in opening], "outline", closed=True)
        for centre, diameter in view.rounds:
            sheet.circle(self.at(centre), diameter / 2 / self.n, "outline")
            self._cross(self.at(centre), diameter / 2 / self.n)
        for groove in view.grooves:
            (x0, x1), (y0, y1) = groove.x, groove.y
            corners = [self.at(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
            sheet.polyline(corners, "edge", closed=True)
            sheet.keep_clear(_around(corners))
        for slot in view.slots:
            corners = [self.at(p) for p in slot_corners(slot)]
            sheet.polyline(corners, "edge", closed=True)
            sheet.keep_clear(_around(corners))
        for bore in view.bores:
            centre, radius = self.at((bore.x, bore.y)), bore.diameter / 2 / self.n
            sheet.circle(centre, radius, "edge")
            self._cross(centre, radius)
            letter = self.kinds.get(hole_kind(bore), "")
            reach = draw_mark(sheet, centre, radius, letter) if letter else radius
            sheet.keep_clear(_around([centre], reach + 0.35))
        self._datum()
        self._bands()
        self._ordinates_x()
        self._ordinates_y()
        inside = (self.box[0] + 0.6, self.box[1] + 0.6, self.box[2] - 0.6, self.box[3] - 0.6)
        for bore in view.bores:
            centre, radius = self.at((bore.x, bore.y)), bore.diameter / 2 / self.n
            text = hole_label(numbers[bore], bore, self.kinds)
            for reach in (20, 60):  # further away only where a row is crowded
                if sheet.place_text(
                    centre,
                    text,
                    SMALL,
                    (inside, self.zone),
                    start=radius + 1.0,
                    reach=reach,
                    leader=radius + 2.5,
                    rim=radius,
                ):
                    break
        self._notes(inside)
        if grain:
            self._grain(inside)

    def _cross(self, centre: Vec2, radius: float) -> None:
        x, y = centre
        arm = radius + 0.8
        self.sheet.line((x - arm, y), (x + arm, y), "dimension")
        self.sheet.line((x, y - arm), (x, y + arm), "dimension")

    def _datum(self) -> None:
        self.sheet.circle(self.origin, _DATUM, "edge")
        self.sheet.keep_clear(_around([self.origin], _DATUM + 0.3))

    def _bands(self) -> None:
        """Mark banded edges by a wide chain line outside, and say how thick the band is."""
        for band in self.view.bands:
            a, b = self.at(band.start), self.at(band.end)
            out = self._outward(a, b)
            start, end = ((p[0] + out[0] * 1.4, p[1] + out[1] * 1.4) for p in (a, b))
            self.sheet.line(start, end, "band")
            self.sheet.keep_clear(_around([start, end], 0.5))

    def _outward(self, a: Vec2, b: Vec2) -> Vec2:
        """Return the unit vector out of the outline for one of its stretches on paper."""
        ring = [self.at(p) for p in self.view.outlines[0]]
        area = sum(
            p[0] * q[1] - q[0] * p[1] for p, q in zip(ring, (*ring[1:], ring[0]), strict=True)
        )
        length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
        sign = 1.0 if area > 0 else -1.0
        return (sign * (b[1] - a[1]) / length, -sign * (b[0] - a[0]) / length)

    def _values(self, axis: int) -> list[float]:
        view = self.view
        rings = (*view.outlines, view.far, *view.openings)
        found = [p[axis] for ring in rings for p in marked_corners(ring)]
        found += [centre[axis] for centre, _ in view.rounds]
        found += [(bore.x, bore.y)[axis] for bore in view.bores]
        found += [(slot.start[axis] + slot.end[axis]) / 2 for slot in view.slots]
        found += [v for groove in view.grooves for v in (groove.x, groove.y)[axis]]
        return [*found, 0.0]

    def _ordinates_x(self) -> None:
        low, high = self.zone[0], self.zone[2] - 2
        values, whole = chosen_values(self._values(0), int((high - low) / _PITCH))
        wanted = [self.at((v, 0.0))[0] for v in values]
        places = spread(wanted, _PITCH, low + 2, high)
        up = self.view.y_down
        base = self.box[1] if up else self.box[3]
        away = -1.0 if up else 1.0
        for value, exact, place in zip(values, wanted, places, strict=True):
            bend = [(exact, base + away * d) for d in (2.2, 3.6)]
            self.sheet.polyline([*bend, (place, base + away * 6.0)], "dimension")
            self.sheet.text(
                (place + SMALL / 2, base + away * 6.6),
                mm_text(value, 2),
                SMALL,
                anchor="start" if up else "end",
                upright=True,
            )
        self.sheet.keep_clear(
            (min(places), base + min(away, away * 6.2), max(places), base + max(away, away * 6.2))
        )
        if not whole:
            self._say_more()

    def _ordinates_y(self) -> None:
        low, high = self.zone[1] + 2, self.zone[3] - 1
        values, whole = chosen_values(self._values(1), int((high - low) / _PITCH))
        pairs = sorted((self.at((0.0, v))[1], v) for v in values)
        places = spread([p for p, _ in pairs], _PITCH, low, high)
        base = self.box[0]
        for (exact, value), place in zip(pairs, places, strict=True):
            self.sheet.polyline(
                [(base - 2.2, exact), (base - 3.6, exact), (base - 6.0, place)], "dimension"
            )
            self.sheet.text((base - 6.6, place + SMALL / 2), mm_text(value, 2), SMALL, anchor="end")
        self.sheet.keep_clear((base - 6.2, min(places), base - 1, max(places)))
        if not whole:
            self._say_more()

    def _say_more(self) -> None:
        text = self.say("workshop.more_in_table")
        corner = (self.zone[2] - text_width(text, SMALL) / 2 - 2, self.zone[3] - 4)
        self.sheet.place_text(corner, text, SMALL, (self.zone,), start=0.5, reach=60)

    def _notes(self, inside: Box) -> None:
        """Write one note for all bores of a kind, one for every groove, one for each band."""
        kinds: dict[tuple[str, str], list[DrillLine]] = {}
        for bore in self.view.bores:
            note = hole_note(bore, self.say, self.machine)
            letter = self.kinds.get(hole_kind(bore), "")
            kinds.setdefault((letter, note), []).append(bore)
        for (letter, note), bores in kinds.items():
            text = self.say("workshop.note", n=len(bores), note=note)
            if letter:
                text = f"{letter}: {text}"
            middle = bores[len(bores) // 2]
            near, radius = self.at((middle.x, middle.y)), middle.diameter / 2 / self.n
            self._place(near, text, self._rooms(inside), radius + 2.5, radius)
        for groove in self.view.grooves:
            near = self.at((sum(groove.x) / 3, sum(groove.y) / 2))
            text = self.say("workshop.groove_note", depth=mm_text(groove.depth, 2))
            self._place(near, text, self._rooms(inside), 3.0)
        slots: dict[str, list[Vec2]] = {}
        for slot in self.view.slots:
            middle_of = ((slot.start[0] + slot.end[0]) / 2, (slot.start[1] + slot.end[1]) / 2)
            slots.setdefault(slot_note(slot, self.say), []).append(middle_of)
        for note, places in slots.items():
            text = self.say("workshop.note", n=len(places), note=note)
            self._place(self.at(places[len(places) // 2]), text, self._rooms(inside), 3.0)
        for bevel in self.view.bevels:
            a, b = self.at(bevel.start), self.at(bevel.end)
            long = "workshop.bevel_long" if bevel.is_long else "workshop.bevel_short"
            text = self.say(
                "workshop.bevel_note", angle=mm_text(bevel.angle_deg, 2), long=self.say(long)
            )
            near = (a[0] * 0.4 + b[0] * 0.6, a[1] * 0.4 + b[1] * 0.6)
            self._place(near, text, self._rooms(inside), 4.0)
        for band in self.view.bands:
            a, b = self.at(band.start), self.at(band.end)
            text = self.say("workshop.band_note", t=mm_text(band.thickness, 2))
            out = self._outward(a, b)
            near = (a[0] * 0.4 + b[0] * 0.6 + out[0] * 1.4, a[1] * 0.4 + b[1] * 0.6 + out[1] * 1.4)
            self._place(near, text, self._rooms(inside), 4.0)

    def _place(
        self, near: Vec2, text: str, room: Sequence[Box], start: float, rim: float = 0.0
    ) -> None:
        for height in (NOTE, SMALL):
            if self.sheet.place_text(
                near, text, height, room, start=start, reach=70, leader=0.0, white=1.0, rim=rim,
                across=not self.kinds,
            ):  # fmt: skip
                return
        if self.kinds:  # no line across a row of holes: the letter tells which are meant
            self.sheet.place_text(near, text, SMALL, room, start=start, reach=150, white=0.5)

    def _rooms(self, inside: Box) -> tuple[Box, ...]:
        """Return where a note may stand: in the view, else clear of its outline."""
        left, top, right, bottom = self.zone
        over = (left, top, right, self.box[1] - 0.8)
        under = (left, self.box[3] + 0.8, right, bottom)
        beside = (under, over) if self.view.y_down else (over, under)  # first without ordinates
        return (inside, *beside, self.zone)

    def _grain(self, inside: Box) -> None:
        """Draw a double arrow along the grain, with its word, where there is room."""
        word = self.say("workshop.grain")
        middle = ((inside[0] + inside[2]) / 2, (inside[1] + inside[3]) / 2)
        box = self.sheet.place_text(
            middle, f"← {word} →", NOTE, self._rooms(inside), start=0.0, reach=80
        )
        if box is None:
            self.sheet.place_text(middle, f"← {word} →", SMALL, (self.zone,), start=0.0, reach=150)


def _around(points: Sequence[Vec2], white: float = 0.2) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs) - white, min(ys) - white, max(xs) + white, max(ys) + white)
