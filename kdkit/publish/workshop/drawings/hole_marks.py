"""Marks that tell kinds of hole apart, as large at any scale."""

from __future__ import annotations

import math

from kdkit.frames import Vec2
from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet

__all__ = ["draw_mark"]

_LEAST = 1.1  # radius on paper, mm


def draw_mark(sheet: DrawingSheet, centre: Vec2, radius: float, letter: str) -> float:
    """Draw the mark of a kind round or in its hole; return how far it reaches.

    Kinds follow each other in the alphabet: plain, filled, half filled, in a square, in a
    lozenge, in a triangle, two quarters filled; then the same again. The letter tells the rest.
    """
    place = sum(ord(c) - ord("a") for c in letter) % 7
    x, y = centre
    size = max(radius, _LEAST) + 0.5
    if place == 1:
        sheet.area(_sector(centre, radius, 0.0, math.tau), "#000")
    elif place == 2:
        sheet.area(_sector(centre, radius, math.pi / 2, 3 * math.pi / 2), "#000")
    elif place == 6:
        for begin in (0.0, math.pi):
            sheet.area(_sector(centre, radius, begin, begin + math.pi / 2), "#000")
    elif place in (3, 4, 5):
        corners, turn = {3: (4, math.pi / 4), 4: (4, 0.0), 5: (3, math.pi / 2)}[place]
        reach = size * (1.0 if place == 4 else 1.41 if place == 3 else 1.6)
        ring = [
            (x + reach * math.cos(turn + math.tau * n / corners),
             y - reach * math.sin(turn + math.tau * n / corners))
            for n in range(corners)
        ]  # fmt: skip
        sheet.polyline(ring, "dimension", closed=True)
        return reach
    return radius


def _sector(centre: Vec2, radius: float, begin: float, end: float) -> list[Vec2]:
    size = max(radius, 0.5)
    turns = [begin + (end - begin) * n / 16 for n in range(17)]
    ring = [(centre[0] + size * math.cos(t), centre[1] - size * math.sin(t)) for t in turns]
    return ring if end - begin > 6 else [centre, *ring]
