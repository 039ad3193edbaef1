"""A sheet of paper to draw on: lines, circles and texts in millimetres, y down.

It remembers the box of every text and whatever else must stay clear, so that the next
text can be put where nothing is.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterable, Sequence
from html import escape

from kdkit.frames import Vec2
from kdkit.illustrate.paper.fonts import TEXT, advances
from kdkit.publish.wording.plain_text import one_line
from kdkit.units import mm_text

__all__ = ["PAPER_SIZES", "Box", "DrawingSheet", "fitted_text", "text_box", "text_width"]

Box = tuple[float, float, float, float]
"""Least x and y, greatest x and y."""

PAPER_SIZES = {"a4": (297.0, 210.0), "a3": (420.0, 297.0), "letter": (279.4, 215.9)}
"""Lying sheets, mm. Source: ISO 216; ANSI/ASME Y14.1 size A for letter."""

PENS = {
    "outline": 'stroke-width="0.5"',
    "edge": 'stroke-width="0.25"',
    "dimension": 'stroke-width="0.13"',
    "hidden": 'stroke-width="0.25" stroke-dasharray="1.5 0.75"',
    "centre": 'stroke-width="0.13" stroke-dasharray="3 0.6 0.3 0.6"',
    "band": 'stroke-width="0.7" stroke-dasharray="6 0.9 0.35 0.9"',
    "frame": 'stroke-width="0.7"',
    "rule": 'stroke-width="0.18"',
    "cut": 'stroke-width="0.18" stroke-dasharray="0.6 1.2"',
    "fold": 'stroke-width="0.35" stroke-dasharray="4 1.5"',
}
"""Widths out of the row of ISO 128-2: wide lines 0.5 and 0.7, narrow ones 0.25 and less.
A wide long-dashed dotted line along an edge stands for a surface that is treated, here
banded (line type 04.2 of ISO 128-2, from memory)."""

_CAPITALS = 0.72
"""Height of capitals of plain sans-serif faces in terms of the letter size; common
practice, no source."""

_FAMILY = f"'{TEXT}', sans-serif"
_CLEAR = 0.25  # white round texts


def text_width(text: str, height: float) -> float:
    """Return a safe width of a line whose capitals are ``height`` high, mm.

    Source:
        Advance widths of DejaVu Sans in terms of its capitals, rounded up (measured).
    """
    wide = 0.0
    for c in text:
        if c in "MWmw@%—…":
            wide += 1.38
        elif c in " .,:;il|'":
            wide += 0.46
        elif c in "×+=<>~←→":
            wide += 1.17
        elif c.isupper():
            wide += 1.08
        elif ord(c) > 0x2E80:
            wide += 1.45
        else:
            wide += 0.9
    drawn = advances(bold=False)
    return max(wide, sum(drawn.get(ord(c), 1.45) for c in text)) * height


def fitted_text(text: str, height: float, room: float) -> str:
    """Return the text, or as much of it as fits followed by an ellipsis."""
    if text_width(text, height) <= room:
        return text
    fits = bisect.bisect_right(
        range(len(text)), room, key=lambda n: text_width(text[:n] + "…", height)
    )
    return text[: max(0, fits - 1)].rstrip() + "…"


class DrawingSheet:
    """One page; what is drawn comes out as SVG in the order in which it was drawn."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self.texts: list[tuple[str, Box]] = []
        self.kept: list[Box] = []
        self._marks: list[str] = []

    def line(self, start: Vec2, end: Vec2, pen: str = "edge") -> None:
        """Draw a straight line."""
        (x0, y0), (x1, y1) = start, end
        self._marks.append(
            f'<line x1="{_n(x0)}" y1="{_n(y0)}" x2="{_n(x1)}" y2="{_n(y1)}" {PENS[pen]}/>'
        )

    def polyline(
        self, points: Sequence[Vec2], pen: str = "edge", *, closed: bool = False, fill: str = "none"
    ) -> None:
        """Draw a chain of lines; ``fill`` is a colour."""
        path = "M" + " L".join(f"{_n(x)} {_n(y)}" for x, y in points) + (" Z" if closed else "")
        self._marks.append(f'<path d="{path}" fill="{fill}" {PENS[pen]}/>')

    def area(self, points: Sequence[Vec2], fill: str) -> None:
        """Fill a region without a line round it."""
        path = "M" + " L".join(f"{_n(x)} {_n(y)}" for x, y in points) + " Z"
        self._marks.append(f'<path d="{path}" fill="{fill}" stroke="none"/>')

    def rectangle(self, box: Box, pen: str = "edge", *, fill: str = "none") -> None:
        """Draw the four sides of a box."""
        x0, y0, x1, y1 = box
        self.polyline(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), pen, closed=True, fill=fill)

    def circle(self, centre: Vec2, radius: float, pen: str = "edge", *, fill: str = "none") -> None:
        """Draw a circle."""
        self._marks.append(
            f'<circle cx="{_n(centre[0])}" cy="{_n(centre[1])}" r="{_n(radius)}" '
            f'fill="{fill}" {PENS[pen]}/>'
        )

    def hatch(self, box: Box, pitch: float = 2.0) -> None:
        """Draw lines that rise to the right over a box, as far apart as ``pitch``."""
        x0, y0, x1, y1 = box
        # All boxes have lines of one family, x + y = n · pitch: those side by side go on.
        for n in range(math.ceil((x0 + y0) / pitch), math.floor((x1 + y1) / pitch) + 1):
            at = n * pitch
            left, right = max(x0, at - y1), min(x1, at - y0)
            if right - left > 0.05:
                self.line((left, at - left), (right, at - right), "dimension")

    def code(self, corner: Vec2, size: float, rows: Sequence[Sequence[int]]) -> None:
        """Draw the dark squares of a code, row by row, in a square of a size."""
        cell = size / len(rows)
        path = []
        for n, row in enumerate(rows):
            start = None
            for m, dark in enumerate((*row, 0)):
                if dark and start is None:
                    start = m
                elif not dark and start is not None:
                    x, y = corner[0] + start * cell, corner[1] + n * cell
                    wide = (m - start) * cell
                    path.append(f"M{_n(x)} {_n(y)}h{_n(wide)}v{_n(cell)}h{_n(-wide)}z")
                    start = None
        self._marks.append(f'<path d="{"".join(path)}" fill="#000" stroke="none"/>')

    def text(
        self,
        at: Vec2,
        text: str,
        height: float = 2.5,
        *,
        anchor: str = "start",
        upright: bool = False,
        bold: bool = False,
    ) -> Box:
        """Write one line and return its box.

        Args:
            at: on the base line, at the start, middle or end as ``anchor`` says.
            upright: the line runs from the bottom to the top of the sheet.
        """
        if not text:
            return (*at, *at)
        box = text_box(at, text, height, anchor=anchor, upright=upright, bold=bold)
        self.texts.append((text, box))
        turn = f' transform="rotate(-90 {_n(at[0])} {_n(at[1])})"' if upright else ""
        weight = ' font-weight="bold"' if bold else ""
        self._marks.append(
            f'<text x="{_n(at[0])}" y="{_n(at[1])}" font-size="{_n(height / _CAPITALS)}" '
            f'text-anchor="{anchor}"{weight}{turn}>{escape(one_line(text))}</text>'
        )
        return box

    def keep_clear(self, box: Box) -> None:
        """Let no text be placed here."""
        self.kept.append(box)

    def is_free(self, box: Box) -> bool:
        """Tell whether a box touches no text and nothing that is to be kept clear."""
        return not any(_touch(box, other) for _, other in self.texts) and not any(
            _touch(box, other) for other in self.kept
        )

    def place_text(
        self,
        near: Vec2,
        text: str,
        height: float,
        room: Iterable[Box],
        *,
        start: float,
        reach: float,
        leader: float | None = None,
        white: float = 0.0,
        rim: float = 0.0,
        across: bool = True,
    ) -> Box | None:
        """Write a line at the nearest free place round a point, inside one of the boxes.

        Args:
            room: boxes, the best first; the next one is tried when one is full.
            start: distance from the point to the nearest side of the text; at 0 the text
                may stand over the point.
            reach: how far the search goes.
            leader: join text and point by a line where they are further apart than
                this, None for never. The line crosses no text, and nothing that is to be
                kept clear but what lies at the point, unless there is no other place.
            white: so much stays clear round the text.
            rim: the line ends so far from the point.
            across: where there is no other place, the line may cross what is to be kept clear.

        Returns:
            The text's box, or None if there is no place.
        """
        wide = text_width(text, height)
        tries = [(bounds, True) for bounds in room]
        if leader is not None and across:
            tries += [(bounds, False) for bounds, _ in tries]
        for bounds, strict in tries:
            away = start
            while away <= start + reach:
                for n in range(24 if away > start + 2 else 8):
                    angle = math.tau * n / (24 if away > start + 2 else 8)
                    dx, dy = (math.cos(angle), math.sin(angle)) if away else (0.0, 0.0)
                    middle = (
                        near[0] + dx * away + _side(dx) * wide / 2,
                        near[1] - dy * away - _side(dy) * height / 2,
                    )
                    at = (middle[0] - wide / 2, middle[1] + height / 2)
                    box = text_box(at, text, height)
                    if not _inside(box, bounds) or not self.is_free(_grown(box, white)):
                        continue
                    end = _nearest(box, near)
                    joined = leader is not None and away > leader
                    if joined and self._crosses(near, end, strict=strict):
                        continue
                    self.text(at, text, height)
                    if joined:
                        self.line(_on_the_way(near, end, rim), end, "dimension")
                    return box
                away += height / 2
        return None

    def _crosses(self, start: Vec2, end: Vec2, *, strict: bool) -> bool:
        """Tell whether a line crosses a text, or, if strict, what is to be kept clear."""
        steps = max(1, math.ceil(math.dist(start, end) / 0.3))
        points = [
            (start[0] + (end[0] - start[0]) * n / steps, start[1] + (end[1] - start[1]) * n / steps)
            for n in range(steps + 1)
        ]
        barred = [box for _, box in self.texts]
        if strict:
            barred += [box for box in self.kept if not _holds(box, start)]
        return any(_holds(box, point) for point in points for box in barred)

    def render(self) -> str:
        """Return the sheet as an SVG picture of its true size."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(self.width)}mm" '
            f'height="{_n(self.height)}mm" viewBox="0 0 {_n(self.width)} {_n(self.height)}" '
            f'role="img" fill="#000" font-family="{_FAMILY}" stroke-linecap="butt">'
            f"<title>{escape(one_line(self.title))}</title>"
            f'<g stroke="#000">{"".join(m for m in self._marks if not m.startswith("<text"))}</g>'
            f"<g>{''.join(m for m in self._marks if m.startswith('<text'))}</g></svg>"
        )


def text_box(
    at: Vec2,
    text: str,
    height: float,
    *,
    anchor: str = "start",
    upright: bool = False,
    bold: bool = False,
) -> Box:
    """Return the box of a line of text, with a little white round it."""
    wide = text_width(text, height) * (1.12 if bold else 1.0)
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    low = 0.3 * height if any(c in text for c in "gjpqy,;Q|()[]") else 0.0
    if upright:
        return (
            at[0] - height - _CLEAR,
            at[1] + back - wide,
            at[0] + low + _CLEAR,
            at[1] + back,
        )
    return (at[0] - back, at[1] - height - _CLEAR, at[0] - back + wide, at[1] + low + _CLEAR)


def _touch(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _grown(box: Box, by: float) -> Box:
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


def _inside(inner: Box, outer: Box) -> bool:
    return (
        inner[0] >= outer[0]
        and inner[1] >= outer[1]
        and inner[2] <= outer[2]
        and inner[3] <= outer[3]
    )


def _holds(box: Box, p: Vec2) -> bool:
    return box[0] < p[0] < box[2] and box[1] < p[1] < box[3]


def _on_the_way(start: Vec2, end: Vec2, far: float) -> Vec2:
    """Return the point on a line so far from its start, its end if that is nearer."""
    length = math.dist(start, end)
    share = min(1.0, far / length) if length else 0.0
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


def _nearest(box: Box, p: Vec2) -> Vec2:
    return (min(max(p[0], box[0]), box[2]), min(max(p[1], box[1]), box[3]))


def _side(direction: float) -> float:
    """Return on which side of the point the box stands: −1, 0 or 1."""
    return 0.0 if abs(direction) < 0.3 else math.copysign(1.0, direction)


def _n(value: float) -> str:
    return mm_text(value, 3)
