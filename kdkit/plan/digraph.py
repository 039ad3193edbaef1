"""Directed graphs as plain mappings: each node with those after it, all of them keys too.

The few questions that planning asks of a graph take a page; a library of graphs takes longer
to import than most products take to plan.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from typing import Any, TypeVar

__all__ = ["Successors", "longest_path", "reached", "shortest_paths", "sorted_nodes", "successors"]

N = TypeVar("N", bound=Hashable)
Successors = Mapping[N, Collection[N]]


def successors(nodes: Iterable[N], arcs: Iterable[tuple[N, N]]) -> dict[N, dict[N, None]]:
    """Return the graph of nodes and arcs (before, after), each arc once, in the order given."""
    graph: dict[N, dict[N, None]] = {node: {} for node in nodes}
    for before, after in arcs:
        graph.setdefault(before, {})[after] = None
        graph.setdefault(after, {})
    return graph


def sorted_nodes(graph: Successors[N], key: Callable[[N], Any] | None = None) -> list[N]:
    """Return the nodes so that each comes before those after it.

    Args:
        key: which of the nodes that nothing holds back comes first: the one with the least;
            without it, or where it is the same, the one that the graph names first.

    Raises:
        ValueError: the graph has a loop.

    Source:
        Topological order with a heap of what is free (Kahn 1962).
    """
    place = {node: n for n, node in enumerate(graph)}
    waits = dict.fromkeys(graph, 0)
    for following in graph.values():
        for node in following:
            waits[node] += 1

    def entry(node: N) -> tuple[Any, int, N]:
        return (0 if key is None else key(node), place[node], node)

    free = [entry(node) for node, count in waits.items() if not count]
    heapq.heapify(free)
    order = []
    while free:
        node = heapq.heappop(free)[2]
        order.append(node)
        for after in graph[node]:
            waits[after] -= 1
            if not waits[after]:
                heapq.heappush(free, entry(after))
    if len(order) < len(place):
        left = [str(node) for node, count in waits.items() if count]
        raise ValueError(f"a loop: these wait for each other, or for what does: {', '.join(left)}")
    return order


def reached(graph: Successors[N], start: N) -> set[N]:
    """Return all that comes after a node, by one arc or several."""
    found: set[N] = set()
    waiting = [start]
    while waiting:
        for node in graph[waiting.pop()]:
            if node not in found:
                found.add(node)
                waiting.append(node)
    return found


def shortest_paths(graph: Successors[N], start: N) -> dict[N, list[N]]:
    """Return a path with the fewest arcs to each node that can be reached, nearest first."""
    paths = {start: [start]}
    waiting = deque([start])
    while waiting:
        node = waiting.popleft()
        for after in graph[node]:
            if after not in paths:
                paths[after] = [*paths[node], after]
                waiting.append(after)
    return paths


def longest_path(graph: Successors[N]) -> list[N]:
    """Return a path with the most nodes.

    Raises:
        ValueError: the graph has a loop.
    """
    order = sorted_nodes(graph)
    length = dict.fromkeys(order, 1)
    before: dict[N, N] = {}
    for node in order:
        for after in graph[node]:
            if length[node] + 1 > length[after]:
                length[after] = length[node] + 1
                before[after] = node
    path = [max(order, key=length.__getitem__)] if order else []
    while path and path[-1] in before:
        path.append(before[path[-1]])
    return path[::-1]
