"""Row 1: tolerance, and the one place where lengths are rounded for people."""

from __future__ import annotations

__all__ = ["TOLERANCE", "mm_text", "round_length"]

TOLERANCE = 0.01
"""Two points closer than this (mm) are the same point for every stage."""


def round_length(value: float, places: int = 1) -> float:
    """Return a length rounded for a table; never ``-0.0``."""
    rounded = round(value, places)
    return rounded if rounded != 0 else 0.0


def mm_text(value: float, places: int = 1) -> str:
    """Return a length as text: ``608``, ``13.5``, ``0``."""
    text = f"{round_length(value, places):.{places}f}"
    return text.rstrip("0").rstrip(".") if places else text
