"""Which hardware is used in which operation: a fitting's actions read as work to do.

Everything before the fitting's ``mate`` action is done to one part alone, what
comes after it once both members are together. Actions of the workshop are no
work for the buyer, and their items are listed in no operation.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.plan.plan import OperationKind

__all__ = ["Work", "work_of"]

_MATING = ("mate", "lay-on", "slide-in", "hang", "run-in")


@dataclass(frozen=True, kw_only=True)
class Work:
    """One action on one fastener, with the items that it uses up.

    Args:
        part: the part that it is done to before mating, None for after it.
        against: the part of the other member, None for a fixture.
        rank: the number of the action in its fitting.
        at_wall: it takes something that the buyer chooses for the wall.
    """

    kind: OperationKind
    fastener: Fastener
    part: str | None
    against: str | None
    items: Mapping[str, int]
    tool: str | None
    minutes: float
    rank: int
    at_wall: bool = False
    item: str = ""
    do: str = ""


_AFTER: dict[str, OperationKind] = {
    "cap": OperationKind.CAP,
    "wait": OperationKind.WAIT,
    "clamp": OperationKind.WAIT,
    "glue": OperationKind.FASTEN,
}


def work_of(fasteners: Iterable[Fastener], joinery: Joinery, catalogue: Catalogue) -> list[Work]:
    """Return the work on some fasteners, in their order and their fittings' order.

    Each item of a fastener is used up in exactly one piece of work, unless it was
    fitted in the workshop.
    """
    found: list[Work] = []
    for fastener in fasteners:
        fitting = joinery.fittings.get(fastener.fitting)
        found += _of_fastener(fastener, fitting, catalogue)
    return found


def _of_fastener(fastener: Fastener, fitting: Fitting | None, catalogue: Catalogue) -> list[Work]:
    actions = fitting.actions if fitting is not None else ()
    mating = next((n for n, a in enumerate(actions) if a.do in _MATING), None)
    is_joint = fastener.butting is not None
    if is_joint and mating is None:
        mating = next(
            (n for n, a in enumerate(actions) if a.do in ("drive", "nail", "turn", "cap")),
            len(actions),
        )
    left = list(fastener.items)
    found: list[Work] = []
    for rank, action in enumerate(actions):
        if action.do in _MATING:
            continue
        taken = [p for p in left if p.item == action.item]
        left = [p for p in left if p.item != action.item]
        if action.stage == "workshop":
            continue
        before = is_joint and mating is not None and rank < mating
        if before and action.do == "glue":
            kind = OperationKind.GLUE
        elif before:
            kind = OperationKind.FIT
        elif not is_joint:
            kind = OperationKind.FIXTURE
        else:
            kind = _AFTER.get(action.do, OperationKind.FASTEN)
        carrier = next((p.carrier for p in taken if p.carrier is not None), None)
        part = (carrier or fastener.receiving) if kind is OperationKind.FIT else None
        item = catalogue.items.get(action.item) if action.item is not None else None
        found.append(
            Work(
                kind=kind,
                fastener=fastener,
                part=part,
                against=_other(fastener, part),
                items={action.item: len(taken)} if action.item is not None and taken else {},
                tool=action.tool,
                minutes=action.minutes or catalogue.minutes_for(action.do) * max(1, len(taken)),
                rank=rank,
                at_wall=item is not None and not item.supplied,
                item=action.item or "",
                do=action.do,
            )
        )
    for placed in left:  # an item that no action speaks of
        before = is_joint and placed.carrier is not None
        part = placed.carrier if before else None
        kind = OperationKind.FIXTURE if not is_joint else OperationKind.FASTEN
        found.append(
            Work(
                kind=OperationKind.FIT if before else kind,
                fastener=fastener,
                part=part,
                against=_other(fastener, part),
                items={placed.item: 1},
                tool=None,
                minutes=catalogue.minutes_for("insert"),
                rank=len(actions),
                item=placed.item,
                do="insert",
            )
        )
    return found


def _other(fastener: Fastener, part: str | None) -> str | None:
    if part is None or fastener.butting is None:
        return None
    return fastener.receiving if part == fastener.butting else fastener.butting
