"""The plan as plain data, for programs."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from kdkit.plan.plan import Operation, Plan, Slide, Step, Tilt, WorkshopPlan
from kdkit.publish.results import Results

if TYPE_CHECKING:  # a check draws nothing
    from kdkit.illustrate import FigureScore

__all__ = ["plan_data", "render_plan_json", "score_data"]


def plan_data(plan: Plan) -> dict[str, Any]:
    """Return steps, operations, and every precedence with its reason.

    Directions are unit vectors in the finished product's frame (x right, y back, z up).
    """
    return {
        "motion_class": plan.motion_class,
        "search": plan.search,
        "cost": {"of_this_order": _number(plan.cost), "at_least": _number(plan.least_cost)},
        "mating_orders": dict(zip(("at_least", "at_most"), plan.mating_orders, strict=True)),
        "order_strength": round(plan.order_strength, 4),
        "persons": plan.persons,
        "floor_mm": [_number(length) for length in plan.floor],
        "room_mm": _number(max((o.room for o in plan.operations), default=0.0)),
        "minutes": _number(plan.minutes),
        "wait_minutes": _number(plan.wait_minutes),
        "steps": [_step(step) for step in plan.steps],
        "operations": [_operation(plan.operation(id)) for id in plan.order],
        "precedences": [
            {"before": p.before, "after": p.after, "reason": p.reason} for p in plan.precedences
        ],
        "workshop": [_workshop(made) for made in plan.workshop],
    }


def render_plan_json(results: Results) -> str:
    """Return ``plan.json``: the plan, with product, revision and letters of the parts."""
    said = results.resolved.said
    data = {
        "kdkit": 1,
        "product": getattr(said, "product", ""),
        "revision": getattr(said, "revision", ""),
        "batch": getattr(said, "batch", ""),
        "variant": results.resolved.variant,
        "parameters": {
            name: _number(value) for name, value in sorted(results.resolved.parameters.items())
        },
        "letters": {
            part.name: results.schedules.letter_of(part.name) for part in results.resolved.parts
        },
        **plan_data(results.plan),
    }
    if results.scores:
        data["figures"] = [score_data(score) for score in results.scores.values()]
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def score_data(score: FigureScore) -> dict[str, Any]:
    """Return a figure's score: shares from 0 to 1, lengths in mm on paper, degrees."""
    return {
        "step": score.step,
        "part": score.part,
        "new_seen": _score(score.new_seen),
        "bores_seen": _score(score.bores_seen),
        "bores_shown": _score(score.bores_shown),
        "context_seen": _score(score.context_seen),
        "smallest_bore_mm": _score(score.smallest_bore),
        "smallest_letter_mm": _score(score.smallest_letter),
        "turn_deg": _score(score.turn_deg),
        "turn_drawn": score.turn_drawn,
        "new_kinds": score.new_kinds,
        "fill": _score(score.fill),
    }


def _score(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _number(value: float) -> float | int:
    rounded = round(value, 4)
    return int(rounded) if rounded == int(rounded) else rounded


def _counts(items: Mapping[str, int]) -> dict[str, int]:
    return {key: items[key] for key in sorted(items)}


def _workshop(made: WorkshopPlan) -> dict[str, Any]:
    by_id = {operation.id: operation for operation in made.operations}
    return {
        "name": made.name,
        "parts": list(made.parts),
        "minutes": _number(made.minutes),
        "wait_minutes": _number(made.wait_minutes),
        "steps": [_step(step) for step in made.steps],
        "operations": [_operation(by_id[id]) for id in made.order],
        "precedences": [
            {"before": p.before, "after": p.after, "reason": p.reason} for p in made.precedences
        ],
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "number": step.number,
        "subassembly": step.subassembly,
        "posture": step.posture.value,
        "present": list(step.present),
        "new": list(step.new),
        "times": step.times,
        "others": list(step.others),
        "operations": list(step.operations),
        "items": _counts(step.items),
        "tools": list(step.tools),
        "persons": step.persons,
        "minutes": _number(step.minutes),
        "wait_minutes": _number(step.wait_minutes),
    }


def _move(move: Slide | Tilt) -> dict[str, Any]:
    """One of several moves; lengths in mm, none for the way in from outside."""
    if isinstance(move, Slide):
        length = None if math.isinf(move.length) else _number(move.length)
        return {"move": "slide", "way": [_number(c) for c in move.way], "length": length}
    return {
        "move": "tilt",
        "point": [_number(c) for c in move.point],
        "axis": [_number(c) for c in move.axis],
        "angle_deg": _number(move.angle_deg),
    }


def _operation(operation: Operation) -> dict[str, Any]:
    direction = operation.direction
    return {
        "id": operation.id,
        "kind": operation.kind.value,
        "parts": list(operation.parts),
        "onto": list(operation.onto),
        "direction": None if direction is None else [_number(c) for c in direction],
        **({"moves": [_move(move) for move in operation.moves]} if operation.moves else {}),
        "fasteners": list(operation.fasteners),
        "items": _counts(operation.items),
        "tool": operation.tool,
        "joints": list(operation.joints),
        "fixture": operation.fixture,
        "subassembly": operation.subassembly,
        "posture": operation.posture.value,
        "minutes": _number(operation.minutes),
        "mass_kg": _number(operation.mass),
        "hands_kg": _number(operation.hands),
        "held": list(operation.held),
        "in_hand": list(operation.in_hand),
        "braced": operation.braced,
        "lean_deg": None if operation.lean is None else _number(operation.lean),
        "push_n": None if operation.push is None else _number(operation.push),
        "height_mm": _number(operation.height),
        "room_mm": _number(operation.room),
        "pack_mm": _number(operation.pack),
        "rests": operation.rests,
        "pins": operation.pins,
        "glue_up": operation.glue_up,
        "strips_mm": _number(operation.strips),
        "clear_of": list(operation.clear_of),
        "persons": operation.persons,
        "aid": operation.aid,
        "why_two": [why.value for why in operation.why_two],
    }
