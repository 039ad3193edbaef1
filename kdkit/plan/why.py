"""Why is one thing done before another: a chain of reasons, or what the other way costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import networkx as nx

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, error
from kdkit.frames import dot
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import OrderSaid, Resolved
from kdkit.parts.postures import UP
from kdkit.plan.make import make_plan
from kdkit.plan.operations.steps import precedence_graph
from kdkit.plan.plan import Operation, OperationKind, OrderRefused, Plan, Precedence

__all__ = ["Difference", "Explanation", "OtherWay", "explain_order"]

_STEEP = 0.7
_ARRIVES = (OperationKind.MATE, OperationKind.LOAD)


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One thing that is counted, in this plan and in the other."""

    what: str
    here: float
    there: float


@dataclass(frozen=True, kw_only=True)
class OtherWay:
    """The best plan found with the two the other way round, against this one.

    ``cost`` and ``here``: what both cost by the planner's weights.
    """

    cost: float
    here: float
    differences: tuple[Difference, ...]


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """Why ``first`` comes before ``later``.

    Args:
        first, later: as they were asked for, put in the order in which they come.
        asked_reversed: the question had them the wrong way round.
        operations: what brings each of them to the work; None for the part that the
            work begins with.
        together: they come in one move.
        chain: precedences of this plan that lead from the one to the other, or ().
        other: the best plan with the two the other way round, if there is one.
        refused: if there is none, what stands against it, in sentences.
    """

    first: str
    later: str
    asked_reversed: bool
    operations: tuple[str | None, str | None]
    together: bool = False
    chain: tuple[Precedence, ...] = ()
    other: OtherWay | None = None
    refused: tuple[str, ...] = ()


def explain_order(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan,
    first: str,
    later: str,
) -> tuple[Explanation | None, tuple[Problem, ...]]:
    """Return why one part or operation comes before another in a plan.

    Args:
        first, later: names of parts, or ids of operations of the plan.

    Problems: a name that is neither; the same thing twice.
    """
    problems = [_unknown(name, plan, assembly) for name in (first, later)]
    found = tuple(problem for problem in problems if problem is not None)
    if found:
        return None, found
    if first == later:
        return None, (error("same-part-twice", f"{first} is named twice", help="name two parts"),)
    rank = {id: n for n, id in enumerate(plan.order)}
    a, b = (_operation_of(name, plan) for name in (first, later))
    places = [-1 if o is None else rank[o.id] for o in (a, b)]
    asked_reversed = places[0] > places[1]
    if asked_reversed:
        first, later, a, b = later, first, b, a
    asked = Explanation(
        first=first,
        later=later,
        asked_reversed=asked_reversed,
        operations=(a.id if a is not None else None, b.id if b is not None else None),
        together=a is b,
    )
    if a is b:
        return asked, ()
    chain = _chain(plan, a, b)
    parts = {part.name for part in assembly.parts}
    if not {first, later} <= parts:
        return replace(asked, chain=chain), ()
    turned = OrderSaid(first=(later,), later=(first,), path=("order",))
    other, _ = make_plan(
        replace(resolved, order=(*resolved.order, turned)), assembly, joinery, catalogue
    )
    if isinstance(other, Plan):
        return replace(asked, chain=chain, other=_compare(plan, other)), ()
    refused = other.reasons if isinstance(other, OrderRefused) else ()
    return replace(asked, chain=chain, refused=refused), ()


def _unknown(name: str, plan: Plan, assembly: Assembly) -> Problem | None:
    if name in plan.order or any(part.name == name for part in assembly.parts):
        return None
    known = ", ".join(part.name for part in assembly.parts)
    return error(
        "unknown-part",
        f"there is no part or operation {name}",
        help=f"the parts are {known}; operations are named in the plan",
    )


def _operation_of(name: str, plan: Plan) -> Operation | None:
    """The operation of that id, or the first that moves the part to another."""
    if name in plan.order:
        return plan.operation(name)
    for id in plan.order:
        operation = plan.operation(id)
        if operation.kind in _ARRIVES and name in operation.parts:
            return operation
    return None


def _chain(plan: Plan, a: Operation | None, b: Operation | None) -> tuple[Precedence, ...]:
    """The shortest chain of precedences from one operation to another."""
    if a is None or b is None:
        return ()
    graph = precedence_graph(plan.operations, plan.precedences)
    if not nx.has_path(graph, a.id, b.id):
        return ()
    path = nx.shortest_path(graph, a.id, b.id)
    return tuple(
        Precedence(before=x, after=y, reason=graph.edges[x, y]["reason"]) for x, y in pairwise(path)
    )


def _compare(here: Plan, there: Plan) -> OtherWay:
    differences = [
        Difference(what=what, here=one, there=two)
        for (what, one), (_, two) in zip(_counts(here), _counts(there), strict=True)
        if abs(one - two) > 1e-6
    ]
    return OtherWay(cost=there.cost, here=here.cost, differences=tuple(differences))


def _counts(plan: Plan) -> Sequence[tuple[str, float]]:
    """What makes one order better than another, as far as it can be counted."""
    mates = [o for o in plan.operations if o.kind is OperationKind.MATE]
    steep = [dot(o.direction, UP[o.posture]) for o in mates if o.direction is not None]
    turns = (OperationKind.TURN, OperationKind.STAND)
    return (
        ("times the work is turned over or stood up", _number(plan, turns)),
        ("halves or units brought on as one", sum(len(o.parts) > 1 for o in mates)),
        ("arrivals pushed up from below", sum(s > _STEEP for s in steep)),
        ("arrivals brought in level, not laid down", sum(abs(s) <= _STEEP for s in steep)),
        ("arrivals held until they are fastened", sum(bool(o.held) for o in mates)),
        ("arrivals that meet nothing they are joined to", sum(not o.joints for o in mates)),
        ("pins at once, at the most", max((o.pins for o in mates), default=0)),
        ("operations for two persons", sum(o.persons > 1 for o in plan.operations)),
        ("steps", len(plan.steps)),
    )


def _number(plan: Plan, kinds: Sequence[OperationKind]) -> int:
    return sum(operation.kind in kinds for operation in plan.operations)
