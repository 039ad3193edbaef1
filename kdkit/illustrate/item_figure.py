"""Hardware at true size: a side view lying down, and an end view where a drive shows.

Takes one catalogue item, gives a figure whose millimetres on paper are the item's own, so
that a buyer can lay the piece on the page. Drawn straight from the item's pieces: a body
of revolution has an exact side view without any projection.
"""

from __future__ import annotations

import math

from kdkit.catalogue.entries import Item, Piece
from kdkit.frames import Vec2
from kdkit.illustrate.figure import Area, Circle, Figure, Line, Primitive

__all__ = ["draw_item", "drive_recess", "item_length", "item_width"]

MARGIN = 1.0
"""White round the item, mm, so that half a pen's width is never cut off."""

BETWEEN = 4.0
"""From the side view to the end view, mm."""


def item_length(item: Item) -> float:
    """Return the length along the item's axis, mm."""
    return max(p.z1 for p in item.pieces) - min(p.z0 for p in item.pieces)


def item_width(item: Item) -> float:
    """Return the largest size across the axis as the side view shows it, mm."""
    return max(_width(piece) for piece in item.pieces)


def draw_item(item: Item, *, turned: bool) -> Figure:
    """Return an item at 1:1, head to the left.

    Args:
        item: at least one piece.
        turned: it locks by a turn (a cam): the end view gets an arrow.
    """
    length, width = item_length(item), item_width(item)
    z_top = max(p.z1 for p in item.pieces)
    flat = all(p.kind == "box" for p in item.pieces)
    ends = item.drive is not None or turned or flat
    across = max(width, _end_width(item)) if ends else width
    axis = MARGIN + across / 2
    primitives: list[Primitive] = []
    for piece in sorted(item.pieces, key=_width):
        primitives += _side_view(piece, z_top, MARGIN, axis)
    total = MARGIN + length
    if ends:
        centre = (total + BETWEEN + across / 2, axis)
        primitives += _end_view(item, centre, turned)
        total = centre[0] + across / 2
    return Figure(
        width=total + MARGIN,
        height=across + 2 * MARGIN,
        primitives=tuple(primitives),
        title=f"{item.title} {item.size}".strip(),
        description=f"{item.title} {item.size}".strip() + ", drawn at its true size.",
    )


def _width(piece: Piece) -> float:
    if piece.kind == "cone":
        return max(piece.d0, piece.d1 if piece.d1 is not None else piece.d0)
    return piece.d0


def _end_width(item: Item) -> float:
    return max(
        max(p.d0, p.d1 or 0) if p.kind == "box"
        else p.d0 * 2 / math.sqrt(3) if p.kind == "hexagon"
        else _width(p)
        for p in item.pieces
    )


def _side_view(piece: Piece, z_top: float, left: float, axis: float) -> list[Primitive]:
    """Return one piece seen from the side; the item's +z runs to the left."""
    x_head, x_tip = left + z_top - piece.z1, left + z_top - piece.z0
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
            shapes.append(Line(points=((x_head + 1, y), (x_tip - 1, y)), pen="thin"))
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
            rims.append(_rim(piece, reach, centre))
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


def _rim(piece: Piece, reach: float, centre: Vec2) -> Primitive:
    x, y = centre
    if piece.kind == "hexagon":
        return Area(outer=_polygon(centre, reach / math.sqrt(3), 6, 0.0), tone="hardware")
    if piece.kind == "box":
        half_w, half_h = piece.d0 / 2, (piece.d1 or piece.d0) / 2
        return Area(
            outer=(
                (x - half_w, y - half_h),
                (x + half_w, y - half_h),
                (x + half_w, y + half_h),
                (x - half_w, y + half_h),
            ),
            tone="hardware",
        )
    return Circle(centre=centre, radius=reach / 2, pen="hardware", tone="hardware")


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
        (-radius, -arm), (-arm, -arm), (-arm, -radius), (arm, -radius),
        (arm, -arm), (radius, -arm), (radius, arm), (arm, arm),
        (arm, radius), (-arm, radius), (-arm, arm), (-radius, arm),
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
