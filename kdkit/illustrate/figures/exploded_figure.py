"""A small product pulled apart in one picture: every part along its way, all hardware out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from kdkit.catalogue.entries import Item
from kdkit.frames import Vec3, add, dot, scaled
from kdkit.geometry.assembly import ContactKind
from kdkit.illustrate.figures.step_figure import crop
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.build_state import StepState, step_state
from kdkit.illustrate.staging.choose_view import LOOKS, PREFERENCE, ShownPart, sees
from kdkit.illustrate.staging.explode import Apart, item_frame, move_apart
from kdkit.illustrate.staging.plates import plate_bounds
from kdkit.illustrate.staging.subject import Subject, step_bodies, step_wires
from kdkit.plan.plan import Operation, OperationKind, Plan
from kdkit.schedule.schedules import Schedules

__all__ = ["draw_exploded"]

WIDEST, HIGHEST = 140.0, 66.0
"""The most that the picture measures, mm."""

LARGEST = 0.4
"""Largest scale."""

GAP, ITEM_GAP = 60.0, 22.0
"""White between parts, and from hardware to its bore, mm of the product."""

SURFACES = 0.5
"""How much seeing where parts meet counts beside seeing the hardware."""

_MOVES = (OperationKind.MATE, OperationKind.LOAD)
_ALONG = (0.1, 0.35, 0.65, 0.9)
_NUDGE = 0.5

_Mark = tuple[Vec3, Vec3, float]
"""A point in the picture's places, the way it faces (or nothing), its weight."""

_ANY: Vec3 = (0.0, 0.0, 0.0)


def draw_exploded(
    subject: Subject, plan: Plan, schedules: Schedules, style: Style, *, title: str
) -> Figure | None:
    """Return the whole product pulled apart with its guide lines; None without a step.

    Hardware stands out of its bores whether the workshop or the buyer puts it in. The look
    is the one that shows most of it, and of the surfaces that meet.

    Args:
        title: what it shows, for those who cannot see it.
    """
    if not plan.steps:
        return None
    state = _all_apart(subject, plan, schedules)
    apart = move_apart(
        state,
        subject.assembly,
        subject.joinery,
        subject.catalogue.items,
        gap=GAP,
        item_gap=ITEM_GAP,
    )
    view = _clearest(subject, state, apart)
    x0, y0, x1, y1 = plate_bounds(subject, state, apart, view.at_scale(1.0))
    scale = min(LARGEST, WIDEST / (x1 - x0), HIGHEST / (y1 - y0))
    drawing = draw_bodies(
        step_bodies(subject, state, apart, scale=scale), view.at_scale(scale), step_wires(apart)
    )
    return replace(crop(drawing.primitives(), style.margin, title), scale=scale)


def _all_apart(subject: Subject, plan: Plan, schedules: Schedules) -> StepState:
    """Return the last step's state with every part that moves and all hardware as new."""
    whole = tuple(part.name for part in subject.assembly.parts)
    there = replace(plan.steps[-1], present=whole)
    last = step_state(there, plan, subject.joinery, schedules)
    moves = [_straight(plan.operation(id), subject) for id in plan.order]
    moved = [p for o in moves if o.kind in _MOVES for p in o.parts]
    return replace(
        last,
        operations=tuple(moves),
        parts=whole,
        new=tuple(dict.fromkeys(moved)) or whole,
        times={},
        bench=False,
        items=tuple(replace(one, new=True, turned=False, adjusted=False) for one in last.items),
    )


def _straight(operation: Operation, subject: Subject) -> Operation:
    """Return an operation that makes one joint with its way square to it; a door's stays.

    Where a plan moves one part past the other, what is fixed to either would be drawn
    behind the other, or in it.
    """
    joints = [j for j in subject.joinery.joints if j.name in operation.joints]
    if operation.kind is not OperationKind.MATE or len(joints) != 1:
        return operation
    (joint,) = joints
    if joint.contact.kind is ContactKind.HUNG:
        return operation
    sign = -1.0 if joint.butting in operation.parts else 1.0
    return replace(operation, direction=scaled(joint.contact.frame.k, sign))


def _clearest(subject: Subject, state: StepState, apart: Apart) -> View:
    parts = [
        ShownPart(part=subject.assembly.part(name), shift=apart.parts[name]) for name in state.parts
    ]
    hardware = list(_hardware(subject, state, apart))
    surfaces = list(_surfaces(subject, apart)) or list(_mouths(subject, apart))

    def score(n: int) -> float:
        toward = View(viewpoint=LOOKS[n]).toward
        seen = _share(hardware, toward, parts) + SURFACES * _share(surfaces, toward, parts)
        return seen + PREFERENCE[n]

    best = max(range(len(LOOKS)), key=lambda n: (round(score(n), 4), -n))
    return View(viewpoint=LOOKS[best])


def _share(marks: list[_Mark], toward: Vec3, parts: list[ShownPart]) -> float:
    """Return how much of some marks is turned to the viewer and free, 0 to 1."""
    if not marks:
        return 0.0
    free = sees([at for at, _, _ in marks], toward, parts)
    turned = [1.0 if out == _ANY else max(0.0, dot(out, toward)) for _, out, _ in marks]
    weights = [weight for _, _, weight in marks]
    seen = sum(f * t * w for f, t, w in zip(free, turned, weights, strict=True))
    return float(seen) / sum(weights)


def _hardware(subject: Subject, state: StepState, apart: Apart) -> Iterator[_Mark]:
    """Yield points on the axis of every piece; a large one counts more."""
    for one, shift in zip(state.items, apart.items, strict=True):
        item = subject.catalogue.items[one.item.item]
        frame = item_frame(one, shift)
        low, high = min(p.z0 for p in item.pieces), max(p.z1 for p in item.pieces)
        for share in _ALONG:
            yield (
                frame.point_to_outer((0.0, 0.0, low + share * (high - low))),
                _ANY,
                _size(item),
            )


def _size(item: Item) -> float:
    """Return what a piece counts for: small ones nearly as much as large ones."""
    reach = max(max(p.d0, p.d1 or 0.0) / 2 + max(map(abs, p.at)) for p in item.pieces)
    length = max(p.z1 for p in item.pieces) - min(p.z0 for p in item.pieces)
    return math.sqrt(max(2 * reach, length))


def _surfaces(subject: Subject, apart: Apart) -> Iterator[_Mark]:
    """Yield points on both surfaces of every contact."""
    for contact in subject.assembly.contacts:
        xs, ys = ([p[axis] for p in contact.polygon] for axis in (0, 1))
        for share in _ALONG:
            x = min(xs) + share * (max(xs) - min(xs))
            at = contact.frame.point_to_outer((x, (min(ys) + max(ys)) / 2, 0.0))
            for name, k in (
                (contact.receiving, contact.frame.k),
                (contact.butting, scaled(contact.frame.k, -1.0)),
            ):
                inside = contact.sunk if name == contact.butting else 0.0
                foot = add(add(at, apart.parts[name]), scaled(k, inside + _NUDGE))
                yield foot, k, 1.0


def _mouths(subject: Subject, apart: Apart) -> Iterator[_Mark]:
    """Yield the mouths of bores that hold something."""
    for bore in subject.joinery.bores:
        if not bore.spare:
            frame = subject.assembly.part(bore.part).frame
            out = scaled(frame.vector_to_outer(bore.into), -1.0)
            at = add(frame.point_to_outer(bore.mouth), apart.parts[bore.part])
            yield add(at, scaled(out, _NUDGE)), out, 1.0
