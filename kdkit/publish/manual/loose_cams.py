"""Cams that only lie in their bores: they fall out where the bores come to look down."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.frames import dot
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.parts.postures import UP
from kdkit.plan.plan import OperationKind, Plan

__all__ = ["falling_out"]

_DOWN = -0.7  # cosine
_MOVED = (OperationKind.MATE, OperationKind.TURN, OperationKind.STAND)


def falling_out(plan: Plan, joinery: Joinery) -> dict[int, tuple[str, ...]]:
    """Return for each step, by number, the parts whose cams would fall out of them in it.

    A part is told once: tape that is over its cams stays until they are turned.
    """
    fasteners = {f.id: f for f in joinery.fasteners}
    loose: dict[str, list[Fastener]] = {}
    told: set[str] = set()
    found: dict[int, tuple[str, ...]] = {}
    for step in plan.steps:
        mine: list[str] = []
        for id in step.operations:
            operation = plan.operation(id)
            if operation.kind is OperationKind.FIT:
                for name in operation.fasteners:
                    fastener = fasteners[name]
                    for part in operation.parts:
                        if _pushed_in(fastener, operation.items, joinery):
                            loose.setdefault(part, []).append(fastener)
            if operation.does == ("turn",):
                turned = set(operation.fasteners)
                for part, some in loose.items():
                    loose[part] = [f for f in some if f.id not in turned]
            if operation.kind in _MOVED:
                up = UP[operation.posture]
                for part in (*operation.parts, *operation.onto):
                    outs = [
                        placed.frame.k
                        for fastener in loose.get(part, ())
                        for placed in fastener.items
                        if placed.carrier == part and placed.item in _cams(fastener, joinery)
                    ]
                    if part not in told and any(dot(out, up) < _DOWN for out in outs):
                        told.add(part)
                        mine.append(part)
        if mine:
            found[step.number] = tuple(mine)
    return found


def _cams(fastener: Fastener, joinery: Joinery) -> set[str]:
    """Return the items of a fastener that are pushed in first and turned later."""
    entry = joinery.fittings.get(fastener.fitting)
    if entry is None:
        return set()
    pushed = {a.item for a in entry.actions if a.do == "insert" and a.item}
    return pushed & {a.item for a in entry.actions if a.do == "turn" and a.item}


def _pushed_in(fastener: Fastener, items: Mapping[str, int], joinery: Joinery) -> bool:
    return bool(_cams(fastener, joinery) & set(items))
