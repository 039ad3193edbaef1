"""Figures as inline SVG, at a size on paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

from markupsafe import Markup

from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.paper.svg import render_svg

__all__ = ["Picture", "set_picture"]


@dataclass(frozen=True)
class Picture:
    """An inline SVG with its size on paper, mm."""

    svg: Markup
    width: float
    height: float


def set_picture(figure: Figure, style: Style, *, alternative: str) -> Picture:
    """Return a figure as inline SVG at its own size; what it shows in words goes along.

    The alternative text stands in the SVG's title, where screen readers and the PDF's
    tags find it.
    """
    svg = render_svg(replace(figure, title=alternative, description=""), style)
    return Picture(Markup(svg.replace("<desc></desc>\n", "")), figure.width, figure.height)
