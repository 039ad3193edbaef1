"""Pictures of an order that fails: what is put on, and what bars its way.

Each shows what is there by then, in its place, the part that is put on where it would
come from, the arrow of its way, and a cross where it would meet something (or where pins
hold it to another way).
"""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.frames import Vec2, Vec3, add, dot, scaled
from kdkit.geometry.surfaces import part_middle
from kdkit.illustrate.annotation.letters import find_anchors
from kdkit.illustrate.hidden_lines.drawing import Drawing, draw_bodies
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.no_plan.no_figure import balloon, crop_figure
from kdkit.illustrate.paper.arrows import straight_arrow
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Primitive
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.choose_view import LOOKS
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.plan import Block, OrderRefused
from kdkit.plan.verify import Bodies

__all__ = ["draw_clashes"]

MOST = 6
"""More reasons than this get no picture of their own."""

ROOM = (80.0, 66.0)
LARGEST = 0.2
GAP = 0.4
"""From the part that is put on to what is there, as a share of the size of both."""

CROSS = 3.2


def draw_clashes(
    subject: Subject, refused: OrderRefused, letters: Mapping[str, str], style: Style
) -> Mapping[str, Figure]:
    """Return ``parts``, what is put on beside what is there, and ``clash-1``… by reason.

    The blocks of one reason share a picture; it shows the first of their directions.
    """
    figures: dict[str, Figure] = {}
    there = set(refused.present) - set(refused.moving)
    bodies = Bodies(
        subject.assembly, subject.joinery, subject.catalogue, there | set(refused.moving)
    )
    for n, (block, ways) in enumerate(refused.blocks_by_reason[:MOST], start=1):
        if block.part not in refused.moving or block.by not in there:
            continue
        met = [(way, bodies.meeting(block.part, block.by, way)) for way in ways]
        way, meeting = next(((w, m) for w, m in met if m is not None), met[0])
        at = meeting.end if meeting is not None else _joint_at(subject, block)
        shapes = _picture(subject, refused, letters, way, at)
        figures[f"clash-{n}"] = crop_figure(
            shapes, style, f"{letters[block.part]}, {letters[block.by]}"
        )
    return figures


def _joint_at(subject: Subject, block: Block) -> Vec3:
    """The middle of the contact that pins two parts."""
    for joint in subject.joinery.joints:
        if {joint.butting, joint.receiving} == {block.part, block.by}:
            xs, ys = zip(*joint.contact.polygon, strict=True)
            middle = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, 0.0)
            return joint.contact.frame.point_to_outer(middle)
    return part_middle(subject.assembly.part(block.by))


def _picture(
    subject: Subject,
    refused: OrderRefused,
    letters: Mapping[str, str],
    way: Vec3,
    at: Vec3,
) -> list[Primitive]:
    moving = [subject.body(name, "new", 0.15) for name in refused.moving]
    there = [
        subject.body(name, "existing", 0.15)
        for name in refused.present
        if name not in refused.moving
    ]
    far = max((dot(c, way) for b in there for c in b.corners()), default=0.0)
    near = min((dot(c, way) for b in moving for c in b.corners()), default=0.0)
    corners = [c for b in (*moving, *there) for c in b.corners()]
    size = max(max(c[n] for c in corners) - min(c[n] for c in corners) for n in range(3))
    out = scaled(way, max(0.0, far - near) + GAP * size)
    placed = [*there, *(body.moved(out) for body in moving)]
    named = (*refused.moving, *(n for n in refused.present if n not in refused.moving))
    view = max(
        (View(viewpoint=look) for look in LOOKS),
        key=lambda v: round(min(draw_bodies(placed, v).shown.get(n, 0.0) for n in named), 1),
    )
    x0, y0, x1, y1 = view.bounds([c for b in placed for c in b.corners()])
    scale = min(LARGEST, ROOM[0] / max(x1 - x0, 1.0), ROOM[1] / max(y1 - y0, 1.0))
    drawing = draw_bodies(placed, view.at_scale(scale))
    shapes: list[Primitive] = list(drawing.primitives())
    lead = min(moving[0].corners(), key=lambda c: dot(c, way))
    start = add(part_middle(subject.assembly.part(refused.moving[0])), out)
    start = add(start, scaled(way, dot(add(lead, out), way) - dot(start, way)))
    start, end = (add(start, scaled(way, -share * GAP * size)) for share in (0.1, 0.75))
    shapes += straight_arrow(_on(drawing, start), _on(drawing, end), width=1.8)
    shapes += _cross(_on(drawing, at))
    for name in named:
        for spot in find_anchors(drawing, name)[:1]:
            shapes += balloon(spot, letters[name])
    return shapes


def _on(drawing: Drawing, p: Vec3) -> Vec2:
    x, y, _ = drawing.view.project(p)
    return (x, y)


def _cross(at: Vec2) -> list[Primitive]:
    """A cross in a circle, on white, so that it reads on any ground."""
    x, y = at
    r = CROSS * 0.62
    shapes: list[Primitive] = [Circle(centre=at, radius=CROSS, pen="label", tone="label")]
    for sign in (1.0, -1.0):
        w = 0.55
        dx, dy = r, sign * r
        nx, ny = -dy / (2**0.5 * r) * w, dx / (2**0.5 * r) * w
        ring = (
            (x - dx + nx, y - dy + ny),
            (x + dx + nx, y + dy + ny),
            (x + dx - nx, y + dy - ny),
            (x - dx - nx, y - dy - ny),
        )
        shapes.append(Area(outer=ring, tone="arrow"))
    return shapes
