"""A figure: flat primitives in millimetres on paper, ready for any writer.

x to the right, y **down** (as in SVG), origin at the top left of the figure.
"""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.frames import Vec2

__all__ = ["Area", "Circle", "Figure", "Line", "Primitive", "Text"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Area:
    """A filled region with holes; ``tone`` is a name that the style gives a colour."""

    outer: tuple[Vec2, ...]
    holes: tuple[tuple[Vec2, ...], ...] = ()
    tone: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A polyline; ``pen``: outline, edge, guide, hardware, dimension … (the style's names)."""

    points: tuple[Vec2, ...]
    pen: str
    closed: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Circle:
    """A circle, for label balloons."""

    centre: Vec2
    radius: float
    pen: str
    tone: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Text:
    """One line of text; ``size`` is the letter height in mm (ISO 3098-1)."""

    at: Vec2
    text: str
    size: float
    anchor: str = "middle"
    bold: bool = False


Primitive = Area | Line | Circle | Text


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A drawing of a given size, never scaled afterwards.

    Args:
        title, description: for those who cannot see it; the manual's language is put in
            where it is published.
        scale: mm on paper for one mm; 0 where no single one holds.
    """

    width: float
    height: float
    primitives: tuple[Primitive, ...]
    title: str
    description: str
    scale: float = 0.0
