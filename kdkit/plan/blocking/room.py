"""The space that a hand or a tool takes, and how much of it something leaves free."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from kdkit.frames import Frame, Vec2
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.sweep import Polytope, overlap, prism
from kdkit.units import TOLERANCE

__all__ = ["AROUND", "GIVE", "Hit", "Lack", "Space", "measure"]

GIVE = 1.0  # mm by which something may reach into the space: common practice, no source
_SIDES = 8
AROUND = 1 / math.cos(math.pi / _SIDES)
_FAR = 10_000.0  # mm; longer than any tool
_HALVINGS = 18


@dataclass(frozen=True)
class Space:
    """A cylinder: from ``start`` to ``end`` along k of a frame, mm from an item's head.

    Args:
        nearest: it begins at the mouth.
        thin: the radius of the blade in front of the hand; of a tool without one, as much
            as its own.
        whole: mm from the item's head to the end of the tool with the hand on it.
    """

    frame: Frame
    start: float
    end: float
    radius: float
    nearest: bool
    thin: float
    whole: float

    def shape(self) -> Polytope:
        """The eight-sided prism around it."""
        return self._round(self.radius, self.start, self.end)

    def handle(self) -> Polytope:
        """The far end of it, as long as it is wide."""
        start = max(self.start, self.end - 2 * self.radius)
        return self._round(self.radius, start, self.end)

    def is_met(
        self, shape: Polytope, radius: float, start: float, end: float, give: float = TOLERANCE
    ) -> bool:
        """Tell whether something reaches into a cylinder on the same axis."""
        if end - start < 1e-6 or radius < 1e-6:
            return False
        return overlap(self._round(radius, start, end), shape, give)

    def _round(self, radius: float, start: float, end: float) -> Polytope:
        return prism(self.frame, _ring(radius), start, end)


@dataclass(frozen=True, eq=False)
class Hit:
    """A body in a space, which counts in the company of some parts beside the members."""

    others: frozenset[str]
    space: Space
    body: Body


@dataclass(frozen=True, kw_only=True)
class Lack:
    """What a body leaves of a space.

    Args:
        part: that the body belongs to.
        in_line: the length is too short; else something stands beside the axis.
        needed, free: mm along the axis from the item's head, or from the axis outwards.
        beyond: mm from the item's head at which a handle would be past what stands beside
            the axis; None where nothing reaches past it.
    """

    part: str
    in_line: bool
    needed: float
    free: float
    beyond: float | None = None

    @property
    def missing(self) -> float:
        """By how much it is too little, mm."""
        return self.needed - self.free


def measure(hit: Hit) -> Lack:
    """Return how much of a space a body that reaches into it leaves free."""
    space, shape = hit.space, hit.body.shape

    def length_is_free(end: float) -> bool:
        return not space.is_met(shape, space.radius, space.start, end)

    def radius_is_free(radius: float) -> bool:
        return not space.is_met(shape, radius, space.start, space.end)

    def handle_is_free(start: float) -> bool:
        return not space.is_met(shape, space.radius, -start, _FAR)

    if space.is_met(shape, min(space.thin, space.radius), space.start, space.end, GIVE):
        free = _most(length_is_free, space.start, space.end)
        return Lack(part=hit.body.part, in_line=True, needed=space.whole, free=free)
    free = _most(radius_is_free, 0.0, space.radius)
    beyond = -_most(handle_is_free, -_FAR / 2, -space.start)
    passes = not space.is_met(shape, space.thin, space.start, beyond, GIVE)
    return Lack(
        part=hit.body.part,
        in_line=False,
        needed=space.radius,
        free=free,
        beyond=beyond if passes and space.thin < space.radius else None,
    )


def _most(is_free: Callable[[float], bool], low: float, high: float) -> float:
    """Return the greatest value for which something is free; it is free at the lowest."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if is_free(middle) else (low, middle)
    return low


def _ring(radius: float) -> tuple[Vec2, ...]:
    turns = [(n + 0.5) * 2 * math.pi / _SIDES for n in range(_SIDES)]
    return tuple((radius * AROUND * math.cos(a), radius * AROUND * math.sin(a)) for a in turns)
