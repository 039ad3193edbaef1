"""Taking apart: which parts can leave together, and the proof when none can.

A set M of parts can leave a set S along d just when it is closed in the
blocking graph of d over S: no edge leads from M to the rest. The smallest
closed sets are found through the strongly connected components.

**No dead ends.** Let S come apart, and S' be a subset of S. Then S' comes
apart too: every edge of a graph over S' is an edge over S (a part that is gone
blocks nothing, and hardware meant for a part that is gone need not be fitted).
Take the first move of S, M away from the rest. If S' has parts on both sides,
S' ∩ M is closed over S' and leaves; else S' lies within one side, and the
argument repeats there. Hence whatever leaves first, what remains comes apart if
the product did; a greedy search never has to go back; and a set of which no
proper subset is closed in any direction proves that the product is impossible
in this class of motions.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from kdkit.plan.blocking import Blocking, members
from kdkit.plan.directions import MOTION_CLASS
from kdkit.plan.plan import Block, Impossible

__all__ = [
    "Move",
    "closed_sets",
    "comes_apart",
    "find_stuck",
    "free_parts",
    "prove_stuck",
    "smallest_stuck",
]


@dataclass(frozen=True)
class Move:
    """The parts of a mask leave along the direction of that number."""

    parts: int
    direction: int


def free_parts(blocking: Blocking, among: int) -> list[Move]:
    """Return every single part that can leave a set, each with every direction."""
    return [
        Move(1 << part, d)
        for part in members(among)
        for d in range(len(blocking.directions))
        if not blocking.blockers(d, part, among)
    ]


def closed_sets(blocking: Blocking, among: int) -> list[Move]:
    """Return the proper closed sets that one part generates, smallest first.

    Every closed set is a union of these, so if there is none, nothing moves.
    """
    found: set[tuple[int, int, int]] = set()
    for d in range(len(blocking.directions)):
        components = nx.condensation(blocking.graph(d, among))
        closure: dict[int, int] = {}
        for node in reversed(list(nx.topological_sort(components))):
            mask = sum(1 << part for part in components.nodes[node]["members"])
            for after in components.successors(node):
                mask |= closure[after]
            closure[node] = mask
            if mask != among:
                found.add((mask.bit_count(), mask, d))
    return [Move(mask, d) for _, mask, d in sorted(found)]


def find_stuck(blocking: Blocking, among: int) -> int | None:
    """Return a set of which no proper subset can move, or None: it all comes apart.

    Takes away whatever is free, single parts first, then halves; by the argument
    in this module's head the order does not matter.
    """
    waiting = [among]
    while waiting:
        rest = waiting.pop()
        rest = _without_free(blocking, rest)
        if rest.bit_count() < 2:
            continue
        moves = closed_sets(blocking, rest)
        if not moves:
            return rest
        waiting += [rest & ~moves[0].parts, moves[0].parts]
    return None


def smallest_stuck(blocking: Blocking, stuck: int) -> int:
    """Return a stuck set within a stuck set of which no part can be spared.

    One pass is enough: a part that is needed to hold a set holds its subsets too.
    """
    for part in members(stuck):
        if stuck >> part & 1:
            smaller = find_stuck(blocking, stuck & ~(1 << part))
            stuck = stuck if smaller is None else smaller
    return stuck


def comes_apart(blocking: Blocking, among: int) -> bool:
    """Tell whether a set comes apart down to single parts."""
    return find_stuck(blocking, among) is None


def _without_free(blocking: Blocking, among: int) -> int:
    ways = range(len(blocking.directions))
    moved = True
    while moved and among.bit_count() > 1:
        moved = False
        for part in members(among):
            if any(not blocking.blockers(d, part, among) for d in ways):
                among &= ~(1 << part)
                moved = True
    return among


def prove_stuck(blocking: Blocking, stuck: int) -> Impossible:
    """Return the certificate of a stuck set: a closed walk of blocks per direction.

    Each walk passes through every part of the set, so no proper subset is closed:
    somewhere on the walk a part inside is held by the next one outside.
    """
    return Impossible(
        parts=tuple(blocking.names[part] for part in members(stuck)),
        loops=tuple(
            (v, tuple(_closed_walk(blocking, d, stuck))) for d, v in enumerate(blocking.directions)
        ),
        motion_class=MOTION_CLASS,
    )


def _closed_walk(blocking: Blocking, d: int, stuck: int) -> Iterator[Block]:
    graph = blocking.graph(d, stuck)
    nodes = sorted(graph)
    at, unseen = nodes[0], set(nodes[1:])
    while unseen:
        lengths = nx.single_source_shortest_path_length(graph, at)
        goal = min(unseen, key=lambda n: (lengths[n], n))
        yield from _blocks(blocking, graph, nx.shortest_path(graph, at, goal))
        unseen.discard(goal)
        at = goal
    if len(nodes) > 1:
        yield from _blocks(blocking, graph, nx.shortest_path(graph, at, nodes[0]))


def _blocks(blocking: Blocking, graph: nx.DiGraph[int], path: list[int]) -> Iterator[Block]:
    for part, by in pairwise(path):
        yield Block(
            part=blocking.names[part],
            by=blocking.names[by],
            reason=graph.edges[part, by]["reason"],
        )
