"""Magnified details: one round window for each kind of hardware that a step handles.

A detail is a drawing of its own by the same kernel, from the same bodies, in the same
view; only the scale differs and the window cuts it off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Point, Polygon

from kdkit.frames import Vec2, Vec3, add, scaled
from kdkit.illustrate.annotation.detail_arrows import push_arrow, round_path
from kdkit.illustrate.annotation.detail_choice import (
    LARGEST_ROW,
    LEGIBLE,
    Detail,
    detail_apart,
    ends_of,
    outermost,
    share_seen,
)
from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.arrows import line_arrow
from kdkit.illustrate.paper.figure import Circle, Line, Primitive, Text
from kdkit.illustrate.paper.layout import text_width
from kdkit.illustrate.paper.moving import clipped, moved
from kdkit.illustrate.staging.build_state import action_of
from kdkit.illustrate.staging.explode import Apart, item_frame
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject, step_bodies, step_wires
from kdkit.illustrate.staging.wall import wall_bodies
from kdkit.plan.plan import OperationKind

__all__ = [
    "CAPTION",
    "Window",
    "caption_width",
    "draw_caption",
    "draw_detail",
    "ring",
    "ring_radius",
    "spot",
]

SCALES = (2.0, 1.0, 0.5, 0.2, 0.1)
"""Magnifications and reductions of ISO 5455, as far as a detail needs them."""

LARGEST, SMALLEST = 17.0, 11.0
"""Radius of a detail's window on paper, mm."""

CAPTION = 7.0
"""Height of the line over or under a detail's window, mm."""

BETWEEN = 2.5
"""White between two items in a caption, mm."""

COUNTER = 2.6
"""Radius of the ring round an item's number, mm."""

ROUND = frozenset({"turn", "screw-in", "drive"})
"""Done by turning; the rest is pushed or knocked in along the axis."""


@dataclass(frozen=True, kw_only=True)
class Window:
    """A detail as it is drawn, round (0, 0).

    ``hidden``: its pieces cannot be seen in the main drawing.
    """

    shapes: tuple[Primitive, ...]
    radius: float
    scale: float
    hidden: bool


def spot(detail: Detail, plate: Plate, subject: Subject) -> Vec3:
    """Return the place in the main drawing that a detail magnifies."""
    ends = ends_of(detail.ringed, plate, plate.apart, subject)
    return scaled(add(ends[0], ends[2]), 0.5)


def draw_detail(detail: Detail, plate: Plate, subject: Subject) -> Window:
    """Return a detail round (0, 0), without its caption."""
    largest = LARGEST_ROW if len(detail.states) > 1 else LARGEST
    if largest < detail.reach * LEGIBLE <= LARGEST_ROW:
        largest = LARGEST_ROW
    scale = next((s for s in SCALES if detail.reach * s <= largest), SCALES[-1])
    radius = min(largest, max(SMALLEST, detail.reach * scale))
    close = detail.view.at_scale(scale)
    x, y, _ = close.project(detail.centre)
    apart = detail_apart(plate, detail.turned)
    bodies = step_bodies(
        subject,
        plate.state,
        apart,
        scale=scale,
        near=(detail.centre, 1.7 * radius / scale + 20),
        handled="hardware",
    )
    bodies = tuple(
        _lines_near(body, close, (x, y), radius + 1)
        for body in (*bodies, *wall_bodies(subject, plate.state))
        if _touches(close.bounds(body.corners()), (x, y), radius)
    )
    drawing = draw_bodies(bodies, close, step_wires(apart))
    window = Point(0.0, 0.0).buffer(radius, quad_segs=24)
    assert isinstance(window, Polygon)
    shapes: list[Primitive] = [Circle(centre=(0.0, 0.0), radius=radius, pen="frame", tone="paper")]
    shapes += clipped(moved(drawing.primitives(), (-x, -y)), window)
    shapes += _doing(detail, plate, subject, apart, close, (x, y), radius)
    shapes.append(Circle(centre=(0.0, 0.0), radius=radius, pen="frame"))
    return Window(
        shapes=tuple(shapes),
        radius=radius,
        scale=scale,
        hidden=is_hidden(detail, plate, subject),
    )


def ring_radius(window: Window, scale: float) -> float:
    """Return the radius of the ring in a drawing of that scale: what the window shows of it."""
    return min(4.5, max(1.8, 0.8 * window.radius / window.scale * scale))


def _lines_near(body: Body, view: View, centre: Vec2, reach: float) -> Body:
    """Return a body without the edges and marks that come no nearer to a place on paper."""
    form = body.form
    edges = range(form.edges_at, form.edges_at + 2 * len(form.edges), 2)
    starts = [*edges, *(span.start for span in form.mark_spans)]
    if not starts:
        return body
    off = view.project_many(body.points)[:, :2] - np.array(centre)
    near = (np.minimum.reduceat(off, starts) < reach).all(axis=1)
    near &= (np.maximum.reduceat(off, starts) > -reach).all(axis=1)
    return replace(body, drawn=np.asarray(near, dtype=bool))


