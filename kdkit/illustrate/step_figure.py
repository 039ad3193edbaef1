"""The picture of one step.

Takes a step's state, gives a figure: parts apart along their true way, hardware along its
axes, guide lines, arrows, magnified details, letters. Composed on paper in millimetres
and cropped to what is there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2
from kdkit.illustrate.alternative_text import describe_step
from kdkit.illustrate.arrows import band_arrow
from kdkit.illustrate.build_state import StepState
from kdkit.illustrate.detail import (
    CAPTION,
    Detail,
    caption_width,
    draw_caption,
    draw_detail,
    is_hidden,
    pick_details,
    ring,
    spot,
)
from kdkit.illustrate.figure import Figure, Primitive
from kdkit.illustrate.glue import drop_places, glue_drops
from kdkit.illustrate.hidden import Drawing, draw_bodies
from kdkit.illustrate.layout import Block, place_blocks
from kdkit.illustrate.letters import BALL, Named, draw_letters
from kdkit.illustrate.paper import extent, moved, scaled_drawing, silhouette
from kdkit.illustrate.plates import Plate, lay_plates, plate_bounds
from kdkit.illustrate.scene import Workshop, scene_bodies, scene_wires
from kdkit.illustrate.style import Style
from kdkit.illustrate.travel_arrows import travel_arrows
from kdkit.illustrate.turning import square_inset, turning_inset, turning_shapes
from kdkit.illustrate.view import View, Viewpoint
from kdkit.illustrate.wall import wall_bodies
from kdkit.plan.plan import OperationKind, Posture
from kdkit.schedule.schedules import Schedules

__all__ = ["HIGHEST", "WIDEST", "StepPicture", "draw_step"]

WIDEST, HIGHEST = 170.0, 108.0
"""The largest step figure, mm; most are smaller."""

LARGEST = 0.25
"""Largest scale of a step, 1 : 4."""

BENCH_LENGTH = 98.0
"""The longest part of a product on the bench, mm; shorter ones keep the scale."""

BENCH_LARGEST = 0.17
"""Largest scale on the bench, about 1 : 6; details show what is small."""

BETWEEN, OVER = 9.0, 15.0
"""White between two plates, and before one that shows a part turned over, mm."""


@dataclass(frozen=True, kw_only=True)
class StepPicture:
    """A step's figure and what the next one starts from."""

    figure: Figure
    plates: tuple[Plate, ...]
    drawings: tuple[Drawing, ...]


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
    room = (WIDEST - 2 * (BALL + 4.0), HIGHEST - 2 * (BALL + 4.0))
    largest = LARGEST
    if state.bench:
        longest = max(max(p[0] for p in part.outline) for part in shop.assembly.parts)
        largest = min(BENCH_LARGEST, BENCH_LENGTH / longest)
    plates, scale = lay_plates(shop, state, last, room, largest)
    title, description = describe_step(state, shop.assembly, schedules, plates[0].view)
    only_turned = all(
        o.kind in (OperationKind.TURN, OperationKind.STAND) for o in state.operations
    )
    if only_turned and before is not None and before is not state.step.posture:
        shapes = list(turning_shapes(shop, state.parts, before, state.step.posture, size=52.0))
        return StepPicture(
            figure=crop(shapes, style.margin, title, description), plates=plates, drawings=()
        )
    details = pick_details(plates, shop)
    windows = [draw_detail(detail, plates[detail.plate], shop) for detail in details]
    insets = [i for i in (turning_inset(shop, state, before), square_inset(shop, state)) if i]
    allowed = (WIDEST - 2 * style.margin, HIGHEST - 2 * style.margin)
    shapes = []
    drawings: tuple[Drawing, ...] = ()
    drawn_at = scale
    once = [
        draw_bodies(
            (
                *scene_bodies(shop, plate.state, plate.apart, scale=scale),
                *wall_bodies(shop, plate.state),
            ),
            plate.view.at_scale(scale),
            scene_wires(plate.apart),
        )
        for plate in plates
    ]
    for _ in range(6):
        placed = _set_out(shop, plates, scale)
        drawings = tuple(
            scaled_drawing(drawing, view.origin, scale / drawn_at)
            for drawing, view in zip(once, placed, strict=True)
        )
        shapes = [shape for drawing in drawings for shape in drawing.primitives()]
        for plate, view in zip(plates, placed, strict=True):
            glue = (shop, plate.state, plate.apart, plate.shown, view)
            shapes += travel_arrows(plate, view, shop, drop_places(*glue))
            shapes += glue_drops(*glue)
            if plate.over:
                shapes += _over_arrow(shop, plate, view)
        shapes += _set_blocks(
            shop, shapes, plates, placed, details, windows, insets, schedules, allowed
        )
        shapes += draw_letters(_named(plates, drawings, schedules), shapes)
        x0, y0, x1, y1 = extent(shapes)
        over = max((x1 - x0) / allowed[0], (y1 - y0) / allowed[1])
        if over <= 1.0:
            break
        scale *= max(0.6, 0.97 / over)
    return StepPicture(
        figure=crop(shapes, style.margin, title, description), plates=plates, drawings=drawings
    )


