"""How many orders there are: counts over the ideals of a precedence graph.

An ideal is a set of tasks that can be done first: with each task everything that
it waits for. Counting over ideals finds the number of orders without listing them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable
from dataclasses import dataclass

import networkx as nx

from kdkit.plan.plan import Operation, OperationKind, Precedence

__all__ = [
    "OrderCount",
    "count_mating_orders",
    "count_orders",
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
