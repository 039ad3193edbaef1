"""Items with a look, from the end, from the side and aslant, by the hidden-line kernel.

Takes one item and a scale, gives views on paper, each with its upper left corner at (0, 0).
Views from the end and from the side show the item's own measures at that scale.
"""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.catalogue.entries import Item
from kdkit.frames import PRODUCT, Frame
from kdkit.illustrate.bodies.hardware import Locked, item_body
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.paper.arrows import line_arrow
from kdkit.illustrate.paper.figure import Primitive
from kdkit.illustrate.paper.moving import extent, moved

__all__ = ["LARGE", "LONG", "aslant", "item_views"]

LONG = 3.0
"""A flat item so many times as long as it is wide lies across the page."""

LARGE = 31.0
"""An item wider than this has its views over each other, mm."""

_FROM_ABOVE = Viewpoint(0.0, 90.0)
_FROM_ASIDE = Viewpoint(0.0, 0.0)
_ASLANT = Viewpoint(-32.0, 38.0)
_ASLANT_BEHIND = Viewpoint(148.0, 38.0)
_HEAD_LEFT = Frame((0.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0))
_ARM_LEFT = Frame((0.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0))
_ACROSS = Frame((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))

_ARROW = 7.0  # mm; from a cam undone to a cam done


def item_views(item: Item, scale: float, *, turned: bool, between: float) -> list[Primitive]:
    """Return the views of an item beside each other, their middles on one line.

    A small round one lies with its head to the left, then its end, for a cam also after its
    turn, then aslant. Of a larger one what is seen from above stands over its side, beside
    it aslant at half the scale. A long one is seen from above and from its end.

    Args:
        item: with a look.
        scale: mm on paper for one mm.
        turned: it locks by a turn.
        between: white between two views, mm.
    """
    if _is_long(item):
        return _in_row(
            [
                _seen(item, scale, _ACROSS, _FROM_ABOVE),
                _seen(item, scale, _HEAD_LEFT, _FROM_ASIDE),
            ],
            between,
        )
    above = _seen(item, scale, PRODUCT, _FROM_ABOVE)
    if max(max(p.d0, p.d1 or 0.0) for p in item.pieces) > LARGE:
        lies = _lies_flat(item)
        side = _seen(item, scale, PRODUCT if lies else _ARM_LEFT, _FROM_ASIDE)
        return _in_row([_in_column([above, side], between), aslant(item, 0.5 * scale)], between)
    row = [_seen(item, scale, _HEAD_LEFT, _FROM_ASIDE), above]
    if turned and item.look is not None and item.look.turn_deg:
        row.append(list(line_arrow([(0.0, 0.0), (_ARROW, 0.0)])))
        row.append(_seen(item, scale, PRODUCT, _FROM_ABOVE, "already"))
    return _in_row([*row, aslant(item, scale)], between)


def aslant(item: Item, scale: float) -> list[Primitive]:
    """Return an item as it looks, from the side that shows its opening or its upright leaf."""
    look = _ASLANT_BEHIND if _shows_behind(item) else _ASLANT
    return _seen(item, scale, _ACROSS if _is_long(item) else PRODUCT, look)


def _shows_behind(item: Item) -> bool:
    """Tell whether what tells an item looks to its +y."""
    look = item.look
    if look is None:
        return False
    signs = [s.side for s in look.signs]
    return any(d.opening for d in look.drums) or signs.count("+y") > signs.count("-y")


def _is_long(item: Item) -> bool:
    wide = max(p.d0 for p in item.pieces)
    return max(p.d1 or p.d0 for p in item.pieces) > LONG * wide


def _seen(
    item: Item, scale: float, frame: Frame, look: Viewpoint, locked: Locked = "not yet"
) -> list[Primitive]:
    body = item_body("item", item, frame, scale=scale, locked=locked)
    shapes = draw_bodies((body,), View(viewpoint=look, scale=scale)).primitives()
    x0, y0, _, _ = extent(shapes)
    return list(moved(shapes, (-x0, -y0)))


def _lies_flat(item: Item) -> bool:
    """Tell whether an item is no higher than it is wide."""
    high = max(p.z1 for p in item.pieces) - min(p.z0 for p in item.pieces)
    return high <= max(max(p.d0, p.d1 or 0.0) for p in item.pieces)


def _in_column(column: Sequence[Sequence[Primitive]], between: float) -> list[Primitive]:
    shapes: list[Primitive] = []
    at = 0.0
    for view in column:
        x0, y0, x1, y1 = extent(view)
        shapes += moved(view, (-(x0 + x1) / 2, at - y0))
        at += y1 - y0 + between
    return shapes


def _in_row(row: Sequence[Sequence[Primitive]], between: float) -> list[Primitive]:
    sizes = [extent(view) for view in row]
    middle = max((y1 - y0) / 2 for _, y0, _, y1 in sizes)
    shapes: list[Primitive] = []
    at = 0.0
    for view, (x0, y0, x1, y1) in zip(row, sizes, strict=True):
        shapes += moved(view, (at - x0, middle - (y0 + y1) / 2))
        at += x1 - x0 + between
    return shapes
