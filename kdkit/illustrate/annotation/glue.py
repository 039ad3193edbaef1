"""Where glue goes: drops over the surfaces that are glued in a step."""

from __future__ import annotations

import math

from kdkit.frames import Vec2, add, scaled
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.figure import Area, Line, Primitive
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.choose_view import Shown, sees
from kdkit.illustrate.staging.explode import Apart
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.plan import OperationKind

__all__ = ["drop_places", "glue_drops"]

DROP = 1.5
"""Radius of the round end of a drop, mm."""

MOST = 3
"""Drops along one surface; more would only fill the picture."""


def glue_drops(
    subject: Subject, state: StepState, apart: Apart, shown: Shown, view: View
) -> list[Primitive]:
    """Return drops in the gap over every surface glued in this step, where they are seen."""
    shapes: list[Primitive] = []
    for tip in drop_places(subject, state, apart, shown, view):
        shapes += _drop(tip)
    return shapes


def drop_places(
    subject: Subject, state: StepState, apart: Apart, shown: Shown, view: View
) -> list[Vec2]:
    """Return where the tips of the drops point to, on paper."""
    glued = {
        joint
        for operation in state.operations
        if operation.kind is OperationKind.GLUE
        for joint in operation.joints
    }
    tips: list[Vec2] = []
    for joint in subject.joinery.joints:
        if joint.name not in glued or joint.receiving not in apart.parts:
            continue
        contact = joint.contact
        xs = [p[0] for p in contact.polygon]
        ys = [p[1] for p in contact.polygon]
        count = min(MOST, max(1, int((max(xs) - min(xs)) * view.scale / 12.0)))
        for n in range(count):
            along = min(xs) + (max(xs) - min(xs)) * (n + 0.5) / count
            at = contact.frame.point_to_outer((along, (min(ys) + max(ys)) / 2, 0.0))
            there = add(at, apart.parts[joint.receiving])
            here = add(at, apart.parts.get(joint.butting, apart.parts[joint.receiving]))
            places = [
                add(scaled(there, 1.0 - share), scaled(here, share))
                for share in (0.3, 0.5, 0.1, 0.7, 0.9)
            ]
            free = sees(places, view.toward, shown.parts)
            place = next((p for p, seen in zip(places, free, strict=True) if seen), None)
            if place is not None:
                x, y, _ = view.project(place)
                tips.append((x, y))
    return tips


def _drop(tip: Vec2) -> list[Primitive]:
    """Return a drop that hangs from its tip, with a white rim."""
    x, y = tip[0], tip[1] - 2.4 * DROP
    arc = [math.radians(-60 + 300 * n / 16) for n in range(17)]
    loop = (
        (x, y),
        *((x + DROP * math.cos(a), y + 2.0 * DROP + DROP * math.sin(a)) for a in arc),
    )
    return [
        Line(points=loop, pen="halo", closed=True),
        Area(outer=loop, tone="glue"),
        Line(points=loop, pen="edge", closed=True),
    ]
