"""From operations and their precedence graph to the numbered steps of the manual.

The order is the lexicographic topological order of the precedence graph; a step
holds one significant part, or one group of parts alike, with what belongs to it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import networkx as nx

from kdkit.plan.plan import Operation, OperationKind, Posture, Precedence, Step, times_of

__all__ = ["group_steps", "order_operations", "precedence_graph"]

_ON_WHAT_STANDS = (OperationKind.FIXTURE, OperationKind.CAP, OperationKind.SECURE)
"""Work on parts that are there already, also on one that has not met another yet."""

_PREPARES = (
    OperationKind.TURN,
    OperationKind.STAND,
    OperationKind.SQUARE,
    OperationKind.GLUE,
)
_TURNS = (OperationKind.TURN, OperationKind.STAND)
_FOLLOWS = (OperationKind.FASTEN, OperationKind.WAIT)


def precedence_graph(
    operations: Iterable[Operation], precedences: Iterable[Precedence]
) -> nx.DiGraph[str]:
    """Return the graph of operations' ids; every edge has its ``reason``."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(o.id for o in operations)
    for p in precedences:
        graph.add_edge(p.before, p.after, reason=p.reason)
    return graph


def order_operations(
    operations: Sequence[Operation], precedences: Sequence[Precedence]
) -> tuple[str, ...]:
    """Return the ids in lexicographic topological order.

    The key is the place in the preferred sequence; hardware that must be fitted
    late comes right before the operation that needs it.

    Raises:
        ValueError: the graph has a loop (a fault in kdkit).
    """
    graph = precedence_graph(operations, precedences)
    place = {o.id: float(n) for n, o in enumerate(operations)}
    for operation in operations:
        if operation.kind is OperationKind.FIT and graph.in_degree(operation.id):
            needing = [place[after] for after in graph.successors(operation.id)]
            place[operation.id] = min(needing, default=place[operation.id]) - 0.5
    try:
        return tuple(nx.lexicographical_topological_sort(graph, key=lambda o: (place[o], o)))
    except nx.NetworkXUnfeasible as loop:
        raise ValueError(f"operations wait for each other: {nx.find_cycle(graph)}") from loop


@dataclass
class _Draft:
    kind: OperationKind
    subassembly: str
    sameness: object
    operations: list[Operation] = field(default_factory=list)
    copies: list[list[Operation]] = field(default_factory=list)


def group_steps(
    operations: Sequence[Operation],
    order: Sequence[str],
    alike: Mapping[str, object],
    packed: Sequence[Sequence[str]] = (),
    twins: Mapping[str, Sequence[str]] = {},
    precedences: Sequence[Precedence] = (),
) -> tuple[Step, ...]:
    """Return the steps.

    Args:
        alike: for each part what it shares with parts like it.
        packed: groups of parts that arrive as one.
        twins: subassemblies that are built alike, under the first of them: they share
            their steps, as near the place of the first as the precedences allow.
        precedences: between the operations.
    """
    by_id = {o.id: o for o in operations}
    together = {name: tuple(group) for group in packed for name in group}
    steps: list[Step] = []
    built: dict[str, list[str]] = {}
    drafts = _drafts([by_id[o] for o in order], alike)
    if twins:
        drafts = _together(drafts, twins, precedences)
    if precedences:
        drafts = _on_bare_parts_at_once(drafts, precedences)
    for draft in drafts:
        steps.append(_finish(draft, len(steps) + 1, built, together))
    return tuple(steps)


