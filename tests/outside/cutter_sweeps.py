"""What a cutter sweeps, move by move: written apart from kdkit, from the moves alone.

A judge runs the moves of a set-up forward over a block of wood, remembers what is gone down
to which level, and refuses what would break a cutter, spoil the panel or hurt somebody. A
sweep is a buffer round the way of the middle (shapely); arcs are taken in steps that leave
them by a hundredth of a millimetre at most.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from tests.outside.canned_cycles import Move, ProgramError
from tests.outside.canned_cycles import Point as Place

HAIR = 0.02  # mm; steps of arcs and of buffers leave less
SLIVER = 0.05  # mm²


@dataclass(frozen=True, kw_only=True)
class Cutter:
    """A line of the list of tools; ``ramp`` in degrees, None if it may plunge."""

    diameter: float
    reach: float
    most: float
    feed: float
    down: float
    ramp: float | None


@dataclass
class Judge:
    """Wood under a spindle.

    Args:
        block: the panel as it lies there, before any cut.
        stays: what of it is the finished panel, openings left out.
        recesses: plan and depth of what is to be cut out of the panel, not through.
        thick, beyond: of the panel; how far cuts go into the spoil board.
        beside: how far the middle goes beyond the block.
        safe, near: heights.
    """

    block: BaseGeometry
    stays: BaseGeometry
    recesses: list[tuple[BaseGeometry, float]]
    thick: float
    beyond: float
    beside: float
    safe: float
    near: float
    gone: dict[float, list[BaseGeometry]] = field(default_factory=dict)
    inner: BaseGeometry = field(init=False)

    def __post_init__(self) -> None:
        self.inner = self.stays.buffer(-HAIR / 2, join_style="mitre")

    def run(self, moves: Iterable[Move], cutters: dict[int, Cutter]) -> None:
        """Run moves; those of drills are only followed."""
        at: Place = (0.0, 0.0, self.safe)
        for move in moves:
            if move.tool in cutters and move.kind != "dwell":
                self._move(at, move, cutters[move.tool])
            at = move.end

    def _move(self, at: Place, move: Move, cutter: Cutter) -> None:
        end = move.end
        sideways = math.dist(at[:2], end[:2]) > 1e-9
        low = min(at[2], end[2])
        if move.kind == "rapid":
            if sideways and low < self.safe:
                raise ProgramError(f"travels at {low} over the panel, to {end}")
            if end[2] < min(at[2], self.near):
                raise ProgramError(f"goes down at full speed to {end}")
            return
        if not move.turning:
            raise ProgramError("cuts while it stands still")
        way = points_of(at, move)
        swept = (LineString(way) if sideways else Point(end[:2])).buffer(cutter.diameter / 2, 16)
        if low >= 0:
            if sideways:
                raise ProgramError(f"cuts in the air at {low}")
            return
        level = abs(at[2] - end[2]) < 1e-9
        if move.feed > (cutter.feed if level else max(cutter.down, 0)) + 1e-6:
            raise ProgramError(f"feeds with {move.feed}")
        if -low > cutter.reach + 1e-6 or -low > self.thick + self.beyond + 1e-6:
            raise ProgramError(f"{-low} mm deep")
        middle = self.block.buffer(self.beside + cutter.diameter / 2 + HAIR, join_style="mitre")
        if not middle.covers(LineString(way) if sideways else Point(end[:2])):
            raise ProgramError(f"leads beside the panel at {end}")
        wood = swept.intersection(self.block)
        if wood.area <= SLIVER:
            self._take(at[2], end[2], sideways, swept)
            return
        inside = wood.intersection(self.inner)
        if inside.area > SLIVER:
            deep = [p for p, depth in self.recesses if depth >= -low - 1e-3]
            spoilt = inside.difference(shapely.union_all([p.buffer(HAIR, join_style="mitre")
                                                          for p in deep]))  # fmt: skip
            if spoilt.area > SLIVER:
                raise ProgramError(f"spoils {spoilt.area:.2f} mm² at {low}, to {end}")
        if -low > cutter.most + 1e-3 and self._stands(wood, low + cutter.most):
            raise ProgramError(f"takes more than {cutter.most} mm in one pass at {low}, to {end}")
        if end[2] < at[2] and cutter.ramp is not None:
            flat = LineString(way).length if sideways else 0.0
            steep = math.degrees(math.atan2(at[2] - end[2], flat))
            if steep > cutter.ramp + 0.1 and self._stands(wood, low):
                raise ProgramError(f"goes down by {steep:.0f} degrees into wood at {end}")
        self._take(at[2], end[2], sideways, swept)

    def _take(self, before: float, after: float, sideways: bool, swept: BaseGeometry) -> None:
        """Remember what is gone: along a slope, only what is gone at its upper end."""
        level = round(max(before, after) if sideways else min(before, after), 3)
        if level < 0:
            self.gone.setdefault(level, []).append(swept)

    def _stands(self, wood: BaseGeometry, z: float) -> bool:
        """Tell whether some of the wood still stands above a level."""
        near = [p for level, all_ in self.gone.items() if level <= z + 1e-3
                for p in all_ if p.intersects(wood)]  # fmt: skip
        return wood.difference(shapely.union_all(near).buffer(HAIR)).area > SLIVER

    def down_to(self, z: float) -> BaseGeometry:
        """Return what is gone down to a level at least."""
        gone = [p for level, all_ in self.gone.items() if level <= z + 1e-3 for p in all_]
        return shapely.union_all(gone)

    def ask_for_recesses(self, widest: float) -> None:
        """Refuse wood that is left in a recess but in its corners, round by the widest cutter."""
        for plan, deep in self.recesses:
            left = plan.intersection(self.stays).difference(self.down_to(-deep).buffer(HAIR))
            for piece in getattr(left, "geoms", [left]):
                x0, y0, x1, y1 = piece.bounds if piece.area > SLIVER else (0, 0, 0, 0)
                if math.hypot(x1 - x0, y1 - y0) > widest * 0.75 or piece.area > widest**2 / 16:
                    raise ProgramError(f"{piece.area:.2f} mm² is left in a recess")

    def ask_for_the_shape(self, down: float, corners: int, widest: float) -> None:
        """Refuse a border of the finished panel that is cut by neither saw nor cutter.

        Args:
            down: to which depth at least, tabs or a skin below it.
            corners: how many may be left round.
        """
        border = self.stays.boundary.difference(self.block.boundary.buffer(0.05))
        left = border.difference(self.down_to(-down).buffer(3 * HAIR))
        if left.length > corners * widest + 0.1:
            raise ProgramError(f"{left.length:.1f} mm of the outline is not cut")


def points_of(at: Place, move: Move) -> list[tuple[float, float]]:
    """Return the way of a move in the plane."""
    if move.centre is None:
        return [at[:2], move.end[:2]]
    (cx, cy), radius = move.centre, math.dist(at[:2], move.centre)
    a, b = (math.atan2(p[1] - cy, p[0] - cx) for p in (at, move.end))
    turn = (b - a) % (2 * math.pi) if move.left else -((a - b) % (2 * math.pi))
    most = 2 * math.acos(1 - min(1.0, 0.005 / radius))
    steps = max(2, math.ceil(abs(turn) / most))
    return [
        (cx + radius * math.cos(a + turn * n / steps), cy + radius * math.sin(a + turn * n / steps))
        for n in range(steps + 1)
    ]
