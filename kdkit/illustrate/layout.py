"""Free places round a drawing for blocks of their own: magnified details, notes.

Paper millimetres, y down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec2

__all__ = ["Block", "place_blocks"]

STEP = 2.5
CLOSER = 120
"""How many of the cheapest places are judged by what their leader crosses, too."""

WHITE = 2.0
"""Least white round a block, mm."""


@dataclass(frozen=True, kw_only=True)
class Block:
    """Something to be set beside the drawing, near its anchor; sizes with all captions."""

    width: float
    height: float
    anchor: Vec2


def place_blocks(
    blocks: Sequence[Block], drawn: BaseGeometry, *, widest: float, highest: float
) -> tuple[Vec2, ...]:
    """Return the centre of each block, in the order given.

    A block touches neither the drawing nor another block. The place is chosen that lets
    the whole figure grow least beyond its size and keeps the leader short; leaving
    ``widest`` × ``highest`` is the last resort.
    """
    x0, y0, x1, y1 = drawn.bounds
    taken: list[BaseGeometry] = [drawn]
    centres: list[Vec2] = []
    for block in blocks:
        half_w, half_h = block.width / 2 + WHITE, block.height / 2 + WHITE
        xs = np.arange(x0 - half_w - STEP, x1 + half_w + 2 * STEP, STEP)
        ys = np.arange(y0 - half_h - STEP, y1 + half_h + 2 * STEP, STEP)
        cx, cy = (a.ravel() for a in np.meshgrid(xs, ys))
        boxes = shapely.box(cx - half_w, cy - half_h, cx + half_w, cy + half_h)
        free = np.ones(len(cx), dtype=bool)
        for geometry in taken:
            shapely.prepare(geometry)
            free &= ~shapely.intersects(geometry, boxes)
        left, right = np.minimum(x0, cx - half_w), np.maximum(x1, cx + half_w)
        top, bottom = np.minimum(y0, cy - half_h), np.maximum(y1, cy + half_h)
        cost = (
            0.8 * np.hypot(cx - block.anchor[0], cy - block.anchor[1])
            + 0.02 * ((right - left) * (bottom - top) - (x1 - x0) * (y1 - y0))
            + 40.0 * np.maximum(0, (right - left) - widest)
            + 40.0 * np.maximum(0, (bottom - top) - highest)
        )
        cost = np.round(np.where(free, cost, np.inf), 6)
        few = np.argsort(cost, kind="stable")[:CLOSER]
        leaders = shapely.linestrings(
            np.stack(
                [np.column_stack([cx[few], cy[few]]), np.tile(block.anchor, (len(few), 1))], axis=1
            )
        )
        over = 0.4 * shapely.length(shapely.intersection(leaders, drawn))
        for other in taken[1:]:
            over += 50.0 * shapely.intersects(leaders, other)
        best = int(few[np.argmin(np.round(cost[few] + over, 6))])
        centre = (float(cx[best]), float(cy[best]))
        centres.append(centre)
        taken.append(shapely.box(
            centre[0] - half_w + WHITE / 2, centre[1] - half_h + WHITE / 2,
            centre[0] + half_w - WHITE / 2, centre[1] + half_h - WHITE / 2,
        ))
        x0, y0 = min(x0, centre[0] - half_w), min(y0, centre[1] - half_h)
        x1, y1 = max(x1, centre[0] + half_w), max(y1, centre[1] + half_h)
    return tuple(centres)
