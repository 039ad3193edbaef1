"""One large figure of several pictures and their words, for a no that is shown by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Figure, Primitive, Text
from kdkit.illustrate.paper.layout import text_width, wrap_lines
from kdkit.illustrate.paper.moving import moved

__all__ = ["Captioned", "compose_overview", "wrap_text"]

WIDE = 190.0
"""Width of the figure, mm: prints on A4 and letter paper."""

EDGE = 4.0
BETWEEN = 7.0
HEAD, WORDS = 3.5, 2.5
"""Letter heights, mm. Source: ISO 3098-1 row 1.8 2.5 3.5 5 7 10."""

LEADING = 1.9
"""From line to line, as a share of the letter height."""


@dataclass(frozen=True, kw_only=True)
class Captioned:
    """A picture (or none), a heading and lines of words under it."""

    figure: Figure | None
    heading: str
    lines: tuple[str, ...]


def wrap_text(text: str, size: float, width: float) -> list[str]:
    """Return lines of at most a width, mm."""
    return wrap_lines(text, lambda line: text_width(line, size) <= width)


def compose_overview(
    title: str,
    introduction: Sequence[str],
    main: Captioned,
    pictures: Sequence[Captioned],
    *,
    description: str,
) -> Figure:
    """Return title, words, a large picture with its words, then pictures two abreast."""
    shapes: list[Primitive] = []
    wide = WIDE - 2 * EDGE
    y = EDGE
    y = _words(shapes, [title], 5.0, (EDGE, y), wide, bold=True) + 2.0
    y = _words(shapes, introduction, WORDS, (EDGE, y), wide) + 4.0
    y = _picture(shapes, main, (EDGE, y), wide) + BETWEEN
    column = (wide - BETWEEN) / 2
    for n in range(0, len(pictures), 2):
        pair = pictures[n : n + 2]
        high = max((p.figure.height if p.figure is not None else 0.0) for p in pair)
        ends = [
            _picture(shapes, one, (EDGE + k * (column + BETWEEN), y), column, high)
            for k, one in enumerate(pair)
        ]
        y = max(ends) + BETWEEN
    return Figure(
        width=WIDE,
        height=y - BETWEEN + EDGE,
        primitives=tuple(shapes),
        title=title,
        description=description,
    )


def _picture(
    shapes: list[Primitive], one: Captioned, at: Vec2, wide: float, high: float = 0.0
) -> float:
    """Add a picture with its words; return where it ends.

    Pictures beside each other share a height.
    """
    x, y = at
    figure = one.figure
    if figure is not None:
        high = max(high, figure.height)
        factor = min(1.0, wide / figure.width)
        place = (x + (wide - factor * figure.width) / 2, y + (high - factor * figure.height) / 2)
        shapes += moved(figure.primitives, place, factor)
    y = _words(shapes, [one.heading], HEAD, (x, y + high + 2.0), wide, bold=True) + 0.5
    return _words(shapes, one.lines, WORDS, (x, y), wide)


def _words(
    shapes: list[Primitive],
    paragraphs: Sequence[str],
    size: float,
    at: Vec2,
    wide: float,
    *,
    bold: bool = False,
) -> float:
    x, y = at
    for n, paragraph in enumerate(paragraphs):
        y += 0.4 * size if n else 0.0
        for line in wrap_text(paragraph, size, wide):
            y += size * LEADING
            base = (x, y - size * (LEADING - 1) / 2)
            shapes.append(Text(at=base, text=line, size=size, anchor="start", bold=bold))
    return y
