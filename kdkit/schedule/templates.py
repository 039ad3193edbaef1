"""Drilling templates at true size: strips for edges, sheets for faces, cut into pieces.

A template is one stretch of a worked surface, seen from outside, with room beside it to fold
over its reference edges. Like stretches of like parts share one. A piece is as much of it as
a page holds; neighbours overlap and show the same marks in what they share.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from kdkit.frames import Vec2
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView, slot_corners

__all__ = [
    "OVERLAP",
    "JoiningMark",
    "Piece",
    "Template",
    "User",
    "cross_arm",
    "cut_pieces",
    "list_templates",
]

Box = tuple[float, float, float, float]

OVERLAP = 20.0
"""What two neighbouring pieces both show, mm."""

_FOLD = 15.0  # over the reference edges
_MARGIN = 3.0  # beyond the other ones
_NEAR = 0.005  # mm; bores nearer to the same place than this are alike


@dataclass(frozen=True)
class User:
    """A surface that a template is laid on: of which part, how many of them there are."""

    letter: str
    title: str
    quantity: int
    surface: str


@dataclass(frozen=True, kw_only=True)
class Template:
    """One stretch of a surface; all points as seen from outside, x to the right, y up.

    Args:
        view: the surface with only what lies on this stretch.
        datum, x_runs, y_runs: as of ``PanelViews``, of the first user.
        starts: where the stretch begins on the surface's x.
        box: what is printed, the folds too.
    """

    view: SurfaceView
    users: tuple[User, ...]
    panel: PanelViews
    starts: float
    box: Box

    @property
    def rings(self) -> tuple[tuple[Vec2, ...], ...]:
        """Outline, openings, grooves and slots."""
        view = self.view
        rings = [*view.outlines, *view.openings]
        for groove in view.grooves:
            (x0, x1), (y0, y1) = groove.x, groove.y
            rings.append(((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
        rings += [slot_corners(slot) for slot in view.slots]
        return tuple(tuple(view.seen(p) for p in ring) for ring in rings)


@dataclass(frozen=True)
class JoiningMark:
    """A mark that both pieces beside a joint show: its number and its place as seen."""

    number: int
    at: Vec2


@dataclass(frozen=True, kw_only=True)
class Piece:
    """What one page shows of a template.

    Args:
        place: column and row of the piece, counted from the datum.
        box: what it shows, as seen.
        number, of: its number among the pieces that are printed.
        bores: those with their middle in it.
    """

    template: Template
    place: tuple[int, int]
    box: Box
    number: int
    of: int
    bores: tuple[DrillLine, ...]
    marks: tuple[JoiningMark, ...]


def list_templates(panels: Iterable[PanelViews]) -> tuple[Template, ...]:
    """Return the templates of all bores and slots, like ones once, in the order of the parts."""
    found: dict[object, Template] = {}
    for panel in panels:
        for view in panel.views:
            for part in _stretches(view):
                user = User(panel.letter, panel.cut.title, panel.cut.quantity, view.surface)
                key = _likeness(part)
                known = found.get(key)
                if known is None:
                    starts = min(p[0] for ring in part.outlines for p in ring)
                    found[key] = Template(
                        view=part, users=(user,), panel=panel, starts=starts, box=_box(part)
                    )
                else:
                    found[key] = replace(known, users=(*known.users, user))
    return tuple(found.values())


def _stretches(view: SurfaceView) -> Iterator[SurfaceView]:
    """Yield face and back whole, of an edge every stretch by itself, if anything is bored there."""
    if not view.is_edge or len(view.outlines) == 1:
        if view.bores or view.slots:
            yield view
        return
    spans = [(min(p[0] for p in ring), max(p[0] for p in ring)) for ring in view.outlines]

    def stretch_of(x: float) -> int:
        return min(range(len(spans)), key=lambda n: max(spans[n][0] - x, x - spans[n][1], 0.0))

    for n, ring in enumerate(view.outlines):
        part = replace(
            view,
            outlines=(ring,),
            bores=tuple(b for b in view.bores if stretch_of(b.x) == n),
            grooves=tuple(g for g in view.grooves if stretch_of(g.x[0]) == n),
            slots=tuple(s for s in view.slots if stretch_of(s.start[0]) == n),
        )
        if part.bores or part.slots:
            yield part


def _likeness(view: SurfaceView) -> object:
    """Return what two stretches have in common if one template serves both."""

    def at(*values: float) -> tuple[int, ...]:
        return tuple(round(v / _NEAR) for v in values)

    return (
        view.is_edge,
        view.y_down,
        tuple(sorted(tuple(at(*p) for p in ring) for ring in view.outlines)),
        tuple(sorted(tuple(at(*p) for p in ring) for ring in view.openings)),
        tuple(sorted(at(*centre, d) for centre, d in view.rounds)),
        frozenset(
            (at(b.x, b.y, b.diameter, b.depth, b.angle_deg, b.towards_deg or 0.0),
             b.through, b.sloped, b.stage)
            for b in view.bores
        ),
        frozenset((at(*g.x, *g.y, g.depth)) for g in view.grooves),
        frozenset((at(*s.start, *s.end, s.width, s.depth), s.stage) for s in view.slots),
    )  # fmt: skip


def _box(view: SurfaceView) -> Box:
    """Return what is printed of a stretch: folds over the datum's two sides, margins beyond."""
    points = [p for ring in view.outlines for p in ring]
    x0, x1 = min(p[0] for p in points) - _FOLD, max(p[0] for p in points) + _MARGIN
    y0, y1 = min(p[1] for p in points) - _FOLD, max(p[1] for p in points) + _MARGIN
    (a, b), (c, d) = view.seen((x0, y0)), view.seen((x1, y1))
    return (min(a, c), min(b, d), max(a, c), max(b, d))


