"""The picture of one step.

Takes a step's state, gives a figure: parts apart along their true way, hardware along its
axes, guide lines, arrows, magnified details, letters. Composed on paper in millimetres
and cropped to what is there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from kdkit.frames import Vec2, Vec3, add
from kdkit.illustrate.alternative_text import describe_step
from kdkit.illustrate.arrows import straight_arrow
from kdkit.illustrate.build_state import StepState
from kdkit.illustrate.choose_view import Shown, ShownPart, choose_look
from kdkit.illustrate.detail import CAPTION, draw_detail, pick_details, ring
from kdkit.illustrate.explode import Apart, move_apart
from kdkit.illustrate.figure import Circle, Figure, Line, Primitive, Text
from kdkit.illustrate.hidden import Drawing, draw_bodies
from kdkit.illustrate.labels import Label, PlacedLabel, place_labels, text_width, visible_point
from kdkit.illustrate.layout import Block, place_blocks
from kdkit.illustrate.paper import extent, moved, silhouette
from kdkit.illustrate.scene import Workshop, scene_bodies, scene_wires
from kdkit.illustrate.style import Style
from kdkit.illustrate.turning import turning_inset
from kdkit.illustrate.view import View, Viewpoint
from kdkit.plan.plan import Posture
from kdkit.schedule.schedules import Schedules

__all__ = ["HIGHEST", "WIDEST", "StepPicture", "draw_step"]

WIDEST, HIGHEST = 170.0, 108.0
"""The largest step figure, mm; most are smaller."""

BALL = 3.6
"""Radius of a letter's balloon, mm."""


@dataclass(frozen=True, kw_only=True)
class StepPicture:
    """A step's figure and what the next one starts from."""

    figure: Figure
    look: Viewpoint
    posture: Posture
    apart: Apart
    view: View


def draw_step(
    shop: Workshop,
    state: StepState,
    schedules: Schedules,
    style: Style,
    last: Viewpoint | None,
    before: Posture | None,
) -> StepPicture:
    """Return the picture of a step.

    Args:
        shop: parts, joinery, catalogue.
        state: what stands in the picture.
        schedules: letters and numbers.
        style: for its margin.
        last: the look of the step before, None for the first.
        before: how the work lay before this step, None when it did not exist.
    """
    posture = state.step.posture
    items = shop.catalogue.items
    first = move_apart(state, shop.assembly, shop.joinery, items, gap=120.0, item_gap=25.0)
    look = choose_look(_shown(shop, state, first), posture, last)
    view = View(viewpoint=look, posture=posture)
    scale = _fitting_scale(shop, state, first, view)
    apart = move_apart(
        state, shop.assembly, shop.joinery, items,
        gap=max(40.0, 11.0 / scale), item_gap=max(10.0, 3.0 / scale),
    )
    shown = _shown(shop, state, apart)
    details_apart = move_apart(
        state, shop.assembly, shop.joinery, items,
        gap=max(40.0, 11.0 / scale), item_gap=9.0,
    )
    scale = _fitting_scale(shop, state, apart, view)
    details = pick_details(state, details_apart, shown, view, shop)
    numbers = {line.item: line.number for line in schedules.hardware}
    windows = [
        draw_detail(
            detail, shop, state, details_apart, view,
            number=numbers.get(state.items[detail.state].item.item), times=detail.count,
        )
        for detail in details
    ]
    inset = turning_inset(shop, state, before)
    shapes: list[Primitive] = []
    for _ in range(6):
        view = view.at_scale(scale)
        drawing = draw_bodies(
            scene_bodies(shop, state, apart, scale=scale), view, scene_wires(apart)
        )
        shapes = list(drawing.primitives())
        shapes += _travel_arrows(apart, view)
        drawn = silhouette(shapes)
        blocks = []
        for detail, (_, radius, _) in zip(details, windows, strict=True):
            x, y, _ = view.project(_spot(detail.state, state, apart))
            blocks.append(
                Block(width=2 * radius, height=2 * radius + 2 * CAPTION, anchor=(x, y))
            )
        if inset:
            x0, y0, x1, y1 = extent(inset)
            bounds = drawn.bounds
            blocks.append(
                Block(width=x1 - x0, height=y1 - y0, anchor=(bounds[0], bounds[1]))
            )
        centres = place_blocks(
            blocks, drawn, widest=WIDEST - 2 * style.margin, highest=HIGHEST - 2 * style.margin
        )
        for detail, (picture, radius, detail_scale), centre in zip(
            details, windows, centres, strict=False
        ):
            x, y, _ = view.project(_spot(detail.state, state, apart))
            shapes += ring((x, y), max(1.6, radius / detail_scale * scale * 0.6), centre, radius)
            shapes += moved(picture, centre)
        if inset:
            x0, y0, x1, y1 = extent(inset)
            cx, cy = centres[-1]
            shapes += moved(inset, (cx - (x0 + x1) / 2, cy - (y0 + y1) / 2))
        shapes += _letters(state, schedules, drawing, shapes)
        x0, y0, x1, y1 = extent(shapes)
        over = max(
            (x1 - x0) / (WIDEST - 2 * style.margin), (y1 - y0) / (HIGHEST - 2 * style.margin)
        )
        if over <= 1.0:
            break
        scale *= max(0.6, 0.97 / over)
    title, description = describe_step(state, shop.assembly, schedules, view)
    figure = crop(shapes, style.margin, title, description)
    return StepPicture(figure=figure, look=look, posture=posture, apart=apart, view=view)


