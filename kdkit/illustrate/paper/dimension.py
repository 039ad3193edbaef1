"""Dimension lines of a figure."""

from __future__ import annotations

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Line, Primitive, Text

__all__ = ["LETTERS", "draw_dimension"]

LETTERS = 2.5
"""Height of the figures of a dimension, mm (row of ISO 3098-1)."""


def draw_dimension(start: Vec2, end: Vec2, text: str) -> list[Primitive]:
    """Return a dimension line with an oblique stroke at each end (ISO 129-1, from memory)."""
    shapes: list[Primitive] = [Line(points=(start, end), pen="dimension")]
    for x, y in (start, end):
        stroke = ((x - 0.7, y + 0.7), (x + 0.7, y - 0.7))
        shapes.append(Line(points=stroke, pen="dimension"))
    flat = start[1] == end[1]
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    at = (x, y + 0.8 + LETTERS) if flat else (x - 1.0, y + LETTERS / 2)
    shapes.append(Text(at=at, text=text, size=LETTERS, anchor="middle" if flat else "end"))
    return shapes
