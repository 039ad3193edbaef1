"""The way in of parts that take more than one move, leg by leg, for a picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.frames import Vec3, add, cross, dot, scaled, sub
from kdkit.plan.motion.moves import reversed_moves
from kdkit.plan.plan import Operation, OperationKind, Slide, Tilt

__all__ = ["Legs", "legs_of", "turned_point", "turned_vector"]


@dataclass(frozen=True)
class Legs:
    """How parts come in.

    Args:
        first: the way from outside.
        further: the straight moves after that, as vectors.
        tilt: the last move, if they come in tilted.
    """

    first: Vec3
    further: tuple[Vec3, ...]
    tilt: Tilt | None

    @property
    def rest(self) -> Vec3:
        """All straight moves after the first, together."""
        total: Vec3 = (0.0, 0.0, 0.0)
        for leg in self.further:
            total = add(total, leg)
        return total

    def path(self, end: Vec3, room: float) -> tuple[Vec3, ...]:
        """Return where a point is at the start, at each turn of its way, and at its end.

        Args:
            room: how far outside it starts.
        """
        at = end if self.tilt is None else turned_point(end, self.tilt)
        found = [end] if self.tilt is None else [end, at]
        for leg in (*reversed(self.further), scaled(self.first, room)):
            at = sub(at, leg)
            found.append(at)
        return tuple(reversed(found))

    def stretches(self, ends: Sequence[Vec3], room: float) -> Iterator[tuple[Vec3, ...]]:
        """Yield for each leg, the tilt last, its start and end for each of some points."""
        paths = [self.path(end, room) for end in ends]
        for n in range(len(paths[0]) - 1):
            yield tuple(p for path in paths for p in (path[n], path[n + 1]))


def legs_of(operation: Operation) -> Legs | None:
    """Return the way in, or out read backwards; None for a single straight move."""
    if not operation.moves:
        return None
    leaves = operation.kind is OperationKind.REMOVE
    moves = reversed_moves(operation.moves) if leaves else operation.moves
    slides = [move for move in moves if isinstance(move, Slide)]
    tilt = next((move for move in moves if isinstance(move, Tilt)), None)
    further = tuple(scaled(s.way, s.length) for s in slides if not math.isinf(s.length))
    return Legs(first=slides[0].way, further=further, tilt=tilt)


def turned_point(point: Vec3, tilt: Tilt) -> Vec3:
    """Return where a point is before the tilt with which it comes to its place."""
    return add(tilt.point, turned_vector(sub(point, tilt.point), tilt))


def turned_vector(v: Vec3, tilt: Tilt) -> Vec3:
    """Return a vector turned back by a tilt (Rodrigues' formula)."""
    angle = -math.radians(tilt.angle_deg)
    along = scaled(tilt.axis, dot(tilt.axis, v) * (1.0 - math.cos(angle)))
    across = add(scaled(v, math.cos(angle)), scaled(cross(tilt.axis, v), math.sin(angle)))
    return add(across, along)
