"""Magnified details: one round window for each kind of hardware that a step handles.

A detail is a drawing of its own by the same kernel, from the same bodies, in the same
view; only the scale differs and the window cuts it off.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Point, Polygon

from kdkit.catalogue.entries import Item
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled
from kdkit.illustrate.arrows import band_arrow
from kdkit.illustrate.build_state import StepState, action_of
from kdkit.illustrate.choose_view import Shown, sees
from kdkit.illustrate.explode import Apart, item_frame
from kdkit.illustrate.figure import Circle, Line, Primitive, Text
from kdkit.illustrate.hidden import draw_bodies
from kdkit.illustrate.labels import text_width
from kdkit.illustrate.paper import clipped, moved
from kdkit.illustrate.scene import Workshop, scene_bodies, scene_wires
from kdkit.illustrate.view import View

__all__ = ["CAPTION", "Detail", "draw_detail", "pick_details"]

SCALES = (2.0, 1.0, 0.5, 0.2, 0.1)
"""Magnifications and reductions of ISO 5455, as far as a detail needs them."""

LARGEST, SMALLEST = 16.5, 11.0
"""Radius of a detail's window on paper, mm."""

CAPTION = 6.5
"""Height of the line over a detail's window, mm."""

ROUND = frozenset({"turn", "screw-in", "drive"})
"""Done by turning; the rest is pushed or knocked in along the axis."""


@dataclass(frozen=True, kw_only=True)
class Detail:
    """What a detail shows.

    Args:
        key: of the item and what is done with it.
        state: index in ``StepState.items`` of the piece shown, one of ``count``.
        centre: middle of the neighbourhood in the picture's places.
        reach: radius of the neighbourhood, mm of product.
    """

    key: str
    state: int
    count: int
    centre: Vec3
    reach: float


def pick_details(
    state: StepState, apart: Apart, shown: Shown, view: View, shop: Workshop
) -> tuple[Detail, ...]:
    """Return one detail for each kind of hardware handled, the best visible piece each."""
    groups: dict[tuple[str, str], list[int]] = {}
    for n, one in enumerate(state.items):
        if one.new or one.turned:
            groups.setdefault((one.item.item, "new" if one.new else "turned"), []).append(n)
    details = []
    for (item, doing), members in groups.items():
        piece = shop.catalogue.items[item]
        best = max(members, key=lambda n: (*_ease(n, state, apart, shown, view, piece), -n))
        frame = item_frame(state.items[best], apart.items[best])
        low, high = min(p.z0 for p in piece.pieces), max(p.z1 for p in piece.pieces)
        mouth_z = dot(
            add(state.items[best].item.frame.origin, apart.parts[state.items[best].host]), frame.k
        ) - dot(frame.origin, frame.k)
        bottom, top = min(mouth_z, low, 0.0), max(high, 0.0)
        wide = max(max(p.d0, p.d1 or 0.0) for p in piece.pieces)
        centre = frame.point_to_outer((0.0, 0.0, (bottom + top) / 2))
        along = (top - bottom) / 2 * math.sqrt(max(0.0, 1 - dot(frame.k, view.toward) ** 2))
        reach = max(along + 0.3 * wide + 4.0, 1.6 * wide)
        details.append(
            Detail(
                key=f"{item}/{doing}", state=best, count=len(members), centre=centre, reach=reach
            )
        )
    return tuple(details)


def _ease(
    n: int, state: StepState, apart: Apart, shown: Shown, view: View, item: Item
) -> tuple[float, float]:
    """Return how well a piece is seen (0 to 2), then how near it is to the viewer."""
    one = state.items[n]
    frame = item_frame(one, apart.items[n])
    top = max(p.z1 for p in item.pieces)
    mouth = add(one.item.frame.origin, apart.parts[one.host])
    points = [add(mouth, scaled(frame.k, 1.0)), frame.point_to_outer((0.0, 0.0, top + 1.0))]
    seen = float(sum(sees(points, view.toward, shown.parts)))
    return seen, round(dot(frame.origin, view.toward), 3)


def draw_detail(
    detail: Detail,
    shop: Workshop,
    state: StepState,
    apart: Apart,
    view: View,
    *,
    number: int | None,
    times: int,
) -> tuple[tuple[Primitive, ...], float, float]:
    """Return a detail round (0, 0), the radius of its window, and its scale.

    Args:
        number: of the item in the hardware list.
        times: how many of it the picture shows.
    """
    scale = next((s for s in SCALES if detail.reach * s <= LARGEST), SCALES[-1])
    radius = min(LARGEST, max(SMALLEST, detail.reach * scale))
    close = view.at_scale(scale)
    x, y, _ = close.project(detail.centre)
    bodies = scene_bodies(
        shop, state, apart, scale=scale, near=(detail.centre, 1.7 * radius / scale + 20)
    )
    drawing = draw_bodies(bodies, close, scene_wires(apart))
    window = Point(0.0, 0.0).buffer(radius, quad_segs=24)
    assert isinstance(window, Polygon)
    shapes: list[Primitive] = [Circle(centre=(0.0, 0.0), radius=radius, pen="frame", tone="paper")]
    shapes += clipped(moved(drawing.primitives(), (-x, -y)), window)
    shapes += _doing(detail, shop, state, apart, close, (x, y), radius)
    shapes.append(Circle(centre=(0.0, 0.0), radius=radius, pen="frame"))
    shapes += _caption(number, times, radius, scale)
    return tuple(shapes), radius, scale


