"""Every move of a cutter for one cut, from and to the safe height; program and plot read it.

A cutter goes down at its plunging feed from the near height, never at full speed, and takes
the depth in equal passes. A tool that must not plunge ramps down to and fro along its lane
before each pass. Between lanes of one pass it stays down, where all under it is cut.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from kdkit.catalogue.machines import Machine
from kdkit.frames import Vec2, Vec3
from kdkit.publish.workshop.programs.cuts import Cut
from kdkit.publish.workshop.programs.cutter_paths import (
    Path,
    Stretch,
    part_of_path,
    path_length,
    reversed_path,
)

__all__ = ["CutterMove", "cutter_moves", "passes_of"]

_SAME = 1e-6  # mm


@dataclass(frozen=True)
class CutterMove:
    """``kind``: ``rapid``, ``down`` (or up) at the plunging feed, ``cut``; an arc has a centre."""

    kind: str
    end: Vec3
    centre: Vec2 | None = None
    left: bool = False


def passes_of(cut: Cut, machine: Machine) -> tuple[float, ...]:
    """Return the Z of each pass: equal ones, none deeper than the tool's."""
    most = machine.tools[cut.tool].pass_depth
    if most is None:
        raise ValueError(f"T{cut.tool} is no cutter")
    count = math.ceil(-cut.floor / most - 1e-9)
    return tuple(cut.floor * n / count for n in range(1, count + 1))


def cutter_moves(cut: Cut, thickness: float, machine: Machine) -> Iterator[CutterMove]:
    """Yield the moves of a cut; ``thickness`` of the panel, mm, over which tabs are measured."""
    tool = machine.tools[cut.tool]
    near, safe = machine.near_height, machine.safe_height
    begin = cut.lanes[0][0].start
    slope = math.inf if tool.plunges else math.tan(math.radians(tool.ramp))
    done = 0.0
    yield CutterMove("rapid", (*begin, safe))
    at: Vec3 = (*begin, safe)
    for z in passes_of(cut, machine):
        tabs = _tabs(cut, z, thickness, tool.diameter, machine)
        for n, lane in enumerate(cut.lanes):
            start = lane[0].start
            if n == 0:
                if math.dist(at[:2], start) > _SAME:
                    yield CutterMove("rapid", (*at[:2], safe))
                    yield CutterMove("rapid", (*start, safe))
                    at = (*start, safe)
                if at[2] > near:
                    yield CutterMove("rapid", (*start, near))
                first = tabs[0][0] if tabs else path_length(lane)
                yield from _down(lane, start, done, z, slope, first)
            elif math.dist(at[:2], start) > _SAME:
                yield CutterMove("cut", (*start, z))
            for move in _along(lane, z, tabs, slope):
                yield move
                at = move.end
            if not path_length(lane):
                at = (*start, z)
        done = z
    yield CutterMove("rapid", (*at[:2], safe))


def _down(lane: Path, start: Vec2, done: float, z: float, slope: float,
          room: float) -> Iterator[CutterMove]:  # fmt: skip
    """Yield the way down to a pass, at the start of a lane: straight, or to and fro along it."""
    length = min(path_length(lane), room)
    if math.isinf(slope):
        yield CutterMove("down", (*start, z))
        return
    yield CutterMove("down", (*start, done))
    needed = (done - z) / slope
    there = min(length, needed / 2)
    turns = math.ceil(needed / (2 * there) - 1e-9)
    piece = tuple(stretch for stretch, _ in part_of_path(lane, 0.0, there))
    for n in range(turns):
        high, low = (done + (z - done) * (n + share) / turns for share in (0.0, 0.5))
        yield from _sloped(piece, high, low)
        yield from _sloped(reversed_path(piece), low, low + (low - high))


def _sloped(piece: Path, high: float, low: float) -> Iterator[CutterMove]:
    whole, gone = path_length(piece), 0.0
    for stretch in piece:
        gone += stretch.length
        z = high + (low - high) * gone / whole
        yield CutterMove("down", (*stretch.end, z), stretch.centre, stretch.left)


def _tabs(cut: Cut, z: float, thickness: float, diameter: float,
          machine: Machine) -> list[tuple[float, float, float]]:  # fmt: skip
    """Return where along the lane the cutter's middle is lifted: from, to, up to which Z.

    The tab that is left is shorter by the cutter's diameter.
    """
    top = -thickness + machine.cutting.tab_height
    if cut.holds != "tabs" or z > top - _SAME:
        return []
    length = path_length(cut.lanes[0])
    half = (machine.cutting.tab_length + diameter) / 2
    middles = [length * (n + 0.5) / cut.tabs for n in range(cut.tabs)]
    return [(m - half, m + half, top) for m in middles]


def _along(lane: Path, z: float, tabs: list[tuple[float, float, float]],
           slope: float) -> Iterator[CutterMove]:  # fmt: skip
    """Yield a lane at one depth, over its tabs; a tool that must not plunge slopes down again."""
    length, at = path_length(lane), 0.0
    for begin, end, top in tabs:
        yield from _level(lane, at, begin, z)
        here = _end_of(lane, begin)
        yield CutterMove("down", (*here, top))
        yield from _level(lane, begin, end, top)
        run = 0.0 if math.isinf(slope) else (top - z) / slope
        at = min(length, end + run)
        if run:
            for stretch, gone in part_of_path(lane, end, at):
                sloping = top - (gone - end) * slope
                yield CutterMove("down", (*stretch.end, sloping), stretch.centre, stretch.left)
        else:
            yield CutterMove("down", (*_end_of(lane, end), z))
    yield from _level(lane, at, length, z)


def _level(lane: Path, start: float, end: float, z: float) -> Iterator[CutterMove]:
    for stretch, _ in part_of_path(lane, start, end):
        yield CutterMove("cut", (*stretch.end, z), stretch.centre, stretch.left)


def _end_of(lane: Path, length: float) -> Vec2:
    """Return the point after a length of a path."""
    last: Stretch | None = None
    for last, _ in part_of_path(lane, 0.0, length):  # noqa: B007 - the last one is wanted
        pass
    return lane[0].start if last is None else last.end
