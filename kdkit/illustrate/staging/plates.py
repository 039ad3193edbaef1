"""The plates of a step: each a set of parts drawn together in one view.

A step on the built work is one plate. Parts fitted out by themselves lie on the bench,
each on a plate of its own, the side that is worked on upwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3, add, dot, scaled
from kdkit.geometry.surfaces import corners_of
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.choose_view import Shown, ShownPart, choose_look
from kdkit.illustrate.staging.explode import Apart, move_apart
from kdkit.illustrate.staging.subject import Subject
from kdkit.illustrate.staging.wall import is_at_wall
from kdkit.parts.postures import Posture, posture_with_up

__all__ = ["Plate", "lay_plates", "plate_bounds", "together"]

BENCH_LOOK = Viewpoint(-28.0, 40.0)

HANDLED = 3.0
"""How much more seeing the hardware counts than seeing a bore."""


@dataclass(frozen=True, kw_only=True)
class Plate:
    """One drawing of a step: what is on it and from where it is seen."""

    state: StepState
    view: View
    apart: Apart
    close: Apart
    shown: Shown
    over: bool = False  # the part of the plate before, turned over

    @property
    def posture(self) -> Posture:
        """How the work lies on this plate."""
        return self.view.posture


def lay_plates(
    subject: Subject,
    state: StepState,
    last: Viewpoint | None,
    room: tuple[float, float],
    largest: float,
) -> tuple[tuple[Plate, ...], float]:
    """Return the plates and the scale at which each fits the room.

    Args:
        last: the look of the step before.
        room: width and height for one plate on paper, mm.
        largest: scale that is not passed.
    """
    states = _alone(subject, state) if state.bench else (state,)
    laid = []
    for one in states:
        posture = _worked_side_up(subject, one) if state.bench else state.step.posture
        first = _apart(subject, one, gap=120.0, item_gap=25.0)
        if state.bench:
            look = _bench_look(subject, one, posture)
        else:
            look = choose_look(_shown(subject, one, first), posture, last, at_wall=is_at_wall(one))
        laid.append((one, View(viewpoint=look, posture=posture), first))
    scale = min(_fit(subject, one, first, view, room, largest) for one, view, first in laid)
    plates = []
    for n, (one, view, _) in enumerate(laid):
        gap = max(40.0, 10.0 / scale)
        apart = _apart(subject, one, gap=gap, item_gap=max(9.0, 2.5 / scale))
        plates.append(
            Plate(
                state=one,
                view=view,
                apart=apart,
                close=_apart(subject, one, gap=gap, item_gap=8.0),
                shown=_shown(subject, one, apart),
                over=n > 0 and state.bench and laid[n - 1][0].parts == one.parts,
            )
        )
    scale = min(_fit(subject, p.state, p.apart, p.view, room, largest) for p in plates)
    return tuple(plates), scale


def _apart(subject: Subject, state: StepState, *, gap: float, item_gap: float) -> Apart:
    return move_apart(
        state,
        subject.assembly,
        subject.joinery,
        subject.catalogue.items,
        gap=gap,
        item_gap=item_gap,
    )


def _alone(subject: Subject, state: StepState) -> tuple[StepState, ...]:
    """Return a state for each part by itself, two for one that is worked on both sides.

    On the second of the two the hardware of the first is in its place already.
    """
    states = []
    for part in state.parts:
        mine = tuple(one for one in state.items if one.host == part)
        ways = [one.item.frame.k for one in mine if one.new]
        out = subject.assembly.part(part).frame.k
        axis = next((k for k in ways if abs(dot(k, out)) > 0.7), None)
        under = [
            n
            for n, one in enumerate(mine)
            if one.new and axis is not None and dot(one.item.frame.k, axis) < -0.7
        ]
        alone = replace(state, parts=(part,), new=(part,))
        if not under:
            states.append(replace(alone, items=mine))
            continue
        first = tuple(one for n, one in enumerate(mine) if n not in under)
        second = tuple(one if n in under else replace(one, new=False) for n, one in enumerate(mine))
        states += [replace(alone, items=first), replace(alone, items=second, times={})]
    return tuple(states)


def _worked_side_up(subject: Subject, state: StepState) -> Posture:
    """Return the posture with the face up that takes most of the new hardware."""
    part = subject.assembly.part(state.parts[0])
    face = back = 0.0
    for one in state.items:
        if one.new:
            face += dot(one.item.frame.k, part.frame.k) > 0.7
            back += dot(one.item.frame.k, part.frame.k) < -0.7
    if face == back:
        face = sum(b.part == part.name and b.surface == "face" for b in subject.joinery.bores)
        back = sum(b.part == part.name and b.surface == "back" for b in subject.joinery.bores)
    out = part.frame.k if face >= back else scaled(part.frame.k, -1.0)
    return posture_with_up(out)


def _bench_look(subject: Subject, state: StepState, posture: Posture) -> Viewpoint:
    """Return a look that has the length of the part run across the paper."""
    part = subject.assembly.part(state.parts[0])
    along = View(posture=posture).vector_to_floor(part.frame.i)
    if abs(along[0]) >= abs(along[1]):
        return BENCH_LOOK
    return Viewpoint(BENCH_LOOK.azimuth_deg + 90.0, BENCH_LOOK.elevation_deg)


def together(apart: Apart) -> Apart:
    """Return the same with all parts in their places; hardware keeps its way out."""
    zero: Vec3 = (0.0, 0.0, 0.0)
    return replace(
        apart,
        parts=dict.fromkeys(apart.parts, zero),
        items=tuple(zero for _ in apart.items),
        guides=(),
        travels=(),
        legs={},
    )


def _shown(subject: Subject, state: StepState, apart: Apart) -> Shown:
    """Return what must be seen: hardware handled, and the bores of mating joints."""
    marks: list[tuple[Vec3, Vec3, float]] = []
    for one, shift, mouth in zip(state.items, apart.items, apart.mouths, strict=True):
        if one.new or one.turned:
            k = one.item.frame.k
            at = add(one.item.frame.origin, scaled(k, mouth + 1.0))
            marks.append((add(at, apart.parts[one.host]), k, HANDLED))
            if one.new:
                marks.append((add(at, shift), k, HANDLED))
    moving = {p for travel in apart.travels for p in travel.parts}
    members: Mapping[str, set[str | None]] = {
        f.id: {f.butting, f.receiving} for f in subject.joinery.fasteners
    }
    for bore in subject.joinery.bores:
        if bore.part not in apart.parts or bore.spare or bore.fastener is None:
            continue
        if not members.get(bore.fastener, set()) & moving:
            continue
        frame = subject.assembly.part(bore.part).frame
        marks.append(
            (
                add(frame.point_to_outer(bore.mouth), apart.parts[bore.part]),
                scaled(frame.vector_to_outer(bore.into), -1.0),
                1.0,
            )
        )
    parts = tuple(
        ShownPart(part=subject.assembly.part(p), shift=apart.parts[p], new=p in state.new)
        for p in state.parts
    )
    return Shown(parts=parts, marks=tuple(marks))


def plate_bounds(
    subject: Subject, state: StepState, apart: Apart, view: View
) -> tuple[float, float, float, float]:
    """Return the box round a plate's parts and hardware on paper."""
    return view.bounds(_corners(subject.catalogue, subject, state, apart))


def _corners(
    catalogue: Catalogue, subject: Subject, state: StepState, apart: Apart
) -> Sequence[Vec3]:
    corners = []
    for name in state.parts:
        part = subject.assembly.part(name)
        corners += [add((x, y, z), apart.parts[name]) for x, y, z in corners_of(part).tolist()]
    for one, shift in zip(state.items, apart.items, strict=True):
        if one.new:
            top = max(p.z1 for p in catalogue.items[one.item.item].pieces)
            corners.append(add(one.item.frame.point_to_outer((0.0, 0.0, top)), shift))
    return corners


def _fit(
    subject: Subject,
    state: StepState,
    apart: Apart,
    view: View,
    room: tuple[float, float],
    largest: float,
) -> float:
    x0, y0, x1, y1 = plate_bounds(subject, state, apart, view.at_scale(1.0))
    return min(largest, room[0] / (x1 - x0), room[1] / (y1 - y0))