def crop(shapes: list[Primitive], margin: float, title: str, description: str) -> Figure:
    """Return the primitives as a figure with even white round them."""
    x0, y0, x1, y1 = extent(shapes)
    return Figure(
        width=x1 - x0 + 2 * margin,
        height=y1 - y0 + 2 * margin,
        primitives=moved(shapes, (margin - x0, margin - y0)),
        title=title,
        description=description,
    )


def _spot(n: int, state: StepState, apart: Apart) -> Vec3:
    """Return the place in the main drawing that a detail magnifies."""
    one = state.items[n]
    mouth = add(one.item.frame.origin, apart.parts[one.host])
    there = add(one.item.frame.origin, apart.items[n])
    return (
        (mouth[0] + there[0]) / 2,
        (mouth[1] + there[1]) / 2,
        (mouth[2] + there[2]) / 2,
    )


def _shown(shop: Workshop, state: StepState, apart: Apart) -> Shown:
    marks: list[tuple[Vec3, Vec3]] = []
    for one, shift in zip(state.items, apart.items, strict=True):
        if one.new or one.turned:
            k = one.item.frame.k
            marks.append((add(one.item.frame.origin, apart.parts[one.host]), k))
            marks.append((add(one.item.frame.origin, shift), k))
    moving = {p for travel in apart.travels for p in travel.parts}
    for bore in shop.joinery.bores:
        if bore.part not in apart.parts or bore.spare:
            continue
        fastener = next((f for f in shop.joinery.fasteners if f.id == bore.fastener), None)
        if fastener is None or not {fastener.butting, fastener.receiving} & moving:
            continue
        frame = shop.assembly.part(bore.part).frame
        out = frame.vector_to_outer(bore.into)
        marks.append(
            (
                add(frame.point_to_outer(bore.mouth), apart.parts[bore.part]),
                (-out[0], -out[1], -out[2]),
            )
        )
    parts = tuple(
        ShownPart(part=shop.assembly.part(p), shift=apart.parts[p], new=p in state.new)
        for p in state.parts
    )
    return Shown(parts=parts, marks=tuple(marks))


