"""What a figure asks of its page, and what the page gives it. Millimetres on paper."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FigureBox", "FigureWish"]


@dataclass(frozen=True, kw_only=True)
class FigureBox:
    """The room that a page gives a figure; the figure is composed for it, never scaled."""

    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class FigureWish:
    """Heights that a figure can make use of.

    Args:
        least: below this it is hard to read.
        most: more would stay white.
    """

    least: float
    most: float
