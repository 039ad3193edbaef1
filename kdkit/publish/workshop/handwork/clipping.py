"""What of a line or a ring lies in a box."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kdkit.frames import Vec2
from kdkit.publish.workshop.drawings.drawing_sheet import Box

__all__ = ["clip_line", "clip_ring"]


def clip_line(a: Vec2, b: Vec2, box: Box) -> tuple[Vec2, Vec2] | None:
    """Return the part of a line in a box, None if there is none.

    Source:
        Liang and Barsky 1984, from memory.
    """
    first, last = 0.0, 1.0
    d = (b[0] - a[0], b[1] - a[1])
    for axis in (0, 1):
        for way, room in ((-d[axis], a[axis] - box[axis]), (d[axis], box[axis + 2] - a[axis])):
            if way == 0:
                if room < 0:
                    return None
            elif way < 0:
                first = max(first, room / way)
            else:
                last = min(last, room / way)
    if first >= last:
        return None
    return (
        (a[0] + d[0] * first, a[1] + d[1] * first),
        (a[0] + d[0] * last, a[1] + d[1] * last),
    )


def clip_ring(points: Sequence[Vec2], box: Box) -> Iterator[tuple[Vec2, Vec2]]:
    """Yield what of the sides of a closed polygon lies in a box."""
    for n, p in enumerate(points):
        found = clip_line(p, points[(n + 1) % len(points)], box)
        if found is not None:
            yield found
