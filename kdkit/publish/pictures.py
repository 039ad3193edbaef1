"""Figures as inline SVG, at a size on paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

from markupsafe import Markup

from kdkit.illustrate.figure import Figure
from kdkit.illustrate.style import Style
from kdkit.illustrate.svg import render_svg
from kdkit.units import mm_text

__all__ = ["Picture", "set_picture"]


@dataclass(frozen=True)
class Picture:
    """An inline SVG with its size on paper, mm."""

    svg: Markup
    width: float
    height: float


def set_picture(
    figure: Figure, style: Style, *, scale: float = 1.0, alternative: str = ""
) -> Picture:
    """Return a figure as inline SVG; its description becomes the alternative text.

    The alternative text stands in the SVG's title, where screen readers and the PDF's
    tags find it.
    """
    words = alternative or figure.description or figure.title
    svg = render_svg(replace(figure, title=words, description=""), style)
    svg = svg.replace("<desc></desc>\n", "")
    width, height = figure.width * scale, figure.height * scale
    head, rest = svg.split(">", 1)
    for name, old, new in (("width", figure.width, width), ("height", figure.height, height)):
        head = head.replace(f' {name}="{mm_text(old, 2)}mm"', f' {name}="{mm_text(new, 2)}mm"')
    return Picture(Markup(f"{head}>{rest}"), width, height)
