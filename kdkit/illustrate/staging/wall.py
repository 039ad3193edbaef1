"""The wall of the room, for the step that fixes the product to it."""

from __future__ import annotations

import numpy as np

from kdkit.geometry.surfaces import part_box
from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.bodies.parts import box_body
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.plan import OperationKind

__all__ = ["is_at_wall", "wall_bodies"]

BESIDE = 180.0
"""How far the piece of wall goes on beside and over the product, mm."""

THICK = 12.0


def is_at_wall(state: StepState) -> bool:
    """Tell whether a step fixes the product to the wall behind it."""
    return any(o.kind is OperationKind.SECURE for o in state.operations)


def wall_bodies(subject: Subject, state: StepState) -> tuple[Body, ...]:
    """Return a piece of wall right behind the product, or nothing in other steps."""
    if not is_at_wall(state):
        return ()
    boxes = np.array([part_box(subject.assembly.part(name)) for name in state.parts])
    x0, _, floor = boxes[:, :3].min(axis=0).tolist()
    x1, back, top = boxes[:, 3:].max(axis=0).tolist()
    low = (x0 - BESIDE, back + 1.0, floor)
    high = (x1 + BESIDE, back + 1.0 + THICK, top + BESIDE)
    return (box_body("wall", low, high, role="wall"),)
