"""Row 1: tolerance, and the one place where lengths are rounded for people."""

from __future__ import annotations

__all__ = ["SQUARE_WITHIN", "TOLERANCE", "mm_text", "round_length"]

TOLERANCE = 0.01
"""Two points closer than this (mm) are the same point for every stage."""


SQUARE_WITHIN = 0.01
"""Degrees; a bore that leans by no more is square to its surface for every table, drawing and
program. Over 100 mm, more than the deepest bore of the catalogue, its bottom is then 0.017 mm
off, less than a drill holds in wood. Typed slopes are rounded: without it a slope given with
three decimals would leave the programs without its bores."""


def round_length(value: float, places: int = 1) -> float:
    """Return a length rounded for a table; never ``-0.0``."""
    rounded = round(value, places)
    return rounded if rounded != 0 else 0.0


def mm_text(value: float, places: int = 1) -> str:
    """Return a length as text: ``608``, ``13.5``, ``0``."""
    text = f"{round_length(value, places):.{places}f}"
    return text.rstrip("0").rstrip(".") if places else text
