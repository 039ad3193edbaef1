"""``templates.pdf``: drilling templates at 1 : 1, to be cut out, joined and laid on the parts.

Every page has a ruler each way, as printers scale. Nothing on it is scaled here: a
millimetre of the panel is one of the paper.
"""

from __future__ import annotations

import math
import pathlib
from collections.abc import Iterator, Mapping, Sequence

from kdkit.diagnostics import Problem
from kdkit.frames import Vec2
from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.tables import datum_words, runs_on, surface_words
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.workshop.drawings.drawing_sheet import (
    PAPER_SIZES,
    Box,
    DrawingSheet,
    text_box,
    text_width,
)
from kdkit.publish.workshop.drawings.hole_table import hole_note
from kdkit.publish.workshop.handwork.clipping import clip_line, clip_ring
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.hole_kinds import HoleKind, hole_kind, name_kinds
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.templates import Piece, Template, cross_arm, cut_pieces, list_templates
from kdkit.schedule.views import SurfaceView
from kdkit.units import mm_text

__all__ = ["RULER", "draw_templates", "write_templates"]

RULER = 100.0
"""What the rulers measure, mm."""

_MARGIN = 10.0  # what printers leave white
_LEFT, _TOP, _BOTTOM = 15.0, 13.0, 13.0  # inside the margin: ruler, heading, ruler
_HEADS = 16.0  # most that a piece's heading takes
_GAP = 4.0
_SMALL, _TEXT = 1.8, 2.5
_JOIN = 4.0  # arm of a joining mark


