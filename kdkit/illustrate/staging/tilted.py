"""Parts that come in tilted, as a step's picture shows them: turned as they are held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from kdkit.frames import Frame
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.legs import turned_point, turned_vector
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.plan import Tilt

__all__ = ["as_held", "held_items", "tilts_of"]


def as_held(subject: Subject, state: StepState) -> Subject:
    """Return what a step is drawn from, its tilted parts turned as they come in."""
    tilts = tilts_of(state)
    if not tilts:
        return subject
    parts = tuple(
        replace(part, frame=_turned(part.frame, tilts[part.name])) if part.name in tilts else part
        for part in subject.assembly.parts
    )
    return replace(subject, assembly=replace(subject.assembly, parts=parts), _made={})


def held_items(state: StepState) -> StepState:
    """Return a step's state with the hardware in tilted parts turned along with them."""
    tilts = tilts_of(state)
    if not tilts:
        return state
    items = tuple(
        replace(one, item=replace(one.item, frame=_turned(one.item.frame, tilts[one.host])))
        if one.host in tilts
        else one
        for one in state.items
    )
    return replace(state, items=items)


def tilts_of(state: StepState) -> Mapping[str, Tilt]:
    """For each tilted part the tilt with which it comes to its place."""
    return {
        part: move
        for operation in state.operations
        for move in operation.moves
        if isinstance(move, Tilt)
        for part in operation.parts
    }


def _turned(frame: Frame, tilt: Tilt) -> Frame:
    i, j, k = (turned_vector(v, tilt) for v in (frame.i, frame.j, frame.k))
    return Frame(turned_point(frame.origin, tilt), i, j, k)
