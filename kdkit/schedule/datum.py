"""Where a panel is measured from: its datum corner, in words and in numbers."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.frames import Vec2, cross, scaled
from kdkit.model.resolved import Part
from kdkit.parts.sameness import Motion
from kdkit.parts.size import part_size
from kdkit.parts.words import LOOKS, edge_side, edges_at, side_towards

__all__ = ["OPPOSITE", "Datum", "choose_datum", "face_side", "side_at"]

OPPOSITE = {
    "front": "back",
    "back": "front",
    "left": "right",
    "right": "left",
    "top": "bottom",
    "bottom": "top",
}
"""The side across from each."""

_PREFERRED = ("front", "bottom", "left")
"""A datum lies at the front if it can, then at the bottom, then at the left."""


@dataclass(frozen=True)
class Datum:
    """One corner of the outline's bounding rectangle.

    Args:
        far_x: the corner is at the far end of the length (x = length).
        far_y: the corner is at the far side of the width (y = width).
        corner: the two sides that meet in it, "front bottom".
        x_runs, y_runs: the side towards which x (along the length) and y grow.
    """

    size: tuple[float, float]
    far_x: bool
    far_y: bool
    corner: str
    x_runs: str
    y_runs: str

    def measure(self, p: Vec2) -> Vec2:
        """Return a panel-frame point as measured from this corner."""
        return (
            self.size[0] - p[0] if self.far_x else p[0],
            self.size[1] - p[1] if self.far_y else p[1],
        )

    def direction(self, d: Vec2) -> Vec2:
        """Return a panel-frame direction in the axes of this corner."""
        return (-d[0] if self.far_x else d[0], -d[1] if self.far_y else d[1])


def side_at(part: Part, axis: int, far: bool) -> str:
    """Return the side on which the bounding rectangle ends: x (0) or y (1), near or far.

    The side's name before any turn where an edge lies there; else, of a shaped
    panel, the opposite of the other end's; else where that end looks to.
    """
    sides = [_edge_side_at(part, axis, end) for end in (False, True)]
    if not sides[far] and sides[not far]:
        sides[far] = OPPOSITE[sides[not far]]
    return sides[far] or _nearest_side(part, axis, far)


def face_side(part: Part) -> str:
    """Return the side that the face looks to, before any turn, as the edges' sides say it."""
    return side_towards(cross(LOOKS[side_at(part, 0, True)], LOOKS[side_at(part, 1, True)]))


def _edge_side_at(part: Part, axis: int, far: bool) -> str:
    return next(filter(None, (edge_side(part, n) for n in edges_at(part, axis, far))), "")


def _nearest_side(part: Part, axis: int, far: bool) -> str:
    towards = part.frame.i if axis == 0 else part.frame.j
    return side_towards(towards if far else scaled(towards, -1.0))


def choose_datum(part: Part, mirrored: tuple[Datum, Motion] | None = None) -> Datum:
    """Return the datum of a part.

    Args:
        mirrored: datum of the part's mirror image, and the reflection that lays
            that one on this; the datum is then the mirrored corner, so that both
            show the same numbers.
    """
    if mirrored is not None:
        datum, motion = mirrored
        far_x, far_y = datum.far_x, datum.far_y
        if motion.swap:
            far_x, far_y = far_y, far_x
        return _datum(part, far_x != motion.flip_x, far_y != motion.flip_y)
    return _datum(
        part,
        *(
            side_at(part, axis, False) not in _PREFERRED and side_at(part, axis, True) in _PREFERRED
            for axis in (0, 1)
        ),
    )


def _datum(part: Part, far_x: bool, far_y: bool) -> Datum:
    ends = {side_at(part, 0, far_x), side_at(part, 1, far_y)}
    return Datum(
        size=part_size(part),
        far_x=far_x,
        far_y=far_y,
        corner=" ".join(side for side in LOOKS if side in ends),
        x_runs=side_at(part, 0, not far_x),
        y_runs=side_at(part, 1, not far_y),
    )
