"""A small product pulled apart in one picture: every part along its way, all hardware out."""

from __future__ import annotations

from dataclasses import replace

from kdkit.illustrate.build_state import StepState, step_state
from kdkit.illustrate.figure import Figure
from kdkit.illustrate.hidden import draw_bodies
from kdkit.illustrate.plates import lay_plates
from kdkit.illustrate.scene import Workshop, scene_bodies, scene_wires
from kdkit.illustrate.step_figure import crop
from kdkit.illustrate.style import Style
from kdkit.plan.plan import OperationKind, Plan
from kdkit.schedule.schedules import Schedules

__all__ = ["draw_exploded"]

WIDEST, HIGHEST = 150.0, 84.0
"""The most that the picture measures, mm."""

LARGEST = 0.4
"""Largest scale."""

_MOVES = (OperationKind.MATE, OperationKind.LOAD)


def draw_exploded(
    shop: Workshop, plan: Plan, schedules: Schedules, style: Style, *, title: str
) -> Figure | None:
    """Return the whole product pulled apart with its guide lines; None without a step.

    Hardware stands out of its bores whether the workshop or the buyer puts it in.

    Args:
        title: what it shows, for those who cannot see it.
    """
    if not plan.steps:
        return None
    state = _all_apart(shop, plan, schedules)
    plates, scale = lay_plates(shop, state, None, (WIDEST, HIGHEST), LARGEST)
    (plate,) = plates
    drawing = draw_bodies(
        scene_bodies(shop, plate.state, plate.apart, scale=scale),
        plate.view.at_scale(scale),
        scene_wires(plate.apart),
    )
    return replace(crop(drawing.primitives(), style.margin, title), scale=scale)


def _all_apart(shop: Workshop, plan: Plan, schedules: Schedules) -> StepState:
    """Return the last step's state with every part that moves and all hardware as new."""
    whole = tuple(part.name for part in shop.assembly.parts)
    there = replace(plan.steps[-1], present=whole)
    last = step_state(there, plan, shop.joinery, schedules)
    moves = [plan.operation(id) for id in plan.order]
    moved = [p for o in moves if o.kind in _MOVES for p in o.parts]
    return replace(
        last,
        operations=tuple(moves),
        parts=whole,
        new=tuple(dict.fromkeys(moved)) or whole,
        times={},
        bench=False,
        items=tuple(replace(one, new=True, turned=False) for one in last.items),
    )
