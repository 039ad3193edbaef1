"""What a posture costs for how the work stands in it: steady or not, low or tall, light or heavy.

A maker builds wide and low, below the shoulder, and turns the work over while it is light.
The costs are common practice, no source; the margins stand in ``balance``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kdkit.frames import Vec2, Vec3, dot
from kdkit.parts.postures import ON_FLOOR, POSTURES, Posture
from kdkit.plan.blocking import members
from kdkit.plan.choice.balance import (
    LEAN,
    PUSH,
    depth_along,
    depth_inside,
    hull_of,
    lean_deg,
    push_to_tip,
)
from kdkit.plan.choice.part import PartFacts
from kdkit.plan.choice.resting import LEVEL

__all__ = ["ARMS", "HELD", "HIGH", "IN_HAND", "OVERHEAD", "PACKED", "Footing", "axes_of"]

HIGH = 1400.0  # mm over the floor; work is kept below it
OVERHEAD = 1600.0  # mm; nothing heavier than IN_HAND is handled above it
IN_HAND = 5.0  # kg that the one who works keeps hold of with one hand
ARMS = 1000.0  # mm; a longer part is not kept in its place with one hand
# All four: common practice, no source.

HELD = 2.5  # held by a second person or a prop until it is fastened
_KEPT = 1.0  # held with one hand by the one who works

PACKED = 30.0
"""mm over the floor: what lies no higher is packed up, unless it stands: common practice."""

_LEANS = 2.5  # it does not stand by itself
_PUSHED = 1.0  # it stands, but bears nothing of the push of the work; less, the more it bears
_LOW = 1200.0  # mm; lower work is no tower where it stands broadly,
_LOW_NARROW = 750.0  # nor any that is lower than this, about the height of a bench
_BROAD = 1.5  # times as tall as the narrow side of what it stands on, at most
_TALL = 3.0  # for each metre that the work is taller than that
_REACHED = 2.0  # a part put on above the reach of the shoulder
_HEAVED = 6.0  # a heavy one put on overhead
_LIGHT = 15.0  # kg that one turns over without a thought
_HEFT = 15.0  # kg over that with which turning costs as much again

_OPPOSITE = {
    Posture.STANDING: Posture.UPSIDE_DOWN,
    Posture.UPSIDE_DOWN: Posture.STANDING,
    Posture.ON_LEFT: Posture.ON_RIGHT,
    Posture.ON_RIGHT: Posture.ON_LEFT,
    Posture.ON_FRONT: Posture.ON_BACK,
    Posture.ON_BACK: Posture.ON_FRONT,
}
_ABOVE = tuple(POSTURES.index(_OPPOSITE[q]) for q in POSTURES)


def axes_of(posture: Posture) -> tuple[Vec3, Vec3, Vec3]:
    """Return two level directions of the product in a posture, and the one that points up."""
    x, y, z = ON_FLOOR[posture]
    return (x[0], y[0], z[0]), (x[1], y[1], z[1]), (x[2], y[2], z[2])


_AXES = tuple(axes_of(q) for q in POSTURES)


@dataclass(eq=False)
class Footing:
    """How sets of parts stand in each posture, as one body each; remembers what it worked out."""

    facts: Sequence[PartFacts]
    _sums: dict[int, tuple[float, Vec3]] = field(default_factory=dict)
    _hulls: dict[tuple[int, int], tuple[Vec2, ...]] = field(default_factory=dict)
    _costs: dict[tuple[int, int, Vec3 | None], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        lows = [fact.lows for fact in self.facts]
        ways = range(len(POSTURES))
        self.lowest = [sorted(range(len(lows)), key=lambda part: lows[part][q]) for q in ways]
        self.near = [
            [
                sum(1 << n for n, low in enumerate(lows) if low[q] <= mine[q] + self.packed(q))
                for mine in lows
            ]
            for q in ways
        ]

    @staticmethod
    def packed(q: int) -> float:
        """Return how high over the floor a part may end that stands on it, packed up, mm."""
        return LEVEL if POSTURES[q] is Posture.STANDING else PACKED

    def weighed(self, mask: int) -> tuple[float, Vec3]:
        """Return the mass (kg) and the centre of mass of some parts, in the product."""
        if mask not in self._sums:
            poises = [self.facts[part].poise for part in members(mask)]
            whole = sum(p.mass for p in poises)
            share = [p.mass / whole for p in poises] if whole else [1 / len(poises)] * len(poises)
            x, y, z = (
                sum(p.middle[n] * s for p, s in zip(poises, share, strict=True)) for n in range(3)
            )
            self._sums[mask] = whole, (x, y, z)
        return self._sums[mask]

    def low(self, mask: int, q: int) -> float:
        """Return the lowest point of some parts in a posture, mm."""
        return self.facts[self._first(mask, q)].lows[q]

    def top(self, mask: int, q: int) -> float:
        """Return how tall some parts stand in a posture, mm."""
        return -self.low(mask, _ABOVE[q]) - self.low(mask, q)

    def margins(self, mask: int, q: int) -> tuple[float, float]:
        """Return how far inside its stand on the floor the centre of mass lies, and how high."""
        _, middle = self.weighed(mask)
        along, across, up = _AXES[q]
        depth = depth_inside((dot(middle, along), dot(middle, across)), self._stand(mask, q))
        return depth, dot(middle, up) - self.low(mask, q)

    def _depth_along(self, mask: int, q: int, way: Vec3) -> float:
        _, middle = self.weighed(mask)
        along, across, _ = _AXES[q]
        at = dot(middle, along), dot(middle, across)
        return depth_along(at, self._stand(mask, q), (dot(way, along), dot(way, across)))

    def _stand(self, mask: int, q: int) -> tuple[Vec2, ...]:
        """Return the hull of what reaches the floor."""
        along, across, up = _AXES[q]
        first = self._first(mask, q)
        on_floor = mask & self.near[q][first]
        if (on_floor, q) not in self._hulls:
            self._hulls[on_floor, q] = hull_of(
                (dot(corner, along), dot(corner, across))
                for part in members(on_floor)
                for corner in self.facts[part].poise.corners
                if dot(corner, up) <= self.facts[part].lows[q] + LEVEL
            )
        return self._hulls[on_floor, q]

    def cost(self, mask: int, q: int, way: Vec3 | None = None) -> float:
        """Return what it costs to work on some parts together in a posture.

        Args:
            way: the level one in which they are pushed; None for any.
        """
        key = mask, q, way
        if key not in self._costs:
            depth, height = self.margins(mask, q)
            top = self.top(mask, q)
            mass, _ = self.weighed(mask)
            cost = _TALL * max(0.0, top - self._low_enough(mask, q)) / 1000.0
            if lean_deg(depth, height) < LEAN:
                cost += _LEANS if mass > IN_HAND else _KEPT
            elif mass > IN_HAND:
                against = depth if way is None else self._depth_along(mask, q, way)
                bears = push_to_tip(mass, against, min(top, HIGH))
                cost += _PUSHED * max(0.0, 1 - bears / PUSH)
            self._costs[key] = cost
        return self._costs[key]

    def _low_enough(self, mask: int, q: int) -> float:
        """Return the height up to which work on some parts is no tower, mm."""
        hull = self._stand(mask, q)
        narrow = min((max(side) - min(side) for side in zip(*hull, strict=True)), default=0.0)
        return min(_LOW, max(_LOW_NARROW, _BROAD * narrow))

    def reached(self, moving: int, rest: int, q: int) -> float:
        """Return what it costs to put parts on so high."""
        mass, middle = self.weighed(moving)
        height = dot(middle, _AXES[q][2]) - min(self.low(moving, q), self.low(rest, q))
        if height > OVERHEAD and mass > IN_HAND:
            return _HEAVED
        return _REACHED if height > HIGH else 0.0

    def keeping(self, mask: int) -> float:
        """Return what it costs to keep parts up that would fall: with a hand, or a person more."""
        poises = [self.facts[part].poise for part in members(mask)]
        corners = [corner for poise in poises for corner in poise.corners]
        long = max((max(side) - min(side) for side in zip(*corners, strict=True)), default=0.0)
        return _KEPT if self.weighed(mask)[0] <= IN_HAND and long <= ARMS else HELD

    def heft(self, mask: int) -> float:
        """Return by how much more of itself the turning over of some parts costs."""
        return max(0.0, self.weighed(mask)[0] - _LIGHT) / _HEFT

    def _first(self, mask: int, q: int) -> int:
        return next(part for part in self.lowest[q] if mask >> part & 1)