def _corners(shop: Workshop, state: StepState, apart: Apart) -> list[Vec3]:
    corners = []
    for name in state.parts:
        part = shop.assembly.part(name)
        for x, y in part.outline:
            for z in (0.0, -part.thickness):
                corners.append(add(part.frame.point_to_outer((x, y, z)), apart.parts[name]))
    for one, shift in zip(state.items, apart.items, strict=True):
        if one.new:
            top = max(p.z1 for p in shop.catalogue.items[one.item.item].pieces)
            corners.append(add(one.item.frame.point_to_outer((0.0, 0.0, top)), shift))
    return corners


def _fitting_scale(shop: Workshop, state: StepState, apart: Apart, view: View) -> float:
    """Return the scale at which everything but details fits, never above 1 : 2."""
    x0, y0, x1, y1 = view.at_scale(1.0).bounds(_corners(shop, state, apart))
    room = 2 * (BALL + 4.0)
    return min(0.5, (WIDEST - room) / (x1 - x0), (HIGHEST - room) / (y1 - y0))


def _travel_arrows(apart: Apart, view: View) -> list[Primitive]:
    shapes: list[Primitive] = []
    for travel in apart.travels:
        (sx, sy, _), (ex, ey, _) = view.project(travel.start), view.project(travel.end)
        length = math.hypot(ex - sx, ey - sy)
        if length < 5.0:
            continue
        reach = min(0.7, 12.0 / length)
        a = (sx + (ex - sx) * (0.5 - reach / 2), sy + (ey - sy) * (0.5 - reach / 2))
        b = (sx + (ex - sx) * (0.5 + reach / 2), sy + (ey - sy) * (0.5 + reach / 2))
        shapes += straight_arrow(a, b, width=1.8)
    return shapes


def _letters(
    state: StepState, schedules: Schedules, drawing: Drawing, shapes: list[Primitive]
) -> list[Primitive]:
    """Return balloons with the letters of the new parts, and their leaders."""
    labels: list[Label] = []
    words: dict[str, tuple[str, str]] = {}
    named: Mapping[str, Polygon] = _visible(drawing, state.new)
    for part in state.new:
        letter = schedules.letter_of(part)
        point = visible_point(named[part]) if part in named else None
        if point is None:
            continue
        many = state.times.get(part, 1)
        before = f"{many} ×" if many > 1 else ""
        width = 2 * BALL + (text_width(before, 3.5) + 1.0 if before else 0.0)
        words[part] = (before, letter)
        labels.append(
            Label(
                key=part, anchors=(point,), width=width, height=2 * BALL,
                radius=0.0 if before else BALL,
            )
        )
    if not labels:
        return []
    ink = shapely.union_all(
        [shapely.linestrings(s.points) for s in drawing.strokes if len(s.points) > 1]
    )
    placed = place_labels(labels, silhouette(shapes), ink=ink)
    result: list[Primitive] = []
    for label in placed:
        result += _balloon(label, *words[label.key])
    return result


def _visible(drawing: Drawing, parts: tuple[str, ...]) -> Mapping[str, Polygon]:
    areas: dict[str, list[Polygon]] = {}
    for region in drawing.regions:
        if region.body in parts and not region.is_mark:
            areas.setdefault(region.body, []).append(
                Polygon(region.outer, region.holes).buffer(0)
            )
    return {name: shapely.union_all(some) for name, some in areas.items()}


def _balloon(label: PlacedLabel, before: str, letter: str) -> list[Primitive]:
    shapes: list[Primitive] = []
    if label.leader:
        shapes.append(Line(points=label.leader, pen="leader"))
        shapes.append(Circle(centre=label.anchor, radius=0.5, pen="leader", tone="arrow"))
    x1 = label.box[2]
    centre: Vec2 = (x1 - BALL, label.centre[1])
    if before:
        shapes.append(
            Text(
                at=(label.box[0], centre[1] + 1.75), text=before, size=3.5, anchor="start",
                bold=True,
            )
        )
    shapes.append(Circle(centre=centre, radius=BALL, pen="label", tone="label"))
    shapes.append(
        Text(at=(centre[0], centre[1] + 1.75), text=letter, size=3.5, bold=True)
    )
    return shapes