def _drafts(operations: Sequence[Operation], alike: Mapping[str, object]) -> list[_Draft]:
    drafts: list[_Draft] = []
    pending: list[Operation] = []
    for operation in operations:
        kind = operation.kind
        if operation.glue_up:
            if pending and not _prepares(pending[0], operation):
                drafts.append(_alone(pending))
                pending = []
            if pending or not drafts or drafts[-1].operations[-1].glue_up != operation.glue_up:
                drafts.append(_Draft(OperationKind.MATE, operation.subassembly, None, pending))
                pending = []
            drafts[-1].operations.append(operation)
            continue
        if pending and not _prepares(pending[0], operation):
            drafts.append(_alone(pending))
            pending = []
        last = drafts[-1] if drafts else None
        if kind in _PREPARES:
            pending.append(operation)
            continue
        if (
            kind in _FOLLOWS
            and last is not None
            and last.kind is OperationKind.MATE
            and not pending
            and last.subassembly == operation.subassembly
        ):
            last.operations.append(operation)
            continue
        sameness = _sameness(operation, alike)
        if (
            last is not None
            and not pending
            and last.kind is kind
            and last.subassembly == operation.subassembly
            and last.sameness == sameness
        ):
            last.operations.append(operation)
            continue
        drafts.append(_Draft(kind, operation.subassembly, sameness, [*pending, operation]))
        pending = []
    if pending:
        drafts.append(_alone(pending))
    return drafts


def _prepares(pending: Operation, operation: Operation) -> bool:
    """Tell whether a turn, a squaring, gluing … is for what comes next."""
    if pending.subassembly != operation.subassembly:
        return False
    elsewhere = operation.kind is OperationKind.FIXTURE and pending.kind in _TURNS
    return not elsewhere or set(operation.parts) <= set(pending.parts)


def _alone(operations: list[Operation]) -> _Draft:
    return _Draft(operations[0].kind, operations[0].subassembly, None, operations)


def _together(
    drafts: Sequence[_Draft],
    twins: Mapping[str, Sequence[str]],
    precedences: Sequence[Precedence],
) -> list[_Draft]:
    """Make one draft of those of twins, and then of neighbours that became alike.

    The draft of twins comes as early as what goes before each of them allows; where twins
    wait for each other, none are merged.
    """
    own: dict[str, list[_Draft]] = {}
    for draft in drafts:
        own.setdefault(draft.subassembly, []).append(draft)
    first_of = {name: first for first, names in twins.items() for name in names}
    kept = [d for d in drafts if first_of.get(d.subassembly, d.subassembly) == d.subassembly]
    copies = {
        id(draft): [own[name][n].operations for name in names[1:]]
        for first, names in twins.items()
        for n, draft in enumerate(own[first])
    }
    place = {
        operation.id: n
        for n, draft in enumerate(kept)
        for operation in itertools.chain(draft.operations, *copies.get(id(draft), ()))
    }
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(kept)))
    graph.add_edges_from(
        (place[p.before], place[p.after]) for p in precedences if place[p.before] != place[p.after]
    )
    try:
        order = list(nx.lexicographical_topological_sort(graph))
    except nx.NetworkXUnfeasible:
        return list(drafts)
    for draft in kept:
        draft.copies = copies.get(id(draft), [])
    merged: list[_Draft] = []
    for n in order:
        draft = kept[n]
        last = merged[-1] if merged else None
        if last is not None and _are_one(last, draft):
            last.operations += draft.operations
            continue
        merged.append(draft)
    return merged


def _on_bare_parts_at_once(
    drafts: Sequence[_Draft], precedences: Sequence[Precedence]
) -> list[_Draft]:
    """Put the same fixtures on parts that meet nothing yet in one step, the first of its kind.

    What comes between cannot be hindered by them: their parts are not there.
    """
    first: dict[str, set[str]] = {}
    for one in precedences:
        first.setdefault(one.after, set()).add(one.before)
    kept: list[_Draft] = []
    place: dict[str, int] = {}
    met: set[str] = set()
    bare: set[int] = set()
    for draft in drafts:
        at = len(kept)
        if _is_bare(draft, met):
            needs = {id for o in draft.operations for id in first.get(o.id, ())}
            alike = (
                n
                for n in sorted(bare)
                if kept[n].sameness == draft.sameness
                and kept[n].subassembly == draft.subassembly
                and all(place.get(id, at) < n for id in needs)
            )
            at = next(alike, at)
            bare.add(at)
        if at < len(kept):
            kept[at].operations += draft.operations
        else:
            kept.append(draft)
        place.update(dict.fromkeys((o.id for o in draft.operations), at))
        met |= {p for o in draft.operations for p in (*o.parts, *o.onto) if _moves(o)}
    return kept


