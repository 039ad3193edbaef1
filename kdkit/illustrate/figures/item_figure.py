"""Hardware at true size: a side view lying down, and an end view where a drive shows.

Takes one catalogue item, gives a figure whose millimetres on paper are the item's own, so
that a buyer can lay the piece on the page. Drawn straight from the item's pieces: a body
of revolution has an exact side view without any projection.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from kdkit.catalogue.alike import how_far_apart
from kdkit.catalogue.entries import Catalogue, Item, Piece
from kdkit.frames import Vec2
from kdkit.illustrate.bodies.hardware import lens_outline
from kdkit.illustrate.figures.item_views import aslant, item_views
from kdkit.illustrate.paper.dimension import draw_dimension
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line, Primitive
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.joinery.placed import Joinery
from kdkit.schedule.schedules import Schedules

__all__ = ["draw_hardware", "draw_item", "drive_recess", "item_length", "item_width"]

MARGIN = 1.0
"""White round the item, mm, so that half a pen's width is never cut off."""

WIDEST = 84.0
"""An item longer or wider than this on paper (mm) is drawn at a reduced scale, and says so."""

REDUCTIONS = (1, 2, 5, 10, 20, 50)
"""Source: recommended reductions of ISO 5455, from memory."""

_LONG = 3.0  # times as long as wide, from which a flat piece is laid across

SMALL = (26.0, 12.0)
"""The room of an item beside a step, mm."""

BETWEEN = 4.0
"""From the side view to the end view, mm."""


DIMENSION = 2.2
"""From an item to its dimension lines, mm."""

_TOLD = 0.05  # mm; a smaller difference is none


def item_length(item: Item) -> float:
    """Return the length along the item's axis, mm."""
    return max(p.z1 for p in item.pieces) - min(p.z0 for p in item.pieces)


def item_width(item: Item) -> float:
    """Return the largest size across the axis as the side view shows it, mm."""
    return max(_width(piece) for piece in item.pieces)


def draw_hardware(
    catalogue: Catalogue, joinery: Joinery, schedules: Schedules
) -> Mapping[str, Figure]:
    """Return each item of the hardware list, large under ``item-``, small under ``small-``."""
    turned = {
        action.item
        for fitting in joinery.fittings.values()
        for action in fitting.actions
        if action.do == "turn"
    }
    figures: dict[str, Figure] = {}
    for line in schedules.hardware:
        item = catalogue.items[line.item]
        locks = line.item in turned
        whole = draw_item(item, turned=locks)
        size = max(whole.width, whole.height)
        reduction = next((r for r in REDUCTIONS if size / r <= WIDEST), REDUCTIONS[-1])
        drawn = draw_item(item, turned=locks, scale=1 / reduction)
        others = [catalogue.items[o.item] for o in schedules.hardware if o.item != line.item]
        figures[f"item-{line.item}"] = _dimensioned(drawn, item, others, 1 / reduction)
        share = 1.0
        for _ in range(5):  # the white round an item does not shrink with it
            small = _draw_small(item, locks, share)
            share *= min(1.0, SMALL[0] / small.width, SMALL[1] / small.height)
        figures[f"small-{line.item}"] = _draw_small(item, locks, share)
    return figures


def _dimensioned(figure: Figure, item: Item, others: Sequence[Item], scale: float) -> Figure:
    """Return an item's figure with the measures that tell it from others of its shape.

    Its length stands under its side view, the width of its head before it.
    """
    apart = [a for o in others if o.kind == item.kind and (a := how_far_apart(item, o))]
    if item.look is not None or not apart:
        return figure
    by_length, by_width = (any(a[n] > _TOLD for a in apart) for n in (0, 1))
    length, width = item_length(item) * scale, item_width(item) * scale
    middle, head = figure.height / 2, (MARGIN, MARGIN + length)
    shapes: list[Primitive] = list(figure.primitives)
    if by_length:
        y = middle + width / 2 + DIMENSION
        shapes += draw_dimension((head[0], y), (head[1], y), f"{item_length(item):g}")
    if by_width:
        x = MARGIN - DIMENSION
        shapes += draw_dimension(
            (x, middle - width / 2), (x, middle + width / 2), f"{item_width(item):g}"
        )
    return replace(_framed(shapes, item, scale), title=figure.title)


