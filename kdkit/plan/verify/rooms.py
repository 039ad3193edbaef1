"""Room for hands and tools, looked at once more to check what a certificate says of it.

It shares no code with ``reach``. The room is the eight-sided prism around the cylinder
that the catalogue gives the tool, on the item's axis: the blade's from the mouth on,
the hand's behind it, both longer by the item's travel. A piece of work is shut off when
each way of doing it has something in its room.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Action, Catalogue, FreeSpace
from kdkit.frames import Frame, Vec3, unit
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.plan.verify.meeting import Solid, bounds_of, find_meeting, overlaps, prism_solid

__all__ = ["Rooms"]

_MATING = ("mate", "lay-on", "slide-in", "hang", "run-in")
_WORKED = ("drive", "nail", "turn", "cap")
_TRAVELS = ("drive", "nail", "screw-in")
_OUT: tuple[Vec3, ...] = tuple(
    unit((float(x), float(y), float(z)))
    for x, y, z in itertools.product((-1, 0, 1), repeat=3)
    if (x, y, z) != (0, 0, 0)
)
"""The ways out that are tried for a hand: along the main axes and between them."""
_GIVE = 1.0  # mm; a blade that is shorter than its bore by no more still reaches
_FLAT = 0.1425  # tangent of 8 degrees; a mouth steeper than this is slanted


@dataclass(frozen=True)
class _Way:
    """One way of working: (from, to, diameter, is at the mouth) along an item's axis.

    ``blade``: how deep it reaches into a bore; 0 where the hand itself works.
    """

    stretches: tuple[tuple[float, float, float, bool], ...]
    blade: float = 0.0


class Rooms:
    """The rooms of a product while some parts are there.

    Args:
        wood: the parts that are there.
        hardware: (part, fastener, solid) of what sticks out of them.
    """

    def __init__(
        self,
        wood: Mapping[str, Solid],
        hardware: Sequence[tuple[str, str, Solid]],
        joinery: Joinery,
        catalogue: Catalogue,
    ) -> None:
        self._wood = wood
        self._hardware = hardware
        self._joinery = joinery
        self._catalogue = catalogue

    def is_shut(self, part: str, by: str) -> bool:
        """Tell whether a joint of two parts could not be fastened with all this there.

        Clamps are no reason: where a jaw finds no place, a caul or a band does.
        """
        pair = {part, by}
        for fastener in self._joinery.fasteners:
            if {fastener.butting, fastener.receiving} == pair:
                for action in self._actions(fastener, before=False):
                    if action.do in ("clamp", "adjust"):  # done apart, and with the door open
                        continue
                    if self._all_shut(fastener, action, pair, set()):
                        return True
        return False

    def is_too_late(self, fastener: Fastener, item: str | None, part: str) -> bool:
        """Tell whether an item could not be put into its part any more.

        The part that it is meant for is left out: it would not be there yet.
        """
        missing = {fastener.butting, fastener.receiving} - {part, None}
        without = {name for name in missing if name is not None}
        return any(
            self._all_shut(fastener, action, {part}, without | {part})
            for action in self._actions(fastener, before=True)
            if item is None or action.item == item
        )

    def _actions(self, fastener: Fastener, before: bool) -> Iterator[Action]:
        fitting = self._joinery.fittings.get(fastener.fitting)
        actions = fitting.actions if fitting is not None else ()
        joint = fastener.butting is not None
        mating = next((n for n, a in enumerate(actions) if a.do in _MATING), None)
        if mating is None:
            mating = next((n for n, a in enumerate(actions) if a.do in _WORKED), len(actions))
        for n, action in enumerate(actions):
            early = not joint or n < mating
            if action.stage == "home" and action.do not in _MATING and early is before:
                yield action

    def _ways(self, action: Action) -> list[_Way]:
        tools = self._catalogue.tools
        tool = tools.get(action.tool) if action.tool is not None else None
        rooms: list[FreeSpace] = []
        if tool is not None and tool.room:
            rooms += tool.room
        elif action.free is not None:
            rooms.append(action.free)
        if rooms and action.tool is not None:
            for other in tools.values():
                if other.instead_of == action.tool:
                    rooms += other.room
        item = self._catalogue.items.get(action.item or "")
        travel = 0.0
        if item is not None and action.do in _TRAVELS:
            travel = max(0.0, -min(piece.z0 for piece in item.pieces))
        ways = []
        for room in rooms:
            hand = (room.blade, room.length + travel, room.diameter, room.blade <= 0)
            blade = (0.0, room.blade + travel, room.blade_diameter, True)
            ways.append(_Way((blade, hand) if room.blade > 0 else (hand,), room.blade))
        return ways

    def _all_shut(
        self, fastener: Fastener, action: Action, members: set[str], without: set[str]
    ) -> bool:
        """Every way of an action is shut for one of its items."""
        ways = self._ways(action)
        placed = [p.frame for p in fastener.items if p.item == action.item]
        if not ways or not placed:
            return False
        names = [n for n in (fastener.butting, fastener.receiving) if n in members]
        for frame in placed:
            start, guide = self._mouth(frame, names)
            if all(
                0 < way.blade < start - _GIVE
                or any(
                    self._is_occupied(
                        frame,
                        max(low, start) if max(low, start) < high else high - 1.0,
                        high,
                        across,
                        without | ({guide} if guide and near else set()),
                        fastener.id,
                        guide if near else None,
                    )
                    for low, high, across, near in way.stretches
                    if high > start or not near
                )
                or self._is_shut_in(frame, way.stretches[-1], without)
                for way in ways
            ):
                return True
        return False

    def _is_shut_in(
        self, frame: Frame, hand: tuple[float, float, float, bool], without: set[str]
    ) -> bool:
        """Tell whether the tool's handle meets something on every straight way out."""
        low, high, across, _ = hand
        handle = prism_solid(frame, _ring(across), max(low, high - across), high)
        walls = [solid for name, solid in self._wood.items() if name not in without]
        return all(
            any(find_meeting(handle, wall, way) is not None for wall in walls) for way in _OUT
        )

    def _mouth(self, frame: Frame, names: Iterable[str]) -> tuple[float, str | None]:
        """Where the axis leaves the member that holds the mouth; that member if at a slant."""
        for name in names:
            if name not in self._wood:
                continue
            for at in (0.05, -0.05):
                outs = [self._leaves(name, frame, x, y, at) for x, y in ((0, 0), (1, 0), (0, 1))]
                if outs[0] is None:
                    continue
                steep = any(out is None or abs(out - outs[0]) > _FLAT for out in outs[1:])
                if at > 0 and outs[0] > 0:
                    return outs[0], name if steep else None
                if steep:
                    return 0.0, name
        return 0.0, None

    def _leaves(self, name: str, frame: Frame, x: float, y: float, at: float) -> float | None:
        start = frame.point_to_outer((x, y, 0.0))
        far = None
        for low, high in self._wood[name].spans(start, frame.k):
            if low - 0.06 <= (at if far is None else far) <= high + 0.06:
                far = high if far is None or high > far else far
        return far

    def _is_occupied(
        self,
        frame: Frame,
        low: float,
        high: float,
        across: float,
        without: set[str],
        fastener: str,
        guide: str | None,
    ) -> bool:
        room = prism_solid(frame, _ring(across), low, high)
        solids = [s for name, s in self._wood.items() if name not in without and name != guide]
        solids += [s for part, id, s in self._hardware if part not in without and id != fastener]
        box = bounds_of(room)
        for solid in solids:
            other = bounds_of(solid)
            if all(
                a < d and c < b
                for a, b, c, d in zip(box[0], box[1], other[0], other[1], strict=True)
            ) and overlaps(room, solid, frame.k):
                return True
        return False


def _ring(across: float) -> list[tuple[float, float]]:
    """Eight corners around a circle of that diameter."""
    corner = across / 2 / math.cos(math.pi / 8)
    turns = [(n + 0.5) * math.pi / 4 for n in range(8)]
    return [(corner * math.cos(a), corner * math.sin(a)) for a in turns]