def cut_pieces(template: Template, room: Vec2) -> tuple[Piece, ...]:
    """Return the pieces of a template that a page's room holds, from the datum on.

    Rows of pieces in which nothing is bored are left out, and of every row what comes after
    its last bore: the pieces that are left still join on to the reference edge.
    """
    x0, y0, x1, y1 = template.box
    view = template.view
    columns = _spans(x0, x1, room[0])
    rows = _spans(y0, y1, room[1])
    if view.y_down:
        rows = [(-high, -low) for low, high in _spans(-y1, -y0, room[1])]
    middles = [(b, view.seen((b.x, b.y))) for b in view.bores]
    wanted = [(p, cross_arm(b)) for b, p in middles]
    wanted += [
        (view.seen(p), slot.width / 2) for slot in view.slots for p in (slot.start, slot.end)
    ]
    kept: dict[tuple[int, int], Box] = {}
    for r, (low, high) in enumerate(rows):
        new = [
            (p, radius)
            for p, radius in wanted
            if low <= p[1] <= high and not _shown(p, radius, tuple(kept.values()))
        ]
        if not new:
            continue
        far = max(p[0] + radius for p, radius in new)
        for c, (left, right) in enumerate(columns):
            # The first piece is kept if nothing is bored on it: it lies at the reference end.
            if c == 0 or left + OVERLAP < far:
                kept[c, r] = (left, low, right, high)
    marks = _marks(kept, [p for _, p in middles])
    return tuple(
        Piece(
            template=template,
            place=place,
            box=box,
            number=n,
            of=len(kept),
            bores=tuple(b for b, p in middles if _belongs(p, cross_arm(b), box, kept.values())),
            marks=tuple(m for m, pair in marks if place in pair),
        )
        for n, (place, box) in enumerate(kept.items(), start=1)
    )


def _spans(start: float, end: float, room: float) -> list[tuple[float, float]]:
    """Return stretches as long as the room but the last, each over the next by ``OVERLAP``."""
    spans = [(start, min(end, start + room))]
    while spans[-1][1] < end - 1e-9:
        low = spans[-1][1] - OVERLAP
        spans.append((low, min(end, low + room)))
    return spans


def _marks(
    kept: dict[tuple[int, int], Box], bores: Sequence[Vec2]
) -> list[tuple[JoiningMark, tuple[tuple[int, int], tuple[int, int]]]]:
    """Return two marks for every joint between two pieces, well clear of bores."""
    found: list[tuple[JoiningMark, tuple[tuple[int, int], tuple[int, int]]]] = []
    busy = list(bores)
    for (c, r), box in kept.items():
        for other in ((c + 1, r), (c, r + 1)):
            beside = kept.get(other)
            if beside is None:
                continue
            x0, y0 = max(box[0], beside[0]), max(box[1], beside[1])
            x1, y1 = min(box[2], beside[2]), min(box[3], beside[3])
            upright = other[0] != c
            for low, high in ((0.1, 0.4), (0.6, 0.9)) if upright else ((0.25, 0.45), (0.55, 0.75)):
                shares = [low + (high - low) * n / 12 for n in range(13)]
                places = [
                    ((x0 + x1) / 2, y0 + (y1 - y0) * s)
                    if upright
                    else (x0 + (x1 - x0) * s, (y0 + y1) / 2)
                    for s in shares
                ]
                at = max(
                    places,
                    key=lambda p: min(14.0, *(math.dist(p, b) for b in busy), 14.0),
                )
                busy.append(at)
                found.append((JoiningMark(len(found) + 1, at), ((c, r), other)))
    return found


def cross_arm(bore: DrillLine) -> float:
    """Return how far the cross of a bore reaches from its middle."""
    return bore.diameter / 2 + 3.0


def _belongs(p: Vec2, arm: float, box: Box, boxes: Iterable[Box]) -> bool:
    """Tell whether a cross is drawn on a piece: whole, or on none of them whole."""
    return _shown(p, arm, (box,)) or (_holds(box, p) and not _shown(p, arm, boxes))


def _holds(box: Box, p: Vec2) -> bool:
    return box[0] <= p[0] <= box[2] and box[1] <= p[1] <= box[3]


def _shown(p: Vec2, radius: float, boxes: Iterable[Box]) -> bool:
    """Tell whether a round mark is wholly on one of the pieces."""
    x, y = p
    return any(
        x0 + radius <= x <= x1 - radius and y0 + radius <= y <= y1 - radius
        for x0, y0, x1, y1 in boxes
    )
