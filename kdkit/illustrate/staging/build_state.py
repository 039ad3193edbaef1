"""What stands where when a step is drawn: parts shown, hardware fitted before, now or later.

Takes the plan and the joinery, gives for each step the parts in the picture and every
piece of hardware that may be seen in it. No coordinates are changed here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Action
from kdkit.frames import dot
from kdkit.illustrate.bodies.hardware import Locked
from kdkit.joinery.placed import Fastener, Joinery, PlacedItem
from kdkit.plan.plan import Operation, OperationKind, Plan, Step
from kdkit.schedule.schedules import Schedules

__all__ = ["ItemState", "StepState", "action_of", "step_state"]

ON_THE_BENCH = frozenset({OperationKind.FIT, OperationKind.GLUE, OperationKind.WAIT})
"""Done to a part by itself, before it meets others."""


@dataclass(frozen=True, kw_only=True)
class ItemState:
    """One piece of hardware in a picture.

    Args:
        host: the part that it moves with.
        new: it goes in in this step.
        turned: it is there already and is locked in this step.
        operation: what puts it in or locks it now, None when nothing does.
        turn: its place in the order of the fitting's actions.
        adjusted: it is there already and is hooked in and adjusted in this step.
        locked: when one that locks by a turn is locked.
    """

    fastener: Fastener
    item: PlacedItem
    host: str
    new: bool
    turned: bool
    operation: Operation | None
    turn: int = 0
    adjusted: bool = False
    locked: Locked = "not yet"

    @property
    def handled(self) -> bool:
        """Something is done to it in this step."""
        return self.new or self.turned or self.adjusted


@dataclass(frozen=True, kw_only=True)
class StepState:
    """A step as it is to be drawn.

    Args:
        parts: in the picture, in the order of the plan.
        new: those of them that come in or are worked on by themselves.
        times: a shown part that stands for several → how many.
        bench: a part by itself, lying on the bench.
    """

    step: Step
    operations: tuple[Operation, ...]
    parts: tuple[str, ...]
    new: tuple[str, ...]
    times: Mapping[str, int]
    bench: bool
    items: tuple[ItemState, ...]


def action_of(joinery: Joinery, fastener: Fastener, item: str) -> Action | None:
    """Return the last thing done to an item that puts it in or locks it, or None."""
    fitting = joinery.fittings.get(fastener.fitting)
    if fitting is None:
        return None
    actions = [
        a for a in fitting.actions if a.item == item and a.do not in ("glue", "wait", "adjust")
    ]
    return actions[-1] if actions else None


def step_state(step: Step, plan: Plan, joinery: Joinery, schedules: Schedules) -> StepState:
    """Return what a step's picture shows."""
    operations = tuple(plan.operation(id) for id in step.shown)
    acting = [o for o in operations if o.kind not in (OperationKind.WAIT, OperationKind.TURN)]
    worked = tuple(dict.fromkeys(p for o in operations for p in o.parts))
    bench = (
        bool(acting)
        and all(o.kind in ON_THE_BENCH for o in acting)
        and set(step.present) <= set(worked)
    )
    times: dict[str, int] = {}
    if bench:
        shown, times = _one_of_each(worked, joinery, schedules)
        new = shown
    else:
        shown = tuple(dict.fromkeys((*step.present, *step.new)))
        new = step.new
    return StepState(
        step=step,
        operations=operations,
        parts=shown,
        new=new,
        times=times,
        bench=bench,
        items=_items(step, shown, operations, plan, joinery),
    )


def _one_of_each(
    parts: tuple[str, ...], joinery: Joinery, schedules: Schedules
) -> tuple[tuple[str, ...], dict[str, int]]:
    """Return the first part of every letter, and how many each stands for."""
    first: dict[str, str] = {}
    times: dict[str, int] = {}
    for part in parts:
        shown = first.setdefault(schedules.letter_of(part), part)
        times[shown] = times.get(shown, 0) + 1
    return tuple(first.values()), times


