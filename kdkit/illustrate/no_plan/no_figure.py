"""Pictures of a no: parts that hold each other, and for each direction how.

All pictures of one certificate show the same parts from the same side, pulled apart
from their middle, so that a reader finds every part again by its letter. The arrow of a
direction stands beside the parts; the loop runs from letter to letter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2, Vec3, add, distance, scaled, sub
from kdkit.geometry.surfaces import part_middle
from kdkit.illustrate.annotation.letters import BALL, LETTER, find_anchors
from kdkit.illustrate.bodies.body import Body, Wire
from kdkit.illustrate.bodies.hardware import item_body
from kdkit.illustrate.hidden_lines.drawing import Drawing, draw_bodies
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.arrows import line_arrow, straight_arrow
from kdkit.illustrate.paper.figure import Circle, Figure, Primitive, Text
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.choose_view import LOOKS
from kdkit.illustrate.staging.subject import Subject
from kdkit.joinery.placed import Fastener
from kdkit.plan.plan import Block, Impossible

__all__ = ["balloon", "crop_figure", "draw_no", "way_figure"]

LARGE, SMALL = (150.0, 105.0), (56.0, 44.0)
"""The most that the parts measure in the main picture and in a direction's, mm."""

LARGEST = 0.3
PULLED = 0.45
"""How far parts are pulled out, as a share of their distance from the common middle."""

ARROW = 13.0
"""Length of a direction's arrow, mm."""

BULGE = 0.16
"""How far an arrow between letters bends to its right, as a share of its length."""


@dataclass(frozen=True)
class _Scene:
    """The parts pulled apart, from one side."""

    bodies: tuple[Body, ...]
    wires: tuple[Wire, ...]
    view: View

    def at(self, room: Vec2) -> Drawing:
        """Draw as large as fits."""
        x0, y0, x1, y1 = self.view.bounds([c for b in self.bodies for c in b.corners()])
        scale = min(LARGEST, room[0] / max(x1 - x0, 1.0), room[1] / max(y1 - y0, 1.0))
        return draw_bodies(self.bodies, self.view.at_scale(scale), self.wires)


def draw_no(
    subject: Subject, no: Impossible, letters: Mapping[str, str], style: Style
) -> Mapping[str, Figure]:
    """Return the pictures of a certificate by name.

    ``parts``: the parts of all its reasons, large; for each direction of each reason its
    arrow and its loop, under what ``way_figure`` gives. Descriptions are empty;
    whoever prints them knows the words.

    Args:
        letters: of each part of the certificate; parts packed as one have one.
    """
    bodies = no.every_body
    main = _pull_apart(subject, bodies).at(LARGE)
    spots = _spots(main, bodies)
    shapes: list[Primitive] = list(main.primitives())
    for name in bodies:
        shapes += balloon(spots[name], letters[name])
    figures = {"parts": crop_figure(shapes, style, ", ".join(letters[n] for n in bodies))}
    for group, one in enumerate(no.reasons, start=1):
        figures |= _draw_ways(subject, one, group, letters, style)
    return figures


def way_figure(group: int, way: int) -> str:
    """Return the name of a picture: ``way-1``, of a further reason ``way-2-1``."""
    return f"way-{way}" if group == 1 else f"way-{group}-{way}"


def _draw_ways(
    subject: Subject, no: Impossible, group: int, letters: Mapping[str, str], style: Style
) -> dict[str, Figure]:
    """The pictures of one reason's directions."""
    figures: dict[str, Figure] = {}
    small = _pull_apart(subject, no.bodies).at(SMALL)
    spots = _spots(small, no.bodies)
    for n, (direction, walk) in enumerate(no.loops, start=1):
        shapes: list[Primitive] = list(small.primitives())
        shapes += _beside(small, direction)
        shapes += _loop(walk, spots)
        for name in no.parts:
            shapes += balloon(spots[name], letters[name])
        title = " → ".join(letters[b.part] for b in (*walk, *walk[:1]))
        figures[way_figure(group, n)] = crop_figure(shapes, style, title)
    return figures


def balloon(at: Vec2, letter: str) -> list[Primitive]:
    """Return a letter in a circle."""
    return [
        Circle(centre=at, radius=BALL, pen="label", tone="label"),
        Text(at=(at[0], at[1] + LETTER / 2), text=letter, size=LETTER, bold=True),
    ]


def crop_figure(shapes: Sequence[Primitive], style: Style, title: str) -> Figure:
    """Return a figure just large enough for some shapes."""
    x0, y0, x1, y1 = extent(shapes)
    margin = style.margin
    return Figure(
        width=x1 - x0 + 2 * margin,
        height=y1 - y0 + 2 * margin,
        primitives=moved(shapes, (margin - x0, margin - y0)),
        title=title,
        description="",
    )


