"""The picture of one step: first what it shows, then its size on paper.

``sketch_step`` takes a step's state and settles all that does not depend on the size:
view, parts apart along their true way, hidden lines, magnified details. ``set_step``
composes that for the room which the page leaves; nothing is scaled after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.illustrate.annotation.detail import draw_detail
from kdkit.illustrate.annotation.detail_choice import pick_details
from kdkit.illustrate.annotation.letters import BALL, Named
from kdkit.illustrate.annotation.turning import (
    looked_round_inset,
    square_inset,
    turning_inset,
    turning_shapes,
)
from kdkit.illustrate.composition.compose import compose, is_clear, measure
from kdkit.illustrate.composition.unplaced import Unplaced
from kdkit.illustrate.hidden_lines.drawing import Drawing, draw_bodies
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.paper.figure import Figure, Primitive
from kdkit.illustrate.paper.figure_box import FigureBox, FigureWish
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.plates import Plate, lay_plates
from kdkit.illustrate.staging.subject import Subject, step_bodies, step_wires
from kdkit.illustrate.staging.tilted import as_held, held_items
from kdkit.illustrate.staging.wall import wall_bodies
from kdkit.joinery.placed import Joinery
from kdkit.parts.size import part_size
from kdkit.plan.plan import Operation, OperationKind, Posture
from kdkit.schedule.schedules import Schedules

__all__ = ["HIGHEST", "WIDEST", "StepSketch", "set_step", "sketch_step", "wish_of"]

WIDEST, HIGHEST = 178.0, 108.0
"""The room of a step's figure when no page says another, mm."""

MOST = 205.0
"""More height than this is never asked for, mm."""

LEAST = 42.0
SMALLER, SMALLER_ON_BENCH = 0.58, 0.52
"""A figure is not made smaller than this, mm, nor than this share of its best height."""

LARGEST = 0.25
"""Largest scale of a step, 1 : 4."""

BENCH_LENGTH = 150.0
"""The longest part of a product on the bench, mm; shorter ones keep the scale."""

BENCH_LARGEST = 0.2
"""Largest scale on the bench, 1 : 5; details show what is small."""

SHRUNK = 0.5
"""Beside details of a fixed size a drawing is not made smaller than this share of its best."""

RISE = 9.0
"""Steps in which the least height is looked for that leaves room for everything, mm."""

SPARE = 3.0
"""What the same figure may need more when letters are added to it, mm."""

NAMED_THERE = 8
"""Of the parts that are there already no more than this are named."""

TURN_SIZE = 60.0
"""Largest size of the work in a picture that shows only its turning, mm."""


@dataclass(frozen=True, kw_only=True)
class StepSketch:
    """All of a step's picture but its size.

    ``turned``: for a step in which the work is only turned: from this posture.
    ``turn_drawn``: an inset shows how the work, or where it is seen from, is turned.
    """

    name: str
    state: StepState
    plates: tuple[Plate, ...]
    unplaced: Unplaced | None
    turned: Posture | None = None
    turn_drawn: bool = False


@dataclass(frozen=True, kw_only=True)
class StepPicture:
    """A step's figure and the drawings in it.

    ``complete``: everything has its place. ``clear``: and no leader runs across the work.
    """

    figure: Figure
    drawings: tuple[Drawing, ...]
    scale: float
    complete: bool = True
    clear: bool = True


def sketch_step(
    subject: Subject,
    state: StepState,
    schedules: Schedules,
    last: Viewpoint | None,
    before: Posture | None,
) -> StepSketch:
    """Return what a step's picture shows.

    Args:
        subject: parts, joinery, catalogue.
        state: what stands in the picture.
        schedules: letters and numbers.
        last: the look of the step before, None for the first.
        before: how the work lay before this step, None when it did not exist.
    """
    name = f"step-{state.step.number}"
    room = (WIDEST - 2 * (BALL + 4.0), HIGHEST - 2 * (BALL + 4.0))
    largest = LARGEST
    if state.bench:
        longest = max(part_size(part)[0] for part in subject.assembly.parts)
        largest = min(BENCH_LARGEST, BENCH_LENGTH / longest)
    subject, state = as_held(subject, state), held_items(state)
    plates, scale = lay_plates(subject, state, last, room, largest)
    only_turned = all(o.kind in (OperationKind.TURN, OperationKind.STAND) for o in state.operations)
    if only_turned and before is not None and before is not state.step.posture:
        return StepSketch(name=name, state=state, plates=plates, unplaced=None, turned=before)
    details = pick_details(plates, subject)
    drawings = tuple(
        draw_bodies(
            (
                *step_bodies(subject, plate.state, plate.apart, scale=scale),
                *wall_bodies(subject, plate.state),
            ),
            plate.view.at_scale(scale),
            step_wires(plate.apart),
        )
        for plate in plates
    )
    turning = [turning_inset(subject, state, before)]
    if last is not None and before is not None and not (turning[0] or state.bench):
        seen = View(viewpoint=last, posture=before)
        turning.append(looked_round_inset(subject, state, seen, plates[0].view))
    return StepSketch(
        name=name,
        state=state,
        plates=plates,
        turn_drawn=any(turning),
        unplaced=Unplaced(
            plates=plates,
            drawings=drawings,
            drawn_at=scale,
            largest=largest,
            details=details,
            windows=tuple(draw_detail(d, plates[d.plate], subject) for d in details),
            insets=tuple(i for i in (*turning, square_inset(subject, state)) if i),
            named=_named(plates, schedules, subject.joinery),
            numbers={line.item: line.number for line in schedules.hardware},
        ),
    )