def _caption(number: int | None, times: int, radius: float, scale: float) -> list[Primitive]:
    """Return the line over the window: how many of which item; under it the scale."""
    y = -radius - 1.6
    ratio = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
    shapes: list[Primitive] = []
    count = f"{times} ×"
    if number is not None:
        size = 3.5
        ball = 2.6 if number < 10 else 3.0
        width = text_width(count, size)
        left = -(width + 1.0 + 2 * ball) / 2
        shapes.append(Text(at=(left, y), text=count, size=size, anchor="start", bold=True))
        centre = (left + width + 1.0 + ball, y - size / 2)
        shapes.append(Circle(centre=centre, radius=ball, pen="label", tone="label"))
        shapes.append(Text(at=(centre[0], centre[1] + 1.25), text=str(number), size=2.5))
    shapes.append(Text(at=(0.0, radius + 3.6), text=ratio, size=2.5))
    return shapes


def _doing(
    detail: Detail,
    shop: Workshop,
    state: StepState,
    apart: Apart,
    view: View,
    middle: Vec2,
    radius: float,
) -> list[Primitive]:
    """Return the arrow that says how the piece goes in or is locked."""
    one = state.items[detail.state]
    item = shop.catalogue.items[one.item.item]
    action = action_of(shop.joinery, one.fastener, one.item.item)
    frame = item_frame(one, apart.items[detail.state])
    top = max(p.z1 for p in item.pieces)
    doing = "turn" if one.turned else action.do if action is not None else "insert"
    if doing == "turn" and one.new:
        doing = "insert"
    wide = max(max(p.d0, p.d1 or 0.0) for p in item.pieces)

    def on_paper(p: Vec3) -> Vec2:
        x, y, _ = view.project(p)
        return (x - middle[0], y - middle[1])

    if doing in ROUND:
        path = _round_path(frame, top, max(0.8 * wide, 4.5 / view.scale), view)
        return band_arrow([on_paper(p) for p in path], width=0.9)
    return _push_arrow(frame, top, wide, view, on_paper(frame.point_to_outer((0, 0, top))), radius)


def _round_path(frame: Frame, top: float, around: float, view: View) -> list[Vec3]:
    """Return three quarters of a circle about the axis, clockwise seen on the head."""
    z = top + 0.5
    side = cross(frame.k, view.toward)
    start = math.atan2(dot(side, frame.j), dot(side, frame.i))
    return [
        frame.point_to_outer(
            (around * math.cos(start - a), around * math.sin(start - a), z)
        )
        for a in (math.radians(15 + 250 * n / 20) for n in range(21))
    ]


def _push_arrow(
    frame: Frame, top: float, wide: float, view: View, head: Vec2, radius: float
) -> list[Primitive]:
    """Return a short arrow beside the piece, along the way it goes in."""
    dx, dy = view.direction(scaled(frame.k, -1.0))
    size = math.hypot(dx, dy)
    if size < 0.25 * view.scale:
        return []
    dx, dy = dx / size, dy / size
    off = wide * view.scale / 2 + 2.2
    nx, ny = -dy * off, dx * off
    start = (head[0] + nx, head[1] + ny)
    end = (start[0] + dx * 6.0, start[1] + dy * 6.0)
    if max(math.hypot(*start), math.hypot(*end)) > radius - 0.5:
        start = (head[0] - nx, head[1] - ny)
        end = (start[0] + dx * 6.0, start[1] + dy * 6.0)
    return band_arrow((start, end), width=0.8)


def ring(centre: Vec2, radius: float, window: Vec2, window_radius: float) -> Sequence[Primitive]:
    """Return the ring round the place in the drawing and the leader to its window."""
    dx, dy = window[0] - centre[0], window[1] - centre[1]
    size = math.hypot(dx, dy) or 1.0
    ux, uy = dx / size, dy / size
    return (
        Circle(centre=centre, radius=radius, pen="leader"),
        Line(
            points=(
                (centre[0] + ux * radius, centre[1] + uy * radius),
                (window[0] - ux * window_radius, window[1] - uy * window_radius),
            ),
            pen="leader",
        ),
    )