def crop(
    shapes: Sequence[Primitive], margin: float, title: str, description: str
) -> Figure:
    """Return the primitives as a figure with even white round them."""
    x0, y0, x1, y1 = extent(shapes)
    return Figure(
        width=x1 - x0 + 2 * margin,
        height=y1 - y0 + 2 * margin,
        primitives=moved(shapes, (margin - x0, margin - y0)),
        title=title,
        description=description,
    )


def _set_out(shop: Workshop, plates: Sequence[Plate], scale: float) -> tuple[View, ...]:
    """Return the view of each plate in its place: rows from the left, as wide as allowed."""
    views: list[View] = []
    x = y = row = 0.0
    for plate in plates:
        view = plate.view.at_scale(scale)
        x0, y0, x1, y1 = plate_bounds(shop, plate.state, plate.apart, view)
        if plate.over:
            x, y, row = 0.0, y + row + OVER, 0.0
        elif x > 0 and x + x1 - x0 > WIDEST - 2 * (BALL + 4.0):
            x, y, row = 0.0, y + row + BETWEEN, 0.0
        views.append(view.placed((x - x0, y - y0)))
        x += x1 - x0 + BETWEEN
        row = max(row, y1 - y0)
    return tuple(views)


def _over_arrow(shop: Workshop, plate: Plate, view: View) -> list[Primitive]:
    """Return the arrow from a part to the same part turned over, drawn below it."""
    x0, y0, x1, _ = plate_bounds(shop, plate.state, plate.apart, view)
    x = x0 + 0.3 * (x1 - x0)
    top, bottom = y0 - OVER + 1.5, y0 + 4.5
    middle, high = (top + bottom) / 2, (bottom - top) / 2
    path = [
        (x + 3.4 * math.sin(math.pi * n / 12), middle - high * math.cos(math.pi * n / 12))
        for n in range(13)
    ]
    return band_arrow(path, width=1.4)


def _set_blocks(
    shop: Workshop,
    shapes: Sequence[Primitive],
    plates: Sequence[Plate],
    placed: Sequence[View],
    details: Sequence[Detail],
    windows: Sequence[tuple[tuple[Primitive, ...], float, float]],
    insets: Sequence[tuple[Primitive, ...]],
    schedules: Schedules,
    allowed: Vec2,
) -> list[Primitive]:
    """Return details and insets in free places beside the drawing."""
    numbers = {line.item: line.number for line in schedules.hardware}
    drawn = silhouette(shapes)
    blocks = []
    spots: list[Vec2] = []
    for detail, (_, radius, _) in zip(details, windows, strict=True):
        x, y, _ = placed[detail.plate].project(spot(detail, plates[detail.plate], shop))
        spots.append((x, y))
        blocks.append(
            Block(
                width=max(2 * radius, caption_width(detail)), height=2 * radius + CAPTION,
                anchor=(x, y),
            )
        )
    for inset in insets:
        x0, y0, x1, y1 = extent(inset)
        blocks.append(
            Block(width=x1 - x0, height=y1 - y0, anchor=(drawn.bounds[0], drawn.bounds[1]))
        )
    centres = place_blocks(blocks, drawn, widest=allowed[0], highest=allowed[1])
    result: list[Primitive] = []
    for n, (detail, (picture, radius, detail_scale)) in enumerate(
        zip(details, windows, strict=True)
    ):
        x, y = centres[n]
        over = spots[n][1] >= y  # the leader comes from below: caption over the window
        centre = (x, y + CAPTION / 2 if over else y - CAPTION / 2)
        foot = centre[1] - radius - 2.0 if over else centre[1] + radius + 5.2
        reach = radius / detail_scale * placed[detail.plate].scale
        result += ring(
            spots[n], min(4.5, max(1.8, 0.8 * reach)), centre, radius,
            hidden=is_hidden(detail, plates[detail.plate], shop),
        )
        result += moved(picture, centre)
        result += draw_caption(detail, numbers, (x, foot), detail_scale)
    for inset, (cx, cy) in zip(insets, centres[len(details) :], strict=True):
        x0, y0, x1, y1 = extent(inset)
        result += moved(inset, (cx - (x0 + x1) / 2, cy - (y0 + y1) / 2))
    return result


def _named(
    plates: Sequence[Plate],
    drawings: Sequence[Drawing],
    schedules: Schedules,
) -> list[tuple[Named, Drawing]]:
    return [
        (
            Named(
                part=part, letter=schedules.letter_of(part), times=plate.state.times.get(part, 1)
            ),
            drawing,
        )
        for plate, drawing in zip(plates, drawings, strict=True)
        for part in plate.state.new
    ]
