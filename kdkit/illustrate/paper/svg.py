"""Figures as SVG 1.1 text: the one place where paper coordinates are rounded."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line, Primitive, Text
from kdkit.illustrate.paper.style import Style

__all__ = ["lettering", "render_svg"]

_LETTER_TO_BODY = 1 / 0.729
"""Font size for a letter height.

Source: the capitals of DejaVu Sans 2.37 are 0.729 of its size (outline of H in its file).
"""

_NOT_XML = re.compile(r"[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def render_svg(figure: Figure, style: Style, name: str = "", rules: str = "") -> str:
    """Return a figure as a complete SVG document.

    ``name``: a word without blanks, from which title and description get ids and by them
    the picture its words, also where several figures stand in one page. ``rules``: style
    rules for its lettering, for a picture that stands alone.

    Lengths are mm: one user unit is one mm. Neighbouring primitives that look the
    same share a group. Text is text; the size given is the height of its capitals.
    """
    width, height = _number(figure.width), _number(figure.height)
    called, title, told = "", "<title>", "<desc>"
    if name:
        ids = f"figure-{_escaped(name)}-title", f"figure-{_escaped(name)}-desc"
        title, told = f'<title id="{ids[0]}">', f'<desc id="{ids[1]}">'
        called = f'aria-labelledby="{ids[0]}" aria-describedby="{ids[1]}" '
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" {called}'
        f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}" '
        'stroke-linecap="round" stroke-linejoin="round" '
        f'font-family="{_escaped(_families(style))}">',
        f"{title}{_escaped(figure.title)}</title>",
        f"{told}{_escaped(figure.description)}</desc>",
    ]
    if rules and any(isinstance(p, Text) for p in figure.primitives):
        lines.append(f"<style>{_escaped(rules)}</style>")
    for look, members in groupby(figure.primitives, key=lambda p: _look(p, style)):
        shapes = list(_shapes(list(members)))
        if len(shapes) == 1:
            lines.append(shapes[0].replace(" ", f" {look} ", 1))
        else:
            lines.extend([f"<g {look}>", *shapes, "</g>"])
    lines.append("</svg>")
    return "\n".join(lines) + "\n"


def lettering(figures: Iterable[Figure]) -> str:
    """Return all that is written in some figures."""
    return "".join(p.text for f in figures for p in f.primitives if isinstance(p, Text))


def _shapes(members: Sequence[Primitive]) -> Iterator[str]:
    """Yield the elements of one look; plain lines go into one path."""
    lines = [m for m in members if isinstance(m, Line)]
    if lines:
        yield f'<path d="{"".join(_path(m.points, m.closed) for m in lines)}"/>'
    for member in members:
        if isinstance(member, Area):
            rings = (member.outer, *member.holes)
            yield f'<path d="{"".join(_path(ring, True) for ring in rings)}"/>'
        elif isinstance(member, Circle):
            x, y = member.centre
            yield (f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(member.radius)}"/>')
        elif isinstance(member, Text):
            x, y = member.at
            yield f'<text x="{_number(x)}" y="{_number(y)}">{_escaped(member.text)}</text>'


def _look(primitive: Primitive, style: Style) -> str:
    """Return the attributes that say how a primitive looks."""
    if isinstance(primitive, Area):
        return f'fill="{style.tone(primitive.tone)}" fill-rule="evenodd"'
    if isinstance(primitive, Line):
        return f'fill="none" {_stroke(style, primitive.pen)}'
    if isinstance(primitive, Circle):
        fill = style.tone(primitive.tone) if primitive.tone else "none"
        return f'fill="{fill}" {_stroke(style, primitive.pen)}'
    weight = ' font-weight="bold"' if primitive.bold else ""
    size = _number(primitive.size * _LETTER_TO_BODY)
    anchor = primitive.anchor if primitive.anchor in ("start", "middle", "end") else "middle"
    return f'fill="#000000" text-anchor="{anchor}" font-size="{size}"{weight}'


def _stroke(style: Style, name: str) -> str:
    pen = style.pen(name)
    dash = ""
    if pen.dash:
        dash = f' stroke-dasharray="{" ".join(_number(d) for d in pen.dash)}"'
        dash += ' stroke-linecap="butt"'
    return f'stroke="{pen.colour}" stroke-width="{_number(pen.width)}"{dash}'


def _path(points: Sequence[Vec2], closed: bool) -> str:
    """Return one subpath in hundredths of a mm: absolute start, relative lines."""
    placed = [(round(x * 100), round(y * 100)) for x, y in points]
    if not placed:
        return ""
    x, y = placed[0]
    text = f"M{_hundredths(x)} {_hundredths(y)}"
    steps = []
    for u, v in placed[1:]:
        if (u, v) != (x, y):
            steps.append(f"{_hundredths(u - x)} {_hundredths(v - y)}")
            x, y = u, v
    if steps:
        text += "l" + " ".join(steps)
    return text + ("z" if closed else "")


def _hundredths(value: int) -> str:
    sign, value = ("-", -value) if value < 0 else ("", value)
    whole, rest = divmod(value, 100)
    digits = f"{rest:02d}".rstrip("0")
    if not digits:
        return f"{sign}{whole}"
    return f"{sign}{whole or ''}.{digits}"


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _families(style: Style) -> str:
    return ", ".join(f if re.fullmatch(r"[a-z-]+", f) else f"'{f}'" for f in style.fonts)


def _escaped(text: str) -> str:
    """Return text for element content and double-quoted attributes, XML's non-characters gone."""
    text = _NOT_XML.sub("", text)
    for raw, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(raw, name)
    return text
