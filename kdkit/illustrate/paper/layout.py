"""Free places round a drawing: for labels, magnified details, small pictures.

Takes what is drawn already and what is to be set beside it; gives a place for each
inside the room that the page leaves. Boxes touch neither the drawing nor each other, and
a leader crosses no box, ring or arrow as long as there is any other way. Paper
millimetres, y down.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Area, Circle, Line, Primitive
from kdkit.illustrate.paper.fonts import advances
from kdkit.illustrate.paper.ground import Ground, Sides

__all__ = ["FreePlaces", "Placed", "Thing", "text_width", "wrap_lines"]

Array = NDArray[np.float64]

STEP = 1.5
"""Places are tried this far apart, mm."""

CLOSER = 70
"""How many of the cheapest places are judged by what their leader crosses, too."""

FARTHER = 500
"""How many places all over the paper are judged when the leaders of all those cross."""

CROSSED = 1000.0
"""What it costs a leader to cross a box, ring or arrow: done when nothing else is left."""

OVER = 0.6
"""What a millimetre of leader over the drawing costs."""

LATER = 2.5
"""What it costs to take the next of a thing's anchors."""

GOOD = 22.0
"""A place that costs no more is taken without looking at further anchors."""

SHORTEST = 3.0
"""A leader shorter than this is hard to see, mm."""

RAYS = tuple(math.tau * n / 24 for n in range(24))


@lru_cache(maxsize=4096)
def text_width(text: str, size: float) -> float:
    """Return a safe width of a line of text whose capitals are ``size`` mm high.

    Roughly reckoned, so that it is the same for most words of a length; words of wide
    letters (capitals, Cyrillic, Greek, Arabic) have the width of the bold font.

    Source:
        Advance widths of DejaVu Sans Bold 2.37 (its font file) in terms of its capitals'
        height, rounded: digits 0.95, colon 0.55, × 1.15, M 1.37.
    """
    wide = sum(1.3 if c in "MWmw@%×" else 0.55 if c in " .,:;il|" else 0.95 for c in text)
    drawn = advances(bold=True)
    return max(wide, sum(drawn.get(ord(c), 1.4) for c in text)) * size


def wrap_lines(text: str, fits: Callable[[str], bool]) -> list[str]:
    """Return a text in lines that fit; a word that is longer than a line is broken.

    Args:
        text: words with spaces between them.
        fits: tells of a line; a line that fits still does with less in it.
    """
    lines: list[str] = []
    for word in text.split():
        if lines and fits(f"{lines[-1]} {word}"):
            lines[-1] = f"{lines[-1]} {word}"
            continue
        rest = word
        while len(rest) > 1 and not fits(rest):
            lengths = range(1, len(rest))
            n = max(1, bisect.bisect_left(lengths, True, key=partial(_too_long, rest, fits)))
            lines.append(rest[:n])
            rest = rest[n:]
        lines.append(rest)
    return lines


def _too_long(word: str, fits: Callable[[str], bool], length: int) -> bool:
    return not fits(word[:length])