def _pull_apart(subject: Subject, of: Mapping[str, Sequence[str]]) -> _Scene:
    inside = {part: name for name, parts in of.items() for part in parts}
    middles = {
        name: scaled(_sum([part_middle(subject.assembly.part(p)) for p in parts]), 1 / len(parts))
        for name, parts in of.items()
    }
    common = scaled(_sum(list(middles.values())), 1 / len(middles))
    shifts = {p: scaled(sub(middles[name], common), PULLED) for p, name in inside.items()}
    bodies = [subject.body(name, "new", 0.2).moved(shifts[name]) for name in inside]
    wires: list[Wire] = []
    for fastener in subject.joinery.fasteners:
        ends = (inside.get(fastener.butting or ""), inside.get(fastener.receiving))
        if None not in ends and ends[0] != ends[1]:
            found, lines = _hardware(subject, fastener, shifts)
            bodies += found
            wires += lines
    view = max(
        (View(viewpoint=look) for look in LOOKS),
        key=lambda v: _least_shown(draw_bodies(bodies, v), of),
    )
    return _Scene(tuple(bodies), tuple(wires), view)


def _least_shown(drawing: Drawing, of: Mapping[str, Sequence[str]]) -> float:
    """The share that is seen of the part of which least is seen, in tenths.

    Of parts packed as one, what is seen best stands for all of them.
    """
    return round(min(max(drawing.shown.get(p, 0.0) for p in body) for body in of.values()), 1)


def _hardware(
    subject: Subject, fastener: Fastener, shifts: Mapping[str, Vec3]
) -> tuple[list[Body], list[Wire]]:
    """What sticks out of one part and goes into the other, and the line that it goes."""
    bodies, wires = [], []
    for placed in fastener.items:
        if placed.carrier is None:
            continue
        item = subject.catalogue.items.get(placed.item)
        if item is None or max(piece.z1 for piece in item.pieces) <= 1.0:
            continue
        frame = placed.frame
        shift = shifts[placed.carrier]
        moved_frame = type(frame)(add(frame.origin, shift), frame.i, frame.j, frame.k)
        name = f"{fastener.id}#{placed.index}"
        bodies.append(item_body(name, item, moved_frame, role="fastener", scale=0.2))
        other = fastener.receiving if placed.carrier == fastener.butting else fastener.butting
        tip = scaled(frame.k, max(piece.z1 for piece in item.pieces))
        start, end = add(moved_frame.origin, tip), add(frame.origin, shifts[str(other)])
        if distance(start, end) > 2.0:
            wires.append(Wire(name=f"guide {name}", points=(start, end)))
    return bodies, wires


def _sum(points: Sequence[Vec3]) -> Vec3:
    total: Vec3 = (0.0, 0.0, 0.0)
    for point in points:
        total = add(total, point)
    return total


def _spots(drawing: Drawing, of: Mapping[str, Sequence[str]]) -> dict[str, Vec2]:
    """Where each part's letter stands: on the part, clear of the other letters."""
    spots: dict[str, Vec2] = {}
    for name, body in of.items():
        seen = [anchor for part in body for anchor in find_anchors(drawing, part)]
        anchors = seen or _middle_of(drawing)
        spots[name] = max(
            anchors,
            key=lambda p: min([2.4 * BALL, *(math.dist(p, q) for q in spots.values())]),
        )
    return spots


def _middle_of(drawing: Drawing) -> tuple[Vec2, ...]:
    x0, y0, x1, y1 = drawing.bounds()
    return (((x0 + x1) / 2, (y0 + y1) / 2),)


def _beside(drawing: Drawing, direction: Vec3) -> list[Primitive]:
    """The arrow of a direction, where the parts would leave to."""
    x0, y0, x1, y1 = drawing.bounds()
    dx, dy = drawing.view.direction(direction)
    size = math.hypot(dx, dy) or 1.0
    dx, dy = dx / size, dy / size
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    out = min(
        (x1 - x0) / 2 / abs(dx) if abs(dx) > 1e-6 else math.inf,
        (y1 - y0) / 2 / abs(dy) if abs(dy) > 1e-6 else math.inf,
    )
    start = (middle[0] + dx * (out + 2.5), middle[1] + dy * (out + 2.5))
    return straight_arrow(start, (start[0] + dx * ARROW, start[1] + dy * ARROW), width=2.6)


def _loop(walk: Sequence[Block], spots: Mapping[str, Vec2]) -> list[Primitive]:
    """An arrow from each part's letter to the letter of what holds it, bent to its right."""
    shapes: list[Primitive] = []
    for part, by in dict.fromkeys((block.part, block.by) for block in walk):
        (ax, ay), (bx, by_) = spots[part], spots[by]
        length = math.hypot(bx - ax, by_ - ay)
        if length < 2.5 * BALL:
            continue
        ux, uy = (bx - ax) / length, (by_ - ay) / length
        path = []
        for n in range(17):
            t = (BALL + 0.6 + n / 16 * (length - 2 * BALL - 1.4)) / length
            bend = 4 * BULGE * length * t * (1 - t)
            path.append((ax + ux * length * t - uy * bend, ay + uy * length * t + ux * bend))
        shapes += line_arrow(path)
    return shapes