def write_templates(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``templates.pdf``; nothing for a product in which nothing is bored."""
    sheets = draw_templates(job)
    if sheets:
        title = job.messages.plain("workshop.template_title", product=job.product)
        pdf = make_sheets([s.render() for s in sheets], PAPER_SIZES[job.paper], title, job.messages)
        (folder / "templates.pdf").write_bytes(pdf)
    return ()


def draw_templates(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return the pages with all templates, as many pieces on each as it holds."""
    width, height = PAPER_SIZES[job.paper]
    area = (_MARGIN + _LEFT, _MARGIN + _TOP, width - _MARGIN, height - _MARGIN - _BOTTOM)
    kinds = name_kinds(job.panels)
    room = (area[2] - area[0], area[3] - area[1] - _HEADS)
    pieces = [
        piece for template in list_templates(job.panels) for piece in cut_pieces(template, room)
    ]
    pages = _share_out([(_heads(piece, job, room[0]), piece) for piece in pieces], area)
    sheets = []
    for number, page in enumerate(pages, start=1):
        sheet = DrawingSheet(width, height, job.messages.plain("workshop.template_page", n=number))
        _page_words(sheet, job, f"{number} / {len(pages)}")
        _rulers(sheet, job)
        for (x, y), heads, piece in page:
            _PieceDrawing(sheet, piece, (x, y + _head_height(heads)), kinds, job).draw()
            for n, line in enumerate(heads):
                sheet.text((x, y + 3.4 * (n + 1)), line, _TEXT if n == 0 else _SMALL, bold=n == 0)
        sheets.append(sheet)
    return tuple(sheets)


Heads = tuple[str, ...]
Placed = tuple[Vec2, Heads, Piece]


def _share_out(blocks: Sequence[tuple[Heads, Piece]], area: Box) -> list[list[Placed]]:
    """Return the pages: pieces side by side while they fit, in rows one below the other."""
    x0, y0, x1, y1 = area
    pages: list[list[Placed]] = []
    x, top, low = x0, y0, y0
    for heads, piece in blocks:
        wide = max(piece.box[2] - piece.box[0], _head_width(heads))
        high = piece.box[3] - piece.box[1] + _head_height(heads)
        if x + wide > x1 + 1e-6:
            x, top = x0, low + _GAP
        if top + high > y1 + 1e-6 or not pages:
            pages.append([])
            x, top, low = x0, y0, y0
        pages[-1].append(((x, top), heads, piece))
        x += wide + _GAP
        low = max(low, top + high)
    return pages


def _head_width(heads: Heads) -> float:
    first, *others = heads
    box = text_box((0.0, 0.0), first, _TEXT, bold=True)
    return max(box[2], *(text_width(line, _SMALL) for line in others))


def _head_height(heads: Heads) -> float:
    return 3.4 * len(heads) + 1.2


def _heads(piece: Piece, job: WorkshopJob, room: float) -> Heads:
    """Return the lines above a piece: what it lies on, how often, where it begins."""
    say, template = job.messages.plain, piece.template
    first = template.users[0]
    surface = surface_words(job.messages, first.surface)
    head = say("workshop.template_piece", letter=first.letter, title=first.title,
               surface=surface, n=piece.number, of=piece.of)  # fmt: skip
    users = "; ".join(
        say("workshop.template_user", letter=user.letter, title=user.title,
            surface=surface_words(job.messages, user.surface), n=user.quantity)
        for user in template.users
    )  # fmt: skip
    total = sum(user.quantity for user in template.users)
    x_runs, y_runs = runs_on(template.panel, first.surface)
    corner = say(
        "workshop.template_corner",
        datum=datum_words(job.messages, template.panel.datum),
        x=say(f"runs.{x_runs}"),
        y=say(f"runs.{y_runs}"),
    )
    lean = template.view.leans
    if lean:
        corner += " " + say("workshop.template_bevel", angle=mm_text(lean, 2))
    wide = max(piece.box[2] - piece.box[0], min(room, 120.0))
    most = int((_HEADS - 1.2) / 3.4) - 1
    told = say("workshop.template_users", total=total, users=users) + " " + corner
    lines = wrap_lines(told, lambda line: text_width(line, _SMALL) <= wide)
    if len(lines) > most:  # then as wide as the page
        lines = wrap_lines(told, lambda line: text_width(line, _SMALL) <= room)
    return (head, *lines[:most])


def _page_words(sheet: DrawingSheet, job: WorkshopJob, number: str) -> None:
    say = job.messages.plain
    variant = job.results.resolved.variant
    product = f"{job.product} ({variant})" if variant else job.product
    y = _MARGIN + 3.5
    sheet.text(
        (_MARGIN, y),
        say(
            "workshop.template_head", product=product, revision=job.revision or say("workshop.none")
        ),
        3.5,
    )
    sheet.text((sheet.width - _MARGIN, y), number, _TEXT, anchor="end")
    sheet.text((_MARGIN, y + 5), say("workshop.template_measure", n=mm_text(RULER)), _TEXT)


def _rulers(sheet: DrawingSheet, job: WorkshopJob) -> None:
    """Draw 100 mm along the foot and along the left side, a stroke every 5."""
    x0, y0 = _MARGIN + _LEFT, sheet.height - _MARGIN - 8.0
    sheet.line((x0, y0), (x0 + RULER, y0), "edge")
    left, foot = _MARGIN + 8.0, _MARGIN + _TOP + RULER
    sheet.line((left, foot - RULER), (left, foot), "edge")
    for n in range(int(RULER / 5) + 1):
        long = 4.0 if n % 2 == 0 else 2.5
        sheet.line((x0 + 5 * n, y0), (x0 + 5 * n, y0 + long), "rule")
        sheet.line((left, foot - 5 * n), (left - long, foot - 5 * n), "rule")
    for n in (0, 50, 100):
        sheet.text((x0 + n, y0 + 7.0), str(n), _SMALL, anchor="middle")
        sheet.text((left - 5.0, foot - n), str(n), _SMALL, anchor="middle", upright=True)
    text = job.messages.plain("workshop.template_ruler", n=mm_text(RULER))
    sheet.text((x0 + RULER + 4, y0 + 3), text, _SMALL)


class _PieceDrawing:
    """One piece being drawn, its upper left corner at ``at`` on the sheet."""

    def __init__(
        self,
        sheet: DrawingSheet,
        piece: Piece,
        at: Vec2,
        kinds: Mapping[HoleKind, str],
        job: WorkshopJob,
    ) -> None:
        self.sheet, self.piece, self.kinds, self.job = sheet, piece, kinds, job
        self.say = job.messages.plain
        self.template: Template = piece.template
        self.view: SurfaceView = piece.template.view
        x0, y0, x1, y1 = piece.box
        self.at_corner = at
        self.box: Box = (at[0], at[1], at[0] + x1 - x0, at[1] + y1 - y0)

    def on_sheet(self, seen: Vec2) -> Vec2:
        """Return where a point of the surface, as seen, stands on the sheet."""
        x0, _, _, y1 = self.piece.box
        return (self.at_corner[0] + seen[0] - x0, self.at_corner[1] + y1 - seen[1])

    def draw(self) -> None:
        """Draw the piece with its words."""
        self.sheet.rectangle(self.box, "cut")
        for ring in self.template.rings:
            self._ring([self.on_sheet(p) for p in ring], "edge")
        for centre, diameter in self.view.rounds:
            self._circle(self.on_sheet(self.view.seen(centre)), diameter / 2, "edge")
        self._folds()
        for mark in self.piece.marks:
            x, y = self.on_sheet(mark.at)
            for arm in ((_JOIN, _JOIN), (_JOIN, -_JOIN)):
                self.sheet.line((x - arm[0], y - arm[1]), (x + arm[0], y + arm[1]), "rule")
            self.sheet.circle((x, y), 2.0, "rule")
            self.sheet.keep_clear((x - _JOIN, y - _JOIN, x + _JOIN, y + _JOIN))
        for bore, centre in self._bores():
            self._bore(bore, centre)
        for bore, centre in self._bores():
            self._note(bore, centre)
        for mark in self.piece.marks:
            raw = (mark.at[0], -mark.at[1]) if self.view.y_down else mark.at
            text = self.say(
                "workshop.template_mark", n=mark.number, x=mm_text(raw[0], 1), y=mm_text(raw[1], 1)
            )
            self._place(self.on_sheet(mark.at), text, _JOIN + 0.5)
        self._names()

    def _bores(self) -> Iterator[tuple[DrillLine, Vec2]]:
        for bore in self.piece.bores:
            yield bore, self.on_sheet(self.view.seen((bore.x, bore.y)))

    def _bore(self, bore: DrillLine, centre: Vec2) -> None:
        """Draw the cross, the circle, and which way a slanted bore runs."""
        x, y = centre
        radius, arm = bore.diameter / 2, cross_arm(bore)
        self._line((x - arm, y), (x + arm, y), "dimension")
        self._line((x, y - arm), (x, y + arm), "dimension")
        self._circle(centre, radius, "edge")
        self.sheet.keep_clear((x - arm, y - 0.4, x + arm, y + 0.4))
        self.sheet.keep_clear((x - 0.4, y - arm, x + 0.4, y + arm))
        self.sheet.keep_clear((x - radius, y - radius, x + radius, y + radius))
        if bore.towards_deg is not None:
            angle = math.radians(bore.towards_deg)
            dx, dy = self.view.seen((math.cos(angle), math.sin(angle)))
            end = (x + dx * (radius + 12), y - dy * (radius + 12))
            self._line(centre, end, "edge")
            for turn in (0.5, -0.5):
                back = math.atan2(dy, dx) + math.pi + turn
                self._line(end, (end[0] + 2 * math.cos(back), end[1] - 2 * math.sin(back)), "edge")

    def _note(self, bore: DrillLine, centre: Vec2) -> None:
        note = hole_note(bore, self.say, self.job.machine)
        self._place(centre, f"{self.kinds[hole_kind(bore)]}  {note}", bore.diameter / 2 + 0.8)

    def _folds(self) -> None:
        """Draw where the paper folds over the reference sides, and say so."""
        view, template = self.view, self.template
        ends = (template.starts, 0.0)
        for axis, key in ((0, "end"), (1, "side")):
            far = 1e4
            raw = ((ends[0], -far), (ends[0], far)) if axis == 0 else ((-far, 0.0), (far, 0.0))
            a, b = (self.on_sheet(view.seen(p)) for p in raw)
            found = clip_line(a, b, self.box)
            if found is None:
                continue
            self.sheet.line(*found, "fold")
            (x, y), (u, v) = found
            if axis == 0:
                self.sheet.keep_clear((x - 0.4, min(y, v), x + 0.4, max(y, v)))
            else:
                self.sheet.keep_clear((min(x, u), y - 0.4, max(x, u), y + 0.4))
            kind = "edge" if view.is_edge else "flat"
            text = self.say(f"workshop.template_{key}_{kind}")
            outside = self._outside(axis)
            room = self._grown(outside)
            near = ((outside[0] + outside[2]) / 2, (outside[1] + outside[3]) / 2)
            self._upright(near, text, room) if axis == 0 else self.sheet.place_text(
                near, text, _SMALL, (room,), start=0.0, reach=90
            )

    def _outside(self, axis: int) -> Box:
        """Return the part of the piece that folds over the datum's side of an axis."""
        x0, y0, x1, y1 = self.box
        start = self.on_sheet(self.view.seen((self.template.starts, 0.0)))
        if axis == 0:  # without the corner where both folds meet
            low, high = (start[1], y1) if self.view.y_down else (y0, start[1])
            return (x0, max(low, y0), start[0], min(high, y1))
        return (x0, y0, x1, start[1]) if self.view.y_down else (x0, start[1], x1, y1)

    def _grown(self, box: Box) -> Box:
        return (box[0] + 0.5, box[1] + 0.5, box[2] - 0.5, box[3] - 0.5)

    def _upright(self, near: Vec2, text: str, room: Box) -> None:
        """Write along the fold at the end, as far as the piece is high enough."""
        wide = text_width(text, _SMALL)
        if wide > room[3] - room[1]:
            text = self.say("workshop.template_end_short")
            wide = text_width(text, _SMALL)
        middle = (room[1] + room[3]) / 2
        self.sheet.text(
            (room[0] + 3.0, min(middle + wide / 2, room[3])), text, _SMALL, upright=True
        )

    def _names(self) -> None:
        """Name the part on the piece itself, which is cut away from its heading."""
        first = self.template.users[0]
        text = self.say(
            "workshop.template_inside",
            letters=", ".join(dict.fromkeys(user.letter for user in self.template.users)),
            surface=surface_words(self.job.messages, first.surface),
            n=self.piece.number,
            of=self.piece.of,
            product=self.job.product,
            revision=self.job.revision or self.say("workshop.none"),
        )
        x0, y0, x1, y1 = self.box
        for height in (_TEXT, _SMALL):
            if self.sheet.place_text(
                ((x0 + x1) / 2, (y0 + y1) / 2),
                text,
                height,
                (self._grown(self.box),),
                start=0.0,
                reach=200,
            ):
                return

    def _place(self, near: Vec2, text: str, start: float) -> None:
        self.sheet.place_text(
            near, text, _SMALL, (self._grown(self.box),), start=start, reach=40, leader=start + 4
        )

    def _ring(self, points: Sequence[Vec2], pen: str) -> None:
        for a, b in clip_ring(points, self.box):
            self.sheet.line(a, b, pen)

    def _line(self, a: Vec2, b: Vec2, pen: str) -> None:
        found = clip_line(a, b, self.box)
        if found is not None:
            self.sheet.line(*found, pen)

    def _circle(self, centre: Vec2, radius: float, pen: str) -> None:
        """Draw a circle, or as much of it as is on the piece."""
        x0, y0, x1, y1 = self.box
        x, y = centre
        if x0 <= x - radius and x + radius <= x1 and y0 <= y - radius and y + radius <= y1:
            self.sheet.circle(centre, radius, pen)
            return
        turns = [math.tau * n / 72 for n in range(72)]
        self._ring([(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns], pen)