def _draw_small(item: Item, locks: bool, scale: float) -> Figure:
    """Return an item's picture beside a step: with a look it is seen aslant alone."""
    if item.look is not None:
        return _framed(aslant(item, scale), item, scale)
    return draw_item(item, turned=locks, scale=scale)


def draw_item(item: Item, *, turned: bool, scale: float = 1.0) -> Figure:
    """Return an item, head to the left; flat pieces lie with their broad side in sight.

    Args:
        item: at least one piece.
        turned: it locks by a turn (a cam): the end view gets an arrow.
        scale: mm on paper for one mm; pens and white stay what they are.
    """
    if item.look is not None:
        shapes = item_views(
            item, scale, turned=turned, between=BETWEEN * min(1.0, 0.4 + 0.6 * scale)
        )
        return _framed(shapes, item, scale)
    item = _lying(_scaled(item, scale))
    length, width = item_length(item), item_width(item)
    z_top = max(p.z1 for p in item.pieces)
    primitives: list[Primitive] = []
    if all(p.kind == "box" for p in item.pieces):
        spans = [(p.at[1] - (p.d1 or p.d0) / 2, p.at[1] + (p.d1 or p.d0) / 2) for p in item.pieces]
        low, top = min(s[0] for s in spans), max(s[1] for s in spans)
        left = min(p.at[0] - p.d0 / 2 for p in item.pieces)
        wide, high = max(p.at[0] + p.d0 / 2 for p in item.pieces) - left, top - low
        axis = MARGIN - low
        for piece in sorted(item.pieces, key=lambda p: p.z1):
            primitives += _rim(piece, piece.d0, (MARGIN - left, axis))
        total = MARGIN + wide + BETWEEN
        for piece in sorted(item.pieces, key=_width):
            across = piece.d1 if piece.d1 is not None else piece.d0
            primitives += _side_view(
                piece.model_copy(update={"d0": across}), z_top, total, axis + piece.at[1]
            )
        total += length
    else:
        ends = item.drive is not None or turned or any(p.kind == "box" for p in item.pieces)
        high = max(width, _end_width(item)) if ends else width
        axis = MARGIN + high / 2
        for piece in sorted(item.pieces, key=_width):
            primitives += _side_view(piece, z_top, MARGIN, axis)
        total = MARGIN + length
        if ends:
            centre = (total + BETWEEN * min(1.0, 0.4 + 0.6 * scale) + high / 2, axis)
            primitives += _end_view(item, centre, turned)
            total = centre[0] + high / 2
    return Figure(
        width=total + MARGIN,
        height=high + 2 * MARGIN,
        primitives=tuple(primitives),
        title=f"{item.title} {item.size}".strip(),
        description="",
        scale=scale,
    )


def _framed(shapes: Sequence[Primitive], item: Item, scale: float) -> Figure:
    """Return shapes with white round them, as the figure of an item."""
    x0, y0, x1, y1 = extent(shapes)
    return Figure(
        width=x1 - x0 + 2 * MARGIN,
        height=y1 - y0 + 2 * MARGIN,
        primitives=tuple(moved(shapes, (MARGIN - x0, MARGIN - y0))),
        title=f"{item.title} {item.size}".strip(),
        description="",
        scale=scale,
    )


def _lying(item: Item) -> Item:
    """Return a long profile turned about its axis, so that its length lies across the page."""
    if any(p.kind != "box" for p in item.pieces):
        return item
    wide = max(p.d0 for p in item.pieces)
    if max(p.d1 or p.d0 for p in item.pieces) <= _LONG * wide:
        return item
    pieces = [
        p.model_copy(update={"d0": p.d1 or p.d0, "d1": p.d0, "at": (p.at[1], -p.at[0])})
        for p in item.pieces
    ]
    return item.model_copy(update={"pieces": type(item.pieces)(pieces)})