def wish_of(sketch: StepSketch, subject: Subject, style: Style) -> FigureWish:
    """Return the heights that a step's figure can make use of."""
    box = FigureBox(width=WIDEST, height=MOST)
    unplaced = sketch.unplaced
    subject = as_held(subject, sketch.state)
    if unplaced is None:
        height, crowded = set_step(sketch, box, subject, style).figure.height, False
        scale = 0.0
    else:
        (_, high), clear, scale = measure(subject, unplaced, box, style.margin)
        height, crowded = high + 2 * style.margin, clear and bool(unplaced.details)
    most = min(MOST, height + SPARE)
    share = SMALLER_ON_BENCH if sketch.state.bench else SMALLER
    least = min(most, max(LEAST, share * min(most, HIGHEST)))
    legible = SHRUNK * scale * min(1.0, HIGHEST / most)
    while unplaced is not None and crowded and least < most - RISE:
        room = FigureBox(width=WIDEST, height=least)
        if is_clear(subject, unplaced, room, style.margin, legible):
            break
        least += RISE
    return FigureWish(least=least, most=most)


def set_step(sketch: StepSketch, room: FigureBox, subject: Subject, style: Style) -> StepPicture:
    """Return the figure of a step, as large as its room lets it be."""
    if sketch.unplaced is None:
        assert sketch.turned is not None
        margin = 2 * style.margin
        size = min(TURN_SIZE, (room.height - margin) / 1.15, (room.width - margin) / 2.8)
        shapes: Sequence[Primitive] = turning_shapes(
            subject, sketch.state.parts, sketch.turned, sketch.state.step.posture, size=size
        )
        return StepPicture(figure=crop(shapes, style.margin, sketch.name), drawings=(), scale=0.0)
    composed = compose(as_held(subject, sketch.state), sketch.unplaced, room, style.margin)
    return StepPicture(
        figure=crop(composed.shapes, style.margin, sketch.name),
        drawings=composed.drawings,
        scale=composed.scale,
        complete=composed.complete,
        clear=composed.clear,
    )


def crop(shapes: Sequence[Primitive], margin: float, title: str) -> Figure:
    """Return the primitives as a figure with even white round them."""
    x0, y0, x1, y1 = extent(shapes)
    return Figure(
        width=x1 - x0 + 2 * margin,
        height=y1 - y0 + 2 * margin,
        primitives=moved(shapes, (margin - x0, margin - y0)),
        title=title,
        description="",
    )


def _named(
    plates: Sequence[Plate], schedules: Schedules, joinery: Joinery
) -> tuple[tuple[Named, int], ...]:
    """Return the parts to be lettered: the new ones, and those that they are put onto.

    Of parts that come in joined, those that tell them from others joined alike are enough.
    """
    together = [line.parts for line in schedules.cut] + [line.parts for line in schedules.bought]
    quantity = {name: len(parts) for parts in together for name in parts}
    found = []
    for n, plate in enumerate(plates):
        state = plate.state
        spared = {
            part
            for operation in state.operations
            if operation.kind in (OperationKind.MATE, OperationKind.LOAD)
            for part in operation.parts
            if quantity.get(part, 1) > min(quantity.get(q, 1) for q in operation.parts)
        }
        found += [
            (
                Named(part=part, letter=schedules.letter_of(part), times=state.times.get(part, 1)),
                n,
            )
            for part in state.new
            if state.bench or part not in spared
        ]
        if state.bench:
            continue
        there = dict.fromkeys(
            part
            for operation in state.operations
            for part in _told_of(operation, joinery)
            if part in state.parts and part not in state.new
        )
        if len(there) <= NAMED_THERE:
            found += [
                (Named(part=part, letter=schedules.letter_of(part), new=False), n) for part in there
            ]
    return tuple(found)


def _told_of(operation: Operation, joinery: Joinery) -> tuple[str, ...]:
    """Return the parts that the words of an operation name."""
    if operation.kind in (OperationKind.TURN, OperationKind.STAND, OperationKind.SQUARE):
        return ()
    if operation.kind is OperationKind.LOAD:
        return operation.parts
    if operation.kind not in (OperationKind.MATE, OperationKind.REMOVE):
        return operation.parts
    met = [
        part
        for joint in joinery.joints
        if joint.name in operation.joints
        for part in (joint.receiving, joint.butting)
        if part not in operation.parts
    ]
    return (*operation.parts, *(met or operation.onto))