@dataclass(frozen=True, kw_only=True)
class Thing:
    """Something to be set beside the drawing.

    Args:
        width, height: with everything that belongs to it.
        anchors: points on the drawing where its leader may end, the best first.
        white: round it.
        hub, radius: the round thing at which the leader starts: its middle, measured from
            the middle of the box, and its radius. Below the anchor the hub lies at
            −y, so that a caption is always on the far side.
        leader: False for a thing that stands near its anchor without a line.
        short_of: the leader ends this far before the anchor (a ring's radius).
        near: what a millimetre of distance costs.
        needed: look everywhere before letting the leader cross something.
    """

    width: float
    height: float
    anchors: tuple[Vec2, ...]
    white: float = 1.2
    hub: Vec2 = (0.0, 0.0)
    radius: float = 0.0
    leader: bool = True
    short_of: float = 0.0
    near: float = 1.0
    needed: bool = True


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A thing in its place.

    ``leader``: from hub to anchor, empty for none. ``crosses``: the leader had to cross
    something. ``over``: how far it runs over the drawing, mm.
    """

    centre: Vec2
    box: tuple[float, float, float, float]
    hub: Vec2
    anchor: Vec2
    leader: tuple[Vec2, ...]
    crosses: bool
    over: float = 0.0


@dataclass
class FreePlaces:
    """The paper while a figure is being set.

    Args:
        limit: the most that the whole figure may measure, ``(width, height)``.
        drawn: ground that no box may touch.
        ink: lines that leaders should rather not cross nor run along.
        barred: ground that leaders must not cross.
        bounds: round everything so far.
    """

    limit: Vec2
    drawn: Ground
    ink: Ground
    barred: Ground
    bounds: tuple[float, float, float, float]
    placed: list[Placed] = field(default_factory=list)

    @classmethod
    def over(
        cls,
        bounds: tuple[float, float, float, float],
        limit: Vec2,
        areas: Sides | None = None,
        lines: Sides | None = None,
    ) -> FreePlaces:
        """Return the free places of paper with a drawing on it.

        Args:
            bounds: round the drawing.
            areas: sides of closed loops, even-odd: the ground that it covers.
            lines: all its lines.
        """
        x0, y0, x1, y1 = bounds
        spare_x = max(limit[0] - (x1 - x0), 0.0) + 4.0
        spare_y = max(limit[1] - (y1 - y0), 0.0) + 4.0
        blank = Ground.blank((x0 - spare_x, y0 - spare_y, x1 + spare_x, y1 + spare_y))
        ink, barred = blank.copy(), blank.copy()
        if lines is not None:
            ink.draw_sides(*lines)
        if areas is not None:
            blank.fill_sides(*areas)
        blank.take(ink)
        return cls(limit, blank, ink, barred, bounds)

    def fits(self) -> bool:
        """Tell whether everything so far is within the limit."""
        x0, y0, x1, y1 = self.bounds
        return x1 - x0 <= self.limit[0] + 1e-6 and y1 - y0 <= self.limit[1] + 1e-6

    def bar(self, shapes: Iterable[Primitive]) -> None:
        """Put arrows, drops, rings on the paper: neither boxes nor leaders go there."""
        for shape in shapes:
            if isinstance(shape, Circle):
                (x, y), r = shape.centre, shape.radius
                loop = [(x + r * math.cos(a), y + r * math.sin(a)) for a in RAYS]
            elif isinstance(shape, Area):
                loop = list(shape.outer)
            elif isinstance(shape, Line):
                self.barred.draw([shape.points], tight=True)
                self._reach(shape.points)
                continue
            else:
                continue
            self.barred.fill([loop])
            self._reach(loop)
        self.drawn.take(self.barred)

    def find(self, thing: Thing) -> Placed | None:
        """Return the cheapest place for a thing, None when there is no room."""
        half_w, half_h = thing.width / 2, thing.height / 2
        axes = self._centres(half_w, half_h)
        if axes is None:
            return None
        xs, ys = axes
        wide, high = half_w + thing.white, half_h + thing.white
        rows, columns = np.nonzero(self.drawn.free_grid(xs - wide, ys - high, xs + wide, ys + high))
        cx, cy = xs[columns], ys[rows]
        if not len(cx):
            return None
        grown = self._growth(cx, cy, half_w, half_h)
        best = self._best(thing, cx, cy, grown, 0, CLOSER)
        for turn in range(1, len(thing.anchors)):
            if best[0] > GOOD:
                other = self._best(thing, cx, cy, grown, turn, CLOSER)
                best = min([best, other], key=lambda one: one[0])
        if best[1].crosses and thing.needed:  # rather far away than across something
            thin = slice(None, None, max(1, len(cx) // FARTHER))
            px, py, more = cx[thin], cy[thin], grown[thin]
            for turn, anchor in enumerate(thing.anchors):
                starts, ends, _ = _leaders(_hubs(thing, px, py, anchor), anchor, thing)
                clear = self.barred.along(starts, ends)[0] == 0
                if clear.any():
                    one = self._best(thing, px[clear], py[clear], more[clear], turn, CLOSER)
                    best = min([best, one], key=lambda one: one[0])
        return best[1]

    def _best(
        self, thing: Thing, cx: Array, cy: Array, grown: Array, turn: int, closer: int
    ) -> tuple[float, Placed]:
        """Return the cheapest of the free places for one of a thing's anchors, and its cost."""
        anchor = thing.anchors[turn]
        cost = thing.near * np.hypot(cx - anchor[0], cy - anchor[1]) + 0.015 * grown
        cost = np.round(cost + LATER * turn, 6)
        few = _cheapest(cost, closer)
        hubs = _hubs(thing, cx[few], cy[few], anchor)
        total = cost[few]
        starts, ends, length = _leaders(hubs, anchor, thing)
        drawn = np.zeros(len(few))
        if thing.leader:
            drawn, ink, barred = self.drawn.along(starts, ends, self.ink, self.barred)
            total = total + OVER * drawn + 3.0 * ink + CROSSED * (barred > 0)
            total += 20.0 * np.maximum(0.0, SHORTEST - length)
        n = int(np.argmin(np.round(total, 6)))
        x, y = float(cx[few[n]]), float(cy[few[n]])
        half_w, half_h = thing.width / 2, thing.height / 2
        return round(float(total[n]), 6), Placed(
            centre=(x, y),
            box=(x - half_w, y - half_h, x + half_w, y + half_h),
            hub=_point(hubs[n]),
            anchor=anchor,
            leader=(_point(starts[n]), _point(ends[n])) if thing.leader else (),
            crosses=float(total[n]) >= CROSSED,
            over=float(drawn[n]),
        )

    def put(self, placed: Placed) -> None:
        """Take the ground of a thing and of its leader."""
        for ground in (self.drawn, self.barred):
            ground.fill_box(*placed.box)
        if placed.leader:
            for ground in (self.drawn, self.barred):
                ground.draw([placed.leader], tight=True)
        self._reach([placed.box[:2], placed.box[2:]])
        self.placed.append(placed)

    def _reach(self, points: Iterable[Vec2]) -> None:
        x0, y0, x1, y1 = self.bounds
        for x, y in points:
            x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
        self.bounds = (x0, y0, x1, y1)

    def _centres(self, half_w: float, half_h: float) -> tuple[Array, Array] | None:
        """Return x and y of all middles of boxes that keep the figure within the limit."""
        x0, y0, x1, y1 = self.bounds
        axes = []
        for low, high, half, most in (
            (x0, x1, half_w, self.limit[0]),
            (y0, y1, half_h, self.limit[1]),
        ):
            first, last = high - most + half, low + most - half
            if last < first:
                return None
            axes.append(np.linspace(first, last, max(2, math.ceil((last - first) / STEP) + 1)))
        return axes[0], axes[1]

    def _growth(self, cx: Array, cy: Array, half_w: float, half_h: float) -> Array:
        """Return by how much each box would let the whole figure grow, mm²."""
        x0, y0, x1, y1 = self.bounds
        wide = np.maximum(x1, cx + half_w) - np.minimum(x0, cx - half_w)
        high = np.maximum(y1, cy + half_h) - np.minimum(y0, cy - half_h)
        grown: Array = wide * high - (x1 - x0) * (y1 - y0)
        return grown


