"""What a posture costs for how the work stands in it: steady or not, low or tall, light or heavy.

A maker builds wide and low, below the shoulder, and turns the work over while it is light.
The costs are common practice, no source; the margins stand in ``balance``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

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
from kdkit.plan.choice.resting import LEVEL, STEADY, is_under

__all__ = [
    "ARMS",
    "HELD",
    "HIGH",
    "IN_HAND",
    "OVERHEAD",
    "PACKED",
    "Footing",
    "axes_of",
    "in_posture",
]

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
_WAYS = range(len(POSTURES))


def in_posture(point: Vec3, q: int) -> Vec3:
    """Return a point of the product as it lies in the posture of that number; z is up."""
    along, across, up = _AXES[q]
    return dot(point, along), dot(point, across), dot(point, up)


Row = tuple[tuple[float, int], ...]


@dataclass(eq=False)
class Footing:
    """How sets of parts stand in each posture, as one body each; remembers what it worked out.

    What is remembered is known by the mask of the parts, the number of the posture and, for
    pushes, their way. A set
    that was not asked for yet costs as its parts are many, and its hull as what its floor
    points are in columns: in furniture few, since boards end in common planes.
    """

    facts: Sequence[PartFacts]
    _sums: dict[int, tuple[float, Vec3]] = field(default_factory=dict)
    _solids: dict[int, Vec3] = field(default_factory=dict)
    _lows: dict[int, tuple[float, ...]] = field(default_factory=dict)
    _columns: dict[tuple[int, float, float], Columns] = field(default_factory=dict)
    _hulls: dict[tuple[int, int, float, float], tuple[Vec2, ...]] = field(default_factory=dict)
    _costs: dict[tuple[int, int, Vec3 | None], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._at = [fact.lows for fact in self.facts]
        self._order = [
            sorted(range(len(self._at)), key=lambda part: self._at[part][q]) for q in _WAYS
        ]
        poises = [fact.poise for fact in self.facts]
        self._masses = [p.mass for p in poises]
        self._volumes = [p.volume for p in poises]

    @cached_property
    def flat(self) -> list[list[list[Vec3]]]:
        """For each posture and part its corners: along, across, up."""
        return [
            [[in_posture(c, q) for c in fact.poise.corners] for fact in self.facts] for q in _WAYS
        ]

    def weighed(self, mask: int) -> tuple[float, Vec3]:
        """Return the mass (kg) and the centre of mass of some parts, in the product."""
        if mask not in self._sums:
            self._sums[mask] = _centre(self.facts, members(mask), self._masses)
        return self._sums[mask]

    def is_carried(self, mask: int, carriers: int, q: int, on_floor: bool) -> bool:
        """Tell whether some parts stay where they are put, as one, without being held.

        Args:
            carriers: mask of the parts that lie under them and may carry them.
            on_floor: the floor carries them too.
        """
        if mask not in self._solids:
            self._solids[mask] = _centre(self.facts, members(mask), self._volumes)[1]
        x, y, height = in_posture(self._solids[mask], q)
        floor = self.lows(mask)[q]
        touched = [
            in_posture(corner, q)
            for part in (members(mask) if carriers else ())
            for touch in self.facts[part].poise.touches
            if carriers >> touch.other & 1 and is_under(touch, q)
            for corner in touch.corners
        ]
        low: float = min([*([floor] if on_floor else ()), *(up for _, _, up in touched)])
        if on_floor and not touched:
            hull = self.hull(mask, q, floor)
        else:
            ground = self.on_floor(mask, q, floor) if on_floor else ()
            hull = hull_of([*ground, *((u, v) for u, v, _ in touched)])
        return depth_inside((x, y), hull) >= STEADY * (height - low)

    def lows(self, mask: int) -> tuple[float, ...]:
        """Return the lowest point of some parts in each posture, mm."""
        if mask not in self._lows:
            self._lows[mask] = tuple(
                self._at[next(part for part in order if mask >> part & 1)][q]
                for q, order in enumerate(self._order)
            )
        return self._lows[mask]

    def high(self, mask: int, q: int) -> float:
        """Return the highest point of some parts in a posture, mm."""
        return -self.lows(mask)[_ABOVE[q]]

    def top(self, mask: int, q: int) -> float:
        """Return how tall some parts stand in a posture, mm."""
        return self.high(mask, q) - self.lows(mask)[q]

    def on_floor(self, mask: int, q: int, floor: float) -> Iterator[Vec2]:
        """Return the outer points of some parts that reach a floor of that height, mm."""
        return self._columns_at(q, floor).ends(mask)

    @staticmethod
    def packed(q: int) -> float:
        """Return how high over the floor a part may end that stands on it, packed up, mm."""
        return LEVEL if POSTURES[q] is Posture.STANDING else PACKED

    def hull(self, mask: int, q: int, floor: float, pack: float = LEVEL) -> tuple[Vec2, ...]:
        """Return the hull of what reaches the floor of some parts in a posture, as it lies there.

        Args:
            floor: its height in that posture, mm.
            pack: how high over it a part may end that reaches it, packed up, mm.
        """
        columns = self._columns_at(q, floor, pack)
        on_floor = mask & columns.parts
        key = on_floor, q, floor, pack
        if key not in self._hulls:
            self._hulls[key] = hull_of(columns.ends(on_floor))
        return self._hulls[key]

    def margins(self, mask: int, q: int) -> tuple[float, float]:
        """Return how far inside its stand on the floor the centre of mass lies, and how high."""
        _, middle = self.weighed(mask)
        along, across, up = _AXES[q]
        depth = depth_inside((dot(middle, along), dot(middle, across)), self._stand(mask, q))
        return depth, dot(middle, up) - self.lows(mask)[q]

    def _depth_along(self, mask: int, q: int, way: Vec3) -> float:
        _, middle = self.weighed(mask)
        along, across, _ = _AXES[q]
        at = dot(middle, along), dot(middle, across)
        return depth_along(at, self._stand(mask, q), (dot(way, along), dot(way, across)))

    def _stand(self, mask: int, q: int) -> tuple[Vec2, ...]:
        """Return the hull of what reaches the floor, packed up or not."""
        return self.hull(mask, q, self.lows(mask)[q], self.packed(q))

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
        height = dot(middle, _AXES[q][2]) - min(self.lows(moving)[q], self.lows(rest)[q])
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

    def _columns_at(self, q: int, floor: float, pack: float = LEVEL) -> Columns:
        key = q, floor, pack
        if key not in self._columns:
            self._columns[key] = Columns.of(
                (1 << part, (x, y))
                for part, corners in enumerate(self.flat[q])
                if self._at[part][q] <= floor + pack
                for x, y, up in corners
                if up <= (floor if pack == LEVEL else self._at[part][q]) + LEVEL
            )
        return self._columns[key]


def _centre(
    facts: Sequence[PartFacts], parts: Sequence[int], weights: Sequence[float]
) -> tuple[float, Vec3]:
    """Return the sum of some parts' weights, and their middle by them."""
    middles = [facts[part].poise.middle for part in parts]
    if len(parts) == 1:
        return weights[parts[0]], middles[0]
    own = [weights[part] for part in parts]
    whole = sum(own)
    if not whole:
        own = [1.0] * len(parts)
    x, y, z = (
        sum([m[n] * w for m, w in zip(middles, own, strict=True)]) / (whole or len(parts))
        for n in range(3)
    )
    return whole, (x, y, z)


@dataclass(frozen=True, eq=False)
class Columns:
    """Points of parts, those of one x together; of each column only the ends are in a hull.

    Args:
        rows: for each x, rising, the y and whose they are (a mask), rising, and falling.
        parts: mask of all that have a point.
    """

    rows: tuple[tuple[float, Row, Row], ...]
    parts: int

    @classmethod
    def of(cls, points: Iterable[tuple[int, Vec2]]) -> Columns:
        """Return the columns of points, each with the mask of the part that has it."""
        found: dict[float, dict[float, int]] = {}
        parts = 0
        for owner, (x, y) in points:
            parts |= owner
            column = found.setdefault(x, {})
            column[y] = column.get(y, 0) | owner
        rows = ((x, tuple(sorted(column.items()))) for x, column in sorted(found.items()))
        return cls(tuple((x, row, row[::-1]) for x, row in rows), parts)

    def ends(self, mask: int) -> Iterator[Vec2]:
        """Return the ends of each column among the points of some parts."""
        for x, rising, falling in self.rows:
            for y, owners in rising:
                if owners & mask:
                    yield x, y
                    break
            else:
                continue
            yield x, next(y for y, owners in falling if owners & mask)
