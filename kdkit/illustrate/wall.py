"""The wall of the room, for the step that fixes the product to it."""

from __future__ import annotations

from kdkit.illustrate.bodies import box_body
from kdkit.illustrate.build_state import StepState
from kdkit.illustrate.scene import Workshop
from kdkit.illustrate.solids import Body
from kdkit.plan.plan import OperationKind

__all__ = ["wall_bodies"]

BESIDE = 180.0
"""How far the piece of wall goes on beside and over the product, mm."""

THICK = 12.0


def wall_bodies(shop: Workshop, state: StepState) -> tuple[Body, ...]:
    """Return a piece of wall right behind the product, or nothing in other steps."""
    if not any(o.kind is OperationKind.SECURE for o in state.operations):
        return ()
    corners = []
    for name in state.parts:
        part = shop.assembly.part(name)
        for x, y in part.outline:
            for z in (0.0, -part.thickness):
                corners.append(part.frame.point_to_outer((x, y, z)))
    x0, x1 = min(c[0] for c in corners), max(c[0] for c in corners)
    back = max(c[1] for c in corners)
    floor, top = min(c[2] for c in corners), max(c[2] for c in corners)
    low = (x0 - BESIDE, back + 1.0, floor)
    high = (x1 + BESIDE, back + 1.0 + THICK, top + BESIDE)
    return (box_body("wall", low, high, role="wall"),)