def _cheapest(cost: Array, count: int) -> NDArray[np.intp]:
    """Return the first so many of all in order of cost, the earlier of equal ones first."""
    if len(cost) <= count:
        return np.argsort(cost, kind="stable")
    near = np.flatnonzero(cost <= np.partition(cost, count - 1)[count - 1])
    return near[np.argsort(cost[near], kind="stable")[:count]]


def _hubs(thing: Thing, cx: Array, cy: Array, anchor: Vec2) -> Array:
    """Return where the hub lies in each box: on the side of the anchor."""
    low = np.where(anchor[1] < cy, -thing.hub[1], thing.hub[1])
    hubs: Array = np.stack([cx + thing.hub[0], cy + low], axis=1)
    return hubs


def _leaders(hubs: Array, anchor: Vec2, thing: Thing) -> tuple[Array, Array, Array]:
    """Return where leaders start and end, and how long they are."""
    way = np.array(anchor) - hubs
    length = np.maximum(np.hypot(*way.T), 1e-9)
    unit = way / length[:, None]
    starts = hubs + unit * np.minimum(thing.radius, length)[:, None]
    ends = np.array(anchor) - unit * min(thing.short_of, 1e9)
    return starts, ends, length - thing.radius - thing.short_of


def _point(at: Array) -> Vec2:
    return (float(at[0]), float(at[1]))