def _is_bare(draft: _Draft, met: set[str]) -> bool:
    worked = {p for o in draft.operations for p in o.parts}
    kinds = {o.kind for o in draft.operations}
    return kinds == {OperationKind.FIXTURE} and not draft.copies and not worked & met


def _moves(operation: Operation) -> bool:
    return operation.kind in (OperationKind.MATE, OperationKind.LOAD)


def _are_one(last: _Draft, draft: _Draft) -> bool:
    """Tell whether a draft goes on with what the one before it does."""
    return (
        last.kind is draft.kind
        and last.kind in (OperationKind.MATE, OperationKind.FIXTURE)
        and draft.operations[0].kind is draft.kind
        and not (last.copies or draft.copies)
        and last.subassembly == draft.subassembly
        and last.sameness == draft.sameness
    )


def _sameness(operation: Operation, alike: Mapping[str, object]) -> object:
    kinds = tuple(alike[p] for p in operation.parts)
    match operation.kind:
        case OperationKind.FIT:
            return (kinds, "later" if "/later" in operation.id else "")
        case OperationKind.MATE | OperationKind.LOAD:
            return (kinds, operation.direction, operation.moves, operation.posture)
        case OperationKind.FIXTURE:
            return (tuple(operation.items), operation.posture)
        case OperationKind.CAP:
            return tuple(operation.items)
        case OperationKind.SECURE:
            return tuple(operation.items)
        case _:
            return operation.id


def _finish(
    draft: _Draft,
    number: int,
    built: dict[str, list[str]],
    together: Mapping[str, tuple[str, ...]],
) -> Step:
    there = built.setdefault(draft.subassembly, [])
    new: list[str] = []
    for operation in draft.operations:
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD):
            arriving = [*operation.onto, *operation.parts]
            new += [p for p in arriving if p not in there and p not in new]
    worked_on = {p for o in draft.operations for p in o.parts}
    # Nothing was brought together before: hardware on a part by itself, or a product of one part.
    bare = draft.kind in _ON_WHAT_STANDS and not worked_on <= set(there)
    if draft.kind is OperationKind.FIT or bare:
        worked = [p for o in draft.operations for p in o.parts]
        present = list(dict.fromkeys(q for p in worked for q in (p, *together.get(p, ()))))
    else:
        present = list(there)
    there += new
    copies = [operation for copy in draft.copies for operation in copy]
    others = [
        part
        for operation in copies
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD)
        for part in (*operation.onto, *operation.parts)
    ]
    done = (*draft.operations, *copies)
    minutes, wait_minutes = times_of(done)
    items: dict[str, int] = {}
    for operation in done:
        for item, count in operation.items.items():
            items[item] = items.get(item, 0) + count
    return Step(
        number=number,
        operations=tuple(o.id for o in done),
        present=tuple(present),
        new=tuple(new),
        posture=_posture(draft.operations),
        items=dict(sorted(items.items())),
        tools=tuple(dict.fromkeys(o.tool for o in draft.operations if o.tool)),
        persons=max(o.persons for o in draft.operations),
        subassembly=draft.subassembly,
        minutes=minutes,
        wait_minutes=wait_minutes,
        times=1 + len(draft.copies),
        others=tuple(dict.fromkeys(others)),
    )


def _posture(operations: Sequence[Operation]) -> Posture:
    main = [o for o in operations if o.kind not in _PREPARES]
    return (main or list(operations))[0].posture