def _scaled(item: Item, scale: float) -> Item:
    """Return an item as large as it is on paper."""
    if scale == 1.0:
        return item
    pieces = [
        piece.model_copy(
            update={
                name: value * scale
                for name in ("z0", "z1", "d0", "d1")
                if (value := getattr(piece, name)) is not None
            }
            | {"at": (piece.at[0] * scale, piece.at[1] * scale)}
        )
        for piece in item.pieces
    ]
    return item.model_copy(update={"pieces": type(item.pieces)(pieces)})


def _width(piece: Piece) -> float:
    if piece.kind == "cone":
        return max(piece.d0, piece.d1 if piece.d1 is not None else piece.d0)
    return piece.d0


def _end_width(item: Item) -> float:
    return max(
        max(p.d0, p.d1 or 0)
        if p.kind == "box"
        else p.d0 * 2 / math.sqrt(3)
        if p.kind == "hexagon"
        else _width(p)
        for p in item.pieces
    )


def _side_view(piece: Piece, z_top: float, left: float, axis: float) -> list[Primitive]:
    """Return one piece seen from the side; the item's +z runs to the left."""
    x_head, x_tip = left + z_top - piece.z1, left + z_top - piece.z0
    if piece.kind == "lens":
        outline = tuple((left + z_top - z, axis + x) for x, z in lens_outline(piece))
        return [
            Area(outer=outline, tone="hardware"),
            Line(points=outline, pen="hardware", closed=True),
        ]
    r_tip = piece.d0 / 2
    r_head = (piece.d1 if piece.kind == "cone" and piece.d1 is not None else piece.d0) / 2
    corners = (
        (x_head, axis - r_head),
        (x_tip, axis - r_tip),
        (x_tip, axis + r_tip),
        (x_head, axis + r_head),
    )
    shapes: list[Primitive] = [Area(outer=corners, tone="hardware")]
    if piece.surface == "thread":
        shapes += _thread_lines(x_head, x_tip, r_head, r_tip, axis)
    elif piece.surface == "flutes":
        for share in (-0.75, -0.4, 0.0, 0.4, 0.75):
            y = axis + share * min(r_head, r_tip)
            inset = min(1.0, 0.05 * (x_tip - x_head))
            shapes.append(Line(points=((x_head + inset, y), (x_tip - inset, y)), pen="thin"))
    elif piece.kind == "hexagon":
        shapes.append(Line(points=((x_head, axis), (x_tip, axis)), pen="thin"))
    shapes.append(Line(points=corners, pen="hardware", closed=True))
    return shapes


def _thread_lines(
    x_head: float, x_tip: float, r_head: float, r_tip: float, axis: float
) -> list[Primitive]:
    """Return slanting lines across a threaded piece, about its pitch apart.

    Source:
        Pitch drawn as a fifth of the diameter, at least 0.9 mm so that the lines stay apart
        in print: common practice, no source.
    """
    pitch = max(0.9, 0.4 * max(r_head, r_tip))
    count = int((x_tip - x_head) / pitch)
    lines: list[Primitive] = []
    for n in range(1, count + 1):
        x = x_head + n * (x_tip - x_head) / (count + 1)
        share = (x - x_head) / (x_tip - x_head)
        r = r_head + share * (r_tip - r_head)
        slant = min(pitch / 2, x - x_head, x_tip - x)
        lines.append(
            Line(points=((x - slant / 2, axis + r), (x + slant / 2, axis - r)), pen="thin")
        )
    return lines


