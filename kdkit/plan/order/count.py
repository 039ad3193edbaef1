"""How many orders there are: counts over the ideals of a precedence graph.

An ideal is a set of tasks that can be done first: with each task everything that
it waits for. Counting over ideals finds the number of orders without listing them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass

import networkx as nx

from kdkit.plan.blocking import Blocking, members
from kdkit.plan.plan import Operation, OperationKind, Precedence

__all__ = [
    "AssemblyCount",
    "OrderCount",
    "count_assemblies",
    "count_connected_orders",
    "count_mating_orders",
    "count_orders",
    "count_part_orders",
    "order_strength",
]


@dataclass(frozen=True)
class OrderCount:
    """A number of orders, exact or between two bounds."""

    at_least: int
    at_most: int

    @property
    def exact(self) -> bool:
        """Whether the two bounds meet."""
        return self.at_least == self.at_most


def count_orders(
    tasks: Collection[Hashable],
    arcs: Iterable[tuple[Hashable, Hashable]],
    most_ideals: int = 200_000,
) -> OrderCount:
    """Return how many orders of tasks keep to all arcs (before, after).

    Args:
        most_ideals: beyond so many ideals only bounds are given.

    Raises:
        ValueError: the arcs run in a loop.

    Source:
        Counting linear extensions over the lattice of ideals. Bounds: at most the
        shuffles of a cover by chains; at least n! / Π (1 + the tasks that x waits
        for), the hook product, exact for forests (Hammett and Pittel, from memory).
    """
    graph = _graph(tasks, arcs)
    number = {task: n for n, task in enumerate(graph)}
    waits = [sum(1 << number[b] for b in graph.predecessors(task)) for task in graph]
    layer = {0: 1}
    ideals = 1
    for _ in range(len(number)):
        following: dict[int, int] = {}
        for ideal, ways in layer.items():
            for n, needed in enumerate(waits):
                if not ideal >> n & 1 and not needed & ~ideal:
                    grown = ideal | 1 << n
                    following[grown] = following.get(grown, 0) + ways
        ideals += len(following)
        if ideals > most_ideals:
            return _bounds(graph)
        layer = following
    count = sum(layer.values())
    return OrderCount(count, count)


def order_strength(tasks: Collection[Hashable], arcs: Iterable[tuple[Hashable, Hashable]]) -> float:
    """Return the share of pairs of tasks whose order is fixed, 0 to 1.

    Source:
        Order strength of a precedence graph: arcs of the transitive closure over
        n(n − 1)/2, as used for assembly-line problems.
    """
    graph = _graph(tasks, arcs)
    n = graph.number_of_nodes()
    if n < 2:
        return 1.0
    fixed = sum(len(nx.descendants(graph, task)) for task in graph)
    return fixed / (n * (n - 1) / 2)


def count_connected_orders(
    neighbours: Mapping[Hashable, Collection[Hashable]], start: Hashable
) -> int:
    """Return how many orders begin with ``start`` and add one neighbour after another.

    Each part but the first is a neighbour of one that is there. Counts over
    connected sets.
    """
    number = {part: n for n, part in enumerate(neighbours)}
    beside = [sum(1 << number[p] for p in set(neighbours[part])) for part in neighbours]
    layer = {1 << number[start]: 1}
    for _ in range(len(number) - 1):
        following: dict[int, int] = {}
        for built, ways in layer.items():
            for n, near in enumerate(beside):
                if not built >> n & 1 and near & built:
                    following[built | 1 << n] = following.get(built | 1 << n, 0) + ways
        layer = following
    return sum(layer.values())


def count_part_orders(blocking: Blocking, among: int, most_sets: int = 200_000) -> int | None:
    """Return in how many orders a set can be built one part at a time.

    Returns:
        0 when some half must be built on its own; None beyond ``most_sets`` sets.
    """
    layer = {among: 1}
    sets = 1
    for _ in range(among.bit_count() - 1):
        following: dict[int, int] = {}
        for there, ways in layer.items():
            for part in members(there):
                if any(
                    not blocking.blockers(d, part, there) for d in range(len(blocking.directions))
                ):
                    rest = there & ~(1 << part)
                    following[rest] = following.get(rest, 0) + ways
        sets += len(following)
        if sets > most_sets:
            return None
        layer = following
    return sum(layer.values())


@dataclass(frozen=True)
class AssemblyCount:
    """All the ways to put a set together, two halves at a time.

    Args:
        subassemblies: groups that can occur, single parts and the whole among them.
        decompositions: ways in which one of them parts into two.
        trees: ways to put the whole together, the order of independent halves not told
            apart.
    """

    subassemblies: int
    decompositions: int
    trees: int


def count_assemblies(
    blocking: Blocking, joined: Mapping[int, int], among: int, most_sets: int = 2_000
) -> AssemblyCount | None:
    """Return how many subassemblies, decompositions and trees a set has.

    Only groups that hang together count: both halves of every decomposition.

    Args:
        joined: for each part the mask of those it is joined to.

    Returns:
        None beyond ``most_sets`` groups.

    Source:
        AND/OR graphs of assembly plans (Homem de Mello and Sanderson, from memory):
        their nodes, hyperarcs and solution trees.
    """
    trees: dict[int, int] = {}
    arcs = 0

    def is_connected(group: int) -> bool:
        reached, edge = 0, group & -group
        while edge:
            reached |= edge
            near = 0
            for part in members(edge):
                near |= joined.get(part, 0)
            edge = near & group & ~reached
        return reached == group

    def leaves(group: int, some: int) -> bool:
        return any(
            not any(blocking.blockers(d, part, group) & ~some for part in members(some))
            for d in range(len(blocking.directions))
        )

    def count(group: int) -> int:
        nonlocal arcs
        if group in trees:
            return trees[group]
        if len(trees) >= most_sets:
            return 0
        trees[group] = 1
        if group.bit_count() > 1:
            lowest, found = group & -group, 0
            rest = group ^ lowest
            half = rest
            while half:
                other = group ^ half
                connected = is_connected(half) and is_connected(other)
                if connected and (leaves(group, half) or leaves(group, other)):
                    arcs += 1
                    found += count(half) * count(other)
                half = (half - 1) & rest
            trees[group] = found
        return trees[group]

    total = count(among)
    if len(trees) >= most_sets:
        return None
    return AssemblyCount(len(trees), arcs, total)


def count_mating_orders(
    operations: Iterable[Operation], precedences: Iterable[Precedence]
) -> tuple[OrderCount, float]:
    """Return the orders of a plan's matings and loads, and their order strength."""
    moving = [o.id for o in operations if o.kind in (OperationKind.MATE, OperationKind.LOAD)]
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(moving)
    graph.add_edges_from((p.before, p.after) for p in precedences)
    wanted = set(moving)
    arcs = [
        (task, after) for task in moving for after in sorted(nx.descendants(graph, task) & wanted)
    ]
    ideals = 400_000 // max(20, len(moving))  # each is compared with every task
    return count_orders(moving, arcs, most_ideals=ideals), order_strength(moving, arcs)


def _graph(
    tasks: Collection[Hashable], arcs: Iterable[tuple[Hashable, Hashable]]
) -> nx.DiGraph[Hashable]:
    graph: nx.DiGraph[Hashable] = nx.DiGraph()
    graph.add_nodes_from(tasks)
    graph.add_edges_from(arcs)
    if not nx.is_directed_acyclic_graph(graph):
        raise ValueError("the arcs run in a loop")
    return graph


def _bounds(graph: nx.DiGraph[Hashable]) -> OrderCount:
    n = graph.number_of_nodes()
    most = math.factorial(n)
    for chain in _chains(graph):
        most //= math.factorial(chain)
    hooks = math.prod(1 + len(nx.ancestors(graph, task)) for task in graph)
    return OrderCount(max(1, -(-math.factorial(n) // hooks)), most)


def _chains(graph: nx.DiGraph[Hashable]) -> list[int]:
    """Lengths of chains that cover the graph, longest first taken greedily."""
    left = nx.transitive_closure_dag(graph)
    lengths = []
    while left.number_of_nodes():
        chain = nx.dag_longest_path(left)
        lengths.append(len(chain))
        left.remove_nodes_from(chain)
    return lengths