def _placed_by(
    plan: Plan, joinery: Joinery, kind: OperationKind, *, skip: bool
) -> dict[tuple[str, int], str]:
    """Return for every piece of hardware the operation that puts it in, or takes it out.

    What no operation puts in was fitted before, in the workshop or in the finished product.

    Args:
        skip: leave the operations of that kind out, or all others.
    """
    fasteners = {f.id: f for f in joinery.fasteners}
    times: dict[tuple[str, int], str] = {}
    for id in plan.order:
        operation = plan.operation(id)
        if (operation.kind is kind) is skip:
            continue
        for name in operation.fasteners:
            for item in fasteners[name].items:
                if item.item not in operation.items:
                    continue
                if operation.kind is OperationKind.FIT and item.carrier not in operation.parts:
                    continue
                times.setdefault((name, item.index), id)
    return times


def _items(
    step: Step,
    shown: tuple[str, ...],
    operations: tuple[Operation, ...],
    plan: Plan,
    joinery: Joinery,
) -> tuple[ItemState, ...]:
    placed_by = _placed_by(plan, joinery, OperationKind.UNDO, skip=True)
    taken_by = _placed_by(plan, joinery, OperationKind.UNDO, skip=False)
    earlier = {id for other in plan.steps if other.number < step.number for id in other.operations}
    now = {o.id: o for o in operations}
    worked = (OperationKind.FASTEN, OperationKind.UNDO)
    locked = {name: o for o in operations if o.kind in worked for name in o.fasteners}
    locked_before = {
        name
        for o in map(plan.operation, earlier)
        if o.kind is OperationKind.FASTEN
        for name in o.fasteners
    }
    states = []
    for fastener in joinery.fasteners:
        for item in fastener.items:
            host = _host(fastener, item, shown)
            if host is None:
                continue
            by = placed_by.get((fastener.id, item.index))
            if by is not None and by not in earlier and by not in now:
                continue
            taken = taken_by.get((fastener.id, item.index))
            if taken in earlier:
                continue
            if taken in now:
                by = taken
            new = by in now
            action = action_of(joinery, fastener, item.item)
            turned = (
                not new
                and fastener.id in locked
                and action is not None
                and action.do == "turn"
                and {fastener.butting, fastener.receiving} <= set(shown)
            )
            adjusted = (
                not new
                and fastener.id in locked
                and locked[fastener.id].kind is OperationKind.FASTEN
                and _is_adjusted(joinery, fastener, item.item)
            )
            operation = now[by] if new and by is not None else None
            if turned:
                operation = locked[fastener.id]
            states.append(
                ItemState(
                    fastener=fastener,
                    item=item,
                    host=host,
                    new=new,
                    turned=turned,
                    operation=operation,
                    turn=_turn_of(joinery, fastener, item.item),
                    adjusted=adjusted,
                    locked=_locked(action, operation if turned else None, locked_before, fastener),
                )
            )
    return tuple(states)


def _locked(
    action: Action | None, turning: Operation | None, before: set[str], fastener: Fastener
) -> Locked:
    """Return when a piece is locked by a turn; one that is undone stands as it went in."""
    if action is None or action.do != "turn":
        return "not yet"
    if turning is not None:
        return "now" if turning.kind is OperationKind.FASTEN else "not yet"
    return "already" if fastener.id in before else "not yet"


def _is_adjusted(joinery: Joinery, fastener: Fastener, item: str) -> bool:
    fitting = joinery.fittings.get(fastener.fitting)
    actions = fitting.actions if fitting is not None else ()
    return any(a.do == "adjust" and a.item == item for a in actions)


def _turn_of(joinery: Joinery, fastener: Fastener, item: str) -> int:
    fitting = joinery.fittings.get(fastener.fitting)
    actions = fitting.actions if fitting is not None else ()
    return next((n for n, a in enumerate(actions) if a.item == item), len(actions))


def _host(fastener: Fastener, item: PlacedItem, shown: tuple[str, ...]) -> str | None:
    """Return the shown part that carries a piece, or None when it is not in the picture."""
    if item.carrier is not None:
        return item.carrier if item.carrier in shown else None
    members = [m for m in (fastener.receiving, fastener.butting) if m is not None]
    if not all(m in shown for m in members):
        return None
    if fastener.butting is not None and 0.3 < dot(item.frame.k, fastener.frame.k) < 0.999:
        return fastener.butting  # it leans out of a pocket in that one
    return fastener.receiving