def _end_view(item: Item, centre: Vec2, turned: bool) -> list[Primitive]:
    """Return the item seen from its +z end: rims, drive, and the arrow of a cam."""
    shapes: list[Primitive] = []
    seen = 0.0
    rims: list[Primitive] = []
    top = 0.0
    for piece in sorted(item.pieces, key=lambda p: -p.z1):
        reach = _width(piece)
        if reach > seen + 0.05:
            rims += reversed(_rim(piece, reach, centre))
            top = top or reach
            seen = reach
    shapes += reversed(rims)
    head = top if not turned else seen
    outer = head / 2
    if item.drive:
        size = 0.5 * outer if turned else 0.62 * outer
        shapes += drive_recess(item.drive, centre, size)
    if turned:
        tip = outer * 0.92
        x, y = centre
        shapes.append(Line(points=((x + outer * 0.6, y), (x + tip, y)), pen="hardware"))
        shapes.append(
            Line(
                points=(
                    (x + tip - outer * 0.2, y - outer * 0.17),
                    (x + tip, y),
                    (x + tip - outer * 0.2, y + outer * 0.17),
                ),
                pen="hardware",
            )
        )
    return shapes


def _rim(piece: Piece, reach: float, centre: Vec2) -> list[Primitive]:
    """Return the outline of a piece seen from its end, filled."""
    x, y = centre
    if piece.kind == "hexagon":
        loop = _polygon(centre, reach / math.sqrt(3), 6, 0.0)
    elif piece.kind == "box":
        half_w, half_h = piece.d0 / 2, (piece.d1 or piece.d0) / 2
        x, y = x + piece.at[0], y + piece.at[1]
        loop = (
            (x - half_w, y - half_h),
            (x + half_w, y - half_h),
            (x + half_w, y + half_h),
            (x - half_w, y + half_h),
        )
    else:
        return [Circle(centre=centre, radius=reach / 2, pen="hardware", tone="hardware")]
    return [Area(outer=loop, tone="hardware"), Line(points=loop, pen="hardware", closed=True)]


def drive_recess(drive: str, centre: Vec2, radius: float) -> list[Primitive]:
    """Return the recess of a standard drive inside a circle of ``radius`` on paper.

    Args:
        drive: its name as the catalogue gives it ("cross recess Z2", "hexagon key 4",
            "hexalobular socket 20", "slotted").

    Source:
        Shapes of recesses after ISO 4757, ISO 2936 and ISO 10664, from memory, simplified.
    """
    x, y = centre
    if drive.startswith("hexagon"):
        return [Area(outer=_polygon(centre, radius * 0.85, 6, 0.0), tone="bore")]
    if drive.startswith("hexalobular"):
        return [Area(outer=_star(centre, radius * 0.9, radius * 0.62, 6), tone="bore")]
    arm = max(radius * 0.2, 0.3)
    flat = ((-radius, -arm), (radius, -arm), (radius, arm), (-radius, arm))
    if drive.startswith("slot"):
        return [Area(outer=tuple((x + a, y + b) for a, b in flat), tone="bore")]
    cross = (
        (-radius, -arm),
        (-arm, -arm),
        (-arm, -radius),
        (arm, -radius),
        (arm, -arm),
        (radius, -arm),
        (radius, arm),
        (arm, arm),
        (arm, radius),
        (-arm, radius),
        (-arm, arm),
        (-radius, arm),
    )
    shapes: list[Primitive] = [Area(outer=tuple((x + a, y + b) for a, b in cross), tone="bore")]
    if "Z" in drive:
        reach = radius * 0.62
        for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            shapes.append(
                Line(
                    points=((x + a * arm, y + b * arm), (x + a * reach, y + b * reach)),
                    pen="thin",
                )
            )
    return shapes


def _polygon(centre: Vec2, radius: float, corners: int, turn: float) -> tuple[Vec2, ...]:
    return tuple(
        (
            centre[0] + radius * math.cos(turn + 2 * math.pi * n / corners),
            centre[1] + radius * math.sin(turn + 2 * math.pi * n / corners),
        )
        for n in range(corners)
    )


def _star(centre: Vec2, outer: float, inner: float, lobes: int) -> tuple[Vec2, ...]:
    """Return a smooth star: the radius swings between inner and outer."""
    points = []
    for n in range(12 * lobes):
        turn = 2 * math.pi * n / (12 * lobes)
        radius = (outer + inner) / 2 + (outer - inner) / 2 * math.cos(lobes * turn)
        points.append((centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)))
    return tuple(points)
