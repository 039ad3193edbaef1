"""How large a part is: length, width, area of its face. Lengths in mm, areas in mm²."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.frames import Vec2
from kdkit.geometry.convex import signed_area
from kdkit.model.resolved import Part

__all__ = ["NEAR", "face_area", "part_size", "ring_area"]

NEAR = 0.01
"""Corners nearer than this to a line lie on it."""


def part_size(part: Part) -> tuple[float, float]:
    """Return length and width of the outline's bounding rectangle."""
    return (max(p[0] for p in part.outline), max(p[1] for p in part.outline))


def ring_area(ring: Sequence[Vec2]) -> float:
    """Return the area inside a ring of corners, whichever way it runs round."""
    return abs(signed_area(ring))


def face_area(part: Part) -> float:
    """Return the area of the finished face without its openings, mm²."""
    openings = sum(ring_area(hole) for hole in part.cutouts)
    rounds = sum(math.pi / 4 * hole.diameter**2 for hole in part.round_cutouts)
    return ring_area(part.outline) - openings - rounds
