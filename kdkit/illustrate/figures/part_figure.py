"""Thumbnails of parts: lying before the viewer with the side that is bored most in sight.

Small parts are drawn larger than the common scale: beside the sides of a wardrobe those of
its drawers showed nothing. The order of sizes stays.
"""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.frames import scaled
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.paper.figure import Figure, Primitive
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.subject import Subject
from kdkit.model.resolved import Part
from kdkit.parts.postures import posture_with_up
from kdkit.parts.size import part_size
from kdkit.schedule.schedules import BoughtLine, CutLine, Schedules

__all__ = ["draw_parts"]

USUAL = FigureBox(width=46.0, height=30.0)
"""The room of a part when the page says nothing else, mm."""

LEAST = 7.0
"""No part is drawn smaller than this, mm."""

NEARER = 0.4
"""How far small parts come up to the largest on paper, 0 (one scale) to 1 (all alike)."""

LOOK = Viewpoint(-25.0, 48.0)


def draw_parts(
    subject: Subject, schedules: Schedules, style: Style, room: FigureBox | None = None
) -> Mapping[str, Figure]:
    """Return a thumbnail for every letter.

    A part that is smaller than another is also drawn smaller, but not by as much: beside
    the sides of a wardrobe those of its drawers would show nothing at one scale.
    """
    box = room or USUAL
    widest, highest = box.width - 2 * style.margin, box.height - 2 * style.margin
    lines: tuple[CutLine | BoughtLine, ...] = (*schedules.cut, *schedules.bought)
    views = {line.letter: _view_of(subject, subject.assembly.part(line.parts[0])) for line in lines}
    sizes = {}
    for line in lines:
        body = subject.body(line.parts[0], "part", 0.1)
        x0, y0, x1, y1 = views[line.letter].bounds(body.corners())
        sizes[line.letter] = (x1 - x0, y1 - y0)
    common = min((min(widest / w, highest / h) for w, h in sizes.values()), default=0.1)
    largest = max((max(size) for size in sizes.values()), default=1.0)
    figures = {}
    for line in lines:
        w, h = sizes[line.letter]
        scale = max(common * (largest / max(w, h)) ** NEARER, LEAST / max(w, h))
        scale = min(scale, widest / w, highest / h)
        body = subject.body(line.parts[0], "part", scale)
        shapes: list[Primitive] = list(
            draw_bodies([body], views[line.letter].at_scale(scale)).primitives()
        )
        x0, y0, x1, y1 = extent(shapes)
        figures[line.letter] = Figure(
            width=x1 - x0 + 2 * style.margin,
            height=y1 - y0 + 2 * style.margin,
            primitives=moved(shapes, (style.margin - x0, style.margin - y0)),
            title=f"Part {line.letter}",
            description="",
            scale=scale,
        )
    return figures


def _view_of(subject: Subject, part: Part) -> View:
    """Return the view in which the part lies along the picture, its more bored side on top."""
    frame = part.frame
    face = sum(b.surface == "face" for b in subject.joinery.bores if b.part == part.name)
    back = sum(b.surface == "back" for b in subject.joinery.bores if b.part == part.name)
    out = frame.k if face >= back else scaled(frame.k, -1.0)
    along = frame.i
    if part.thickness > max(part_size(part)):  # a rod, its outline the section
        out, along = frame.j, frame.k
    posture = posture_with_up(out)
    view = View(viewpoint=LOOK, posture=posture)
    lies = view.vector_to_floor(along)
    if abs(lies[0]) < abs(lies[1]):
        return View(
            viewpoint=Viewpoint(LOOK.azimuth_deg + 90.0, LOOK.elevation_deg), posture=posture
        )
    return view