def _touches(bounds: tuple[float, float, float, float], centre: Vec2, radius: float) -> bool:
    """Tell whether a box on paper comes near a window: what does not cannot hide anything."""
    x0, y0, x1, y1 = bounds
    x, y = centre
    return (
        x0 < x + radius + 1
        and x1 > x - radius - 1
        and (y0 < y + radius + 1 and y1 > y - radius - 1)
    )


def caption_width(detail: Detail) -> float:
    """Return the width of a detail's caption, mm."""
    pairs = [text_width(f"{c} ×", 3.5) + 9.0 for c in detail.counts.values()]
    return sum(pairs) + BETWEEN * (len(pairs) - 1) + 12.0


def draw_caption(
    detail: Detail, numbers: Mapping[str, int], at: Vec2, scale: float
) -> list[Primitive]:
    """Return the line beside a window: how many of which item, and the scale.

    Args:
        at: middle of the line, on the letters' foot.
    """
    ratio = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
    pieces: list[tuple[str, int | None, float]] = []
    total = 0.0
    for item, count in detail.counts.items():
        number = numbers.get(item)
        if pieces:
            total += BETWEEN
        width = text_width(f"{count} ×", 3.5) + 1.0
        pieces.append((f"{count} ×", number, width))
        total += width + 2 * COUNTER + 2.0
    total += 1.0 + text_width(ratio, 2.5)
    x, y = at[0] - total / 2, at[1]
    shapes: list[Primitive] = []
    for n, (text, number, width) in enumerate(pieces):
        x += BETWEEN if n else 0.0
        shapes.append(Text(at=(x, y), text=text, size=3.5, anchor="start", bold=True))
        x += width + COUNTER
        if number is not None:
            shapes.append(Circle(centre=(x, y - 1.75), radius=COUNTER, pen="label", tone="label"))
            shapes.append(Text(at=(x, y - 0.5), text=str(number), size=2.5))
        x += COUNTER + 2.0
    shapes.append(Text(at=(x + 1.0, y), text=ratio, size=2.5, anchor="start"))
    return shapes


def _doing(
    detail: Detail,
    plate: Plate,
    subject: Subject,
    apart: Apart,
    view: View,
    middle: Vec2,
    radius: float,
) -> list[Primitive]:
    """Return the arrow that says how the outermost piece goes in or is locked."""
    last = outermost(detail.states, plate)
    one = plate.state.items[last]
    item = subject.catalogue.items[one.item.item]
    if one.adjusted:
        return []
    action = action_of(subject.joinery, one.fastener, one.item.item)
    out = one.operation is not None and one.operation.kind is OperationKind.UNDO
    frame = item_frame(one, apart.items[last])
    top = max(p.z1 for p in item.pieces)
    if not one.new:
        top = max(top, apart.mouths[last])
    doing = "turn" if one.turned else action.do if action is not None else "insert"
    if doing == "turn" and one.new:
        doing = "insert"
    head = max((p for p in item.pieces), key=lambda p: p.z1)
    wide = max(head.d0, head.d1 or 0.0)

    def on_paper(p: Vec3) -> Vec2:
        x, y, _ = view.project(p)
        return (x - middle[0], y - middle[1])

    if doing in ROUND:
        path = round_path(frame, top, max(0.85 * wide, 4.5 / view.scale), view)
        return line_arrow([on_paper(p) for p in (reversed(path) if out else path)])
    others = []
    for n in detail.states:
        if n != last:
            _, foot, tip = ends_of(n, plate, apart, subject)
            others.append((on_paper(foot), on_paper(tip)))
    upper = on_paper(frame.point_to_outer((0.0, 0.0, top)))
    return push_arrow(frame, wide, view, upper, radius, others, out=out)


def is_hidden(detail: Detail, plate: Plate, subject: Subject) -> bool:
    """Tell whether the pieces of a detail cannot be seen in the main drawing."""
    return share_seen(detail.states, plate, plate.apart, subject, plate.view) < 0.2


def ring(
    centre: Vec2, radius: float, window: Vec2, window_radius: float, *, hidden: bool
) -> Sequence[Primitive]:
    """Return the ring round the place in the drawing and the leader to its window.

    A place that lies behind something gets a dashed ring.
    """
    dx, dy = window[0] - centre[0], window[1] - centre[1]
    size = math.hypot(dx, dy) or 1.0
    ux, uy = dx / size, dy / size
    return (
        Circle(centre=centre, radius=radius, pen="hidden" if hidden else "leader"),
        Line(
            points=(
                (centre[0] + ux * radius, centre[1] + uy * radius),
                (window[0] - ux * window_radius, window[1] - uy * window_radius),
            ),
            pen="leader",
        ),
    )
