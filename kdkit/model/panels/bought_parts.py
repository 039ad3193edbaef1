"""Bought parts as slabs: a box, or a rod or tube as a prism of many sides."""

from __future__ import annotations

import math

from kdkit.diagnostics import Path, error
from kdkit.frames import Vec2
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.panels.panels import read_turns
from kdkit.model.panels.sides import part_box, sizes_are_fine
from kdkit.model.panels.slabs import AXIS_NAMES, Slab
from kdkit.units import TOLERANCE, mm_text

__all__ = ["bought_slab"]

_ROUND_SEGMENTS = 48


def bought_slab(name: str, said: says.Bought, path: Path, lengths: Lengths) -> Slab | None:
    """Return the slab of a bought part: a box, or a rod or tube as a prism of many sides."""
    ends = part_box(name, lengths)
    if ends is None or not sizes_are_fine(name, ends, path, lengths.problems):
        return None
    before = len(lengths.problems)
    sizes = [high - low for low, high in ends]
    turns = read_turns(said.turns, lengths, (*path, "turns"))
    if said.shape == "box":
        axis = min(range(3), key=lambda a: (sizes[a], a))
        u, v = (a for a in range(3) if a != axis)
        outline: tuple[Vec2, ...] = (
            (ends[u][0], ends[v][0]),
            (ends[u][1], ends[v][0]),
            (ends[u][1], ends[v][1]),
            (ends[u][0], ends[v][1]),
        )
        holes: tuple[tuple[Vec2, ...], ...] = ()
    else:
        axis = (
            max(range(3), key=lambda a: (sizes[a], -a))
            if said.along is None
            else AXIS_NAMES.index(said.along)
        )
        u, v = (a for a in range(3) if a != axis)
        if abs(sizes[u] - sizes[v]) > TOLERANCE:
            lengths.problems.append(
                error(
                    "not-round",
                    f"{name} is {mm_text(sizes[u])} × {mm_text(sizes[v])} mm across, not round",
                    (*path, AXIS_NAMES[v]),
                    where=name,
                    help="give both the same size, or say which axis it runs `along`"
                    if said.along is None
                    else f"it runs along {said.along}: give it the same size on the other two axes",
                )
            )
        centre = (sum(ends[u]) / 2, sum(ends[v]) / 2)
        outline = _circle(centre, sizes[u] / 2)
        holes = _tube_hole(name, said, centre, sizes[u], lengths, path)
    default = -1 if axis == 1 else 1
    if len(lengths.problems) > before:
        return None
    return Slab(
        axis=axis,
        low=ends[axis][0],
        high=ends[axis][1],
        thickness=ends[axis][1] - ends[axis][0],
        face=default,
        length_axis=u if sizes[u] >= sizes[v] - TOLERANCE else v,
        outline=outline,
        notched=(False,) * len(outline),
        bands={},
        cutouts=holes,
        turns=turns,
        smooth=said.shape != "box",
    )


def _tube_hole(
    name: str, said: says.Bought, centre: Vec2, diameter: float, lengths: Lengths, path: Path
) -> tuple[tuple[Vec2, ...], ...]:
    if said.shape != "tube":
        return ()
    if said.wall is None:
        lengths.problems.append(
            error("missing-key", f"the tube {name} needs its wall", path, help="wall: 1.5")
        )
        return ()
    wall = lengths.number(said.wall, (*path, "wall"))
    if wall is None:
        return ()
    if not 0 < wall < diameter / 2 - TOLERANCE:
        lengths.problems.append(
            error(
                "out-of-range",
                f"a wall of {mm_text(wall)} mm does not fit a tube of {mm_text(diameter)} mm",
                (*path, "wall"),
                where=name,
            )
        )
        return ()
    return (_circle(centre, diameter / 2 - wall),)


def _circle(centre: Vec2, radius: float) -> tuple[Vec2, ...]:
    """Return a regular polygon whose corners lie on the circle."""
    points = []
    for n in range(_ROUND_SEGMENTS):
        angle = 2 * math.pi * n / _ROUND_SEGMENTS
        points.append((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)))
    return tuple(points)
