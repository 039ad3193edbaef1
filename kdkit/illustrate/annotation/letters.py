"""Balloons with the letters of parts, and their leaders.

A part that is new in the step always gets its letter; one that is there already gets it
when the step's words name it and there is room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kdkit.frames import Vec2
from kdkit.illustrate.hidden_lines.drawing import Drawing
from kdkit.illustrate.paper.figure import Circle, Line, Primitive, Text
from kdkit.illustrate.paper.ground import Ground, fill_loops
from kdkit.illustrate.paper.layout import FreePlaces, Placed, Thing, text_width

__all__ = ["BALL", "Named", "draw_letter", "find_anchors", "place_letter"]

BALL = 3.6
"""Radius of a letter's balloon, mm."""

LETTER = 3.5
"""Height of a letter, mm. Source: ISO 3098-1 row 1.8 2.5 3.5 5 7 10."""

DOT = 0.5
"""Radius of the dot at a leader's end, mm."""

FINE = 0.5
"""Cells in which a part is looked at, mm."""

DEEP = 12
"""Farther than this many cells from the rim no place is better than another."""

NEAREST = 42.0
"""A part that is there already is named only by a leader shorter than this, mm."""


@dataclass(frozen=True, kw_only=True)
class Named:
    """A part in a drawing, its letter, and how many like it the picture stands for."""

    part: str
    letter: str
    times: int = 1
    new: bool = True


def find_anchors(drawing: Drawing, part: str) -> tuple[Vec2, ...]:
    """Return points well inside what is seen of a part, the best first; none if unseen.

    One point for each third of the part, so that a leader finds a way to one of them.
    """
    loops = [
        loop
        for region in drawing.regions
        if region.body == part and not region.is_mark
        for loop in (region.outer, *region.holes)
    ]
    if not loops:
        return ()
    xs = [x for loop in loops for x, _ in loop]
    ys = [y for loop in loops for _, y in loop]
    x0, y0 = min(xs) - FINE, min(ys) - FINE
    shape = (
        math.ceil((max(ys) - y0) / FINE) + 2,
        math.ceil((max(xs) - x0) / FINE) + 2,
    )
    inside = fill_loops(loops, x0, y0, shape, FINE)
    depth = np.zeros(shape, dtype=int)
    for _ in range(DEEP):
        depth += inside
        core = np.zeros(shape, dtype=bool)
        core[1:-1, 1:-1] = (
            inside[1:-1, 1:-1]
            & inside[:-2, 1:-1]
            & inside[2:, 1:-1]
            & inside[1:-1, :-2]
            & inside[1:-1, 2:]
        )
        inside = core
    if not depth.any():
        return ()
    rows, columns = np.nonzero(depth)
    depths = depth[rows, columns]
    long = (rows, np.ptp(rows)) if np.ptp(rows) > np.ptp(columns) else (columns, np.ptp(columns))
    share = (long[0] - long[0].min()) / max(1, int(long[1]))
    middle = (float(rows.mean()), float(columns.mean()))
    off = np.hypot(rows - middle[0], columns - middle[1])
    found: list[tuple[float, Vec2]] = []
    for low, high in ((1 / 3, 2 / 3), (0.0, 1 / 3), (2 / 3, 1.0)):
        here = np.flatnonzero((share >= low) & (share <= high))
        if not len(here):
            continue
        worth = np.round(depths[here] - 0.02 * off[here], 6)
        best = here[int(np.argmax(worth))]
        at = (
            x0 + (float(columns[best]) + 0.5) * FINE,
            y0 + (float(rows[best]) + 0.5) * FINE,
        )
        found.append((-float(min(depths[best], 6)), at))
    found.sort(key=lambda one: one[0])
    return tuple(at for _, at in found)


def place_letter(places: FreePlaces, named: Named, anchors: Sequence[Vec2]) -> Placed | None:
    """Put a letter's balloon in a free place; None when there is no room, or no need.

    Args:
        anchors: on the paper, the best first; covered ones are passed over.
    """
    free = tuple(p for p in anchors if not _covered(places.barred, p))
    if not free:
        return None
    words = _before(named)
    width = 2 * BALL + (text_width(words, LETTER) + 1.0 if words else 0.0)
    placed = places.find(
        Thing(
            width=width,
            height=2 * BALL,
            anchors=free,
            hub=(width / 2 - BALL, 0.0),
            radius=BALL,
            needed=named.new,
        )
    )
    if placed is None:
        return None
    if not named.new and (placed.crosses or math.dist(*placed.leader) > NEAREST):
        return None
    places.put(placed)
    return placed


def _covered(ground: Ground, at: Vec2) -> bool:
    x, y = at
    return ground.is_taken_in(x - 1.0, y - 1.0, x + 1.0, y + 1.0)


def _before(named: Named) -> str:
    return f"{named.times} ×" if named.times > 1 else ""


def draw_letter(placed: Placed, named: Named) -> list[Primitive]:
    """Return the balloon, its leader and how many parts it stands for."""
    centre = placed.hub
    base = centre[1] + LETTER / 2
    shapes: list[Primitive] = [
        Line(points=placed.leader, pen="leader"),
        Circle(centre=placed.anchor, radius=DOT, pen="leader", tone="arrow"),
    ]
    words = _before(named)
    if words:
        shapes.append(
            Text(at=(placed.box[0], base), text=words, size=LETTER, anchor="start", bold=True)
        )
    shapes.append(Circle(centre=centre, radius=BALL, pen="label", tone="label"))
    shapes.append(Text(at=(centre[0], base), text=named.letter, size=LETTER, bold=True))
    return shapes
