"""Taking apart: which parts can leave together, and the proof when none can.

A set M of parts can leave a set S along d just when it is closed in the
blocking graph of d over S: no edge leads from M to the rest. The smallest
closed sets are found through the strongly connected components.

**No dead ends.** Let S come apart, and S' be a subset of S. Then S' comes
apart too: every edge of a graph over S' is an edge over S (a part that is gone
blocks nothing and stands in no tool's way, and hardware meant for a part that is gone
need not be fitted).
Take the first move of S, M away from the rest. If S' has parts on both sides,
S' ∩ M is closed over S' and leaves; else S' lies within one side, and the
argument repeats there. Hence whatever leaves first, what remains comes apart if
the product did; a greedy search never has to go back; and a set of which no
proper subset is closed in any direction proves that the product is impossible
in this class of motions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from kdkit.plan.blocking.graphs import Blocking, members
from kdkit.plan.plan import NAMED_DIRECTIONS, Block, Impossible

__all__ = [
    "Move",
    "can_leave",
    "closed_sets",
    "closures",
    "comes_apart",
    "comes_apart_singly",
    "find_stuck",
    "free_parts",
    "prove_stuck",
    "smallest_stuck",
    "unions_of_closed",
    "walk_of_blocks",
]


@dataclass(frozen=True)
class Move:
    """The parts of a mask leave along the direction of that number."""

    parts: int
    direction: int


def free_parts(blocking: Blocking, among: int) -> list[Move]:
    """Return every single part that can leave a set, each with every direction."""
    ways = range(len(blocking.directions))
    return [
        Move(1 << part, d)
        for part in members(among)
        for d in ways
        if can_leave(blocking, d, part, among)
    ]


def can_leave(blocking: Blocking, d: int, part: int, among: int) -> bool:
    """Tell whether one part of a set can leave it along a direction."""
    if blocking.masks[d][part] & among:
        return False
    for edge in blocking.conditional[d][part]:
        if among >> edge.to & 1 and not edge.needs & ~among:
            return False
    return True


def closed_sets(blocking: Blocking, among: int) -> list[Move]:
    """Return the proper closed sets that one part generates, smallest first.

    Every closed set is a union of these, so if there is none, nothing moves.
    """
    found: set[tuple[int, int, int]] = set()
    for d in range(len(blocking.directions)):
        held = {part: blocking.blockers(d, part, among) for part in members(among)}
        for mask in closures(held).values():
            if mask != among:
                found.add((mask.bit_count(), mask, d))
    return [Move(mask, d) for _, mask, d in sorted(found)]


def unions_of_closed(blocking: Blocking, among: int, most: int) -> list[Move]:
    """Return the proper closed sets: unions of those that one part generates.

    Args:
        most: how many are listed for one direction; the smallest come first.
    """
    found: list[Move] = []
    for d in range(len(blocking.directions)):
        held = {part: blocking.blockers(d, part, among) for part in members(among)}
        single = sorted(set(closures(held).values()), key=lambda m: (m.bit_count(), m))
        seen = dict.fromkeys(mask for mask in single if mask != among)
        waiting = list(seen)
        for mask in waiting:
            for more in single:
                union = mask | more
                if union != among and union not in seen and len(seen) < most:
                    seen[union] = None
                    waiting.append(union)
        found += [Move(mask, d) for mask in sorted(seen)]
    return found


def closures(held: Mapping[int, int]) -> dict[int, int]:
    """Return for each node the mask of all that can be reached from it, itself included.

    Args:
        held: for each node the mask of its direct successors, all of them keys too.

    Source:
        Strongly connected components in one depth-first pass (Tarjan 1972); they come
        out with those they lead to before them, so that the reach of each is complete.
    """
    reach: dict[int, int] = {}
    low: dict[int, int] = {}
    index: dict[int, int] = {}
    stack: list[int] = []
    waiting: list[tuple[int, int]] = []  # node, successors still to look at
    for root in held:
        if root in index:
            continue
        waiting.append((root, held[root]))
        index[root] = low[root] = len(index)
        stack.append(root)
        while waiting:
            node, left = waiting.pop()
            down = None
            while left:
                bit = left & -left
                left ^= bit
                to = bit.bit_length() - 1
                if to not in index:
                    down = to
                    break
                if to not in reach:
                    low[node] = min(low[node], index[to])
            if down is not None:
                waiting.append((node, left))
                waiting.append((down, held[down]))
                index[down] = low[down] = len(index)
                stack.append(down)
                continue
            if waiting:
                above = waiting[-1][0]
                low[above] = min(low[above], low[node])
            if low[node] == index[node]:
                component = []
                while True:
                    part = stack.pop()
                    component.append(part)
                    if part == node:
                        break
                mask = 0
                inside = 0
                for part in component:
                    inside |= 1 << part
                    mask |= held[part]
                outer = mask & ~inside
                mask |= inside
                while outer:
                    bit = outer & -outer
                    beyond = reach[bit.bit_length() - 1]
                    mask |= beyond
                    outer &= ~(beyond | bit)
                for part in component:
                    reach[part] = mask
    return reach


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


def comes_apart_singly(blocking: Blocking, among: int) -> bool:
    """Tell whether a set comes apart one part at a time.

    If it does, so does every set that is left on the way, by the argument in this
    module's head: no half ever has to leave.
    """
    return _without_free(blocking, among).bit_count() < 2


def _without_free(blocking: Blocking, among: int) -> int:
    ways = range(len(blocking.directions))
    moved = True
    while moved and among.bit_count() > 1:
        moved = False
        for part in members(among):
            if any(can_leave(blocking, d, part, among) for d in ways):
                among &= ~(1 << part)
                moved = True
    return among


def prove_stuck(blocking: Blocking, stuck: int) -> Impossible:
    """Return the certificate of a stuck set: a closed walk of blocks per direction.

    Each walk passes through every part of the set, so no proper subset is closed:
    somewhere on the walk a part inside is held by the next one outside. Of other
    directions than those of the graphs it says nothing (``settle`` does).
    """
    return Impossible(
        parts=tuple(blocking.names[part] for part in members(stuck)),
        loops=tuple(
            (v, tuple(_closed_walk(blocking, d, stuck)))
            for d, v in enumerate(blocking.directions)
            if d not in blocking.moves
        ),
        motion_class=NAMED_DIRECTIONS,
    )


def _closed_walk(blocking: Blocking, d: int, stuck: int) -> Iterator[Block]:
    graph = blocking.graph(d, stuck)
    nodes = sorted(graph)
    at, unseen = nodes[0], set(nodes[1:])
    while unseen:
        lengths = nx.single_source_shortest_path_length(graph, at)
        goal = min(unseen, key=lambda n: (lengths[n], n))
        yield from _blocks(blocking, d, stuck, nx.shortest_path(graph, at, goal))
        unseen.discard(goal)
        at = goal
    if len(nodes) > 1:
        yield from _blocks(blocking, d, stuck, nx.shortest_path(graph, at, nodes[0]))


def walk_of_blocks(blocking: Blocking, d: int, parts: Sequence[int]) -> tuple[Block, ...]:
    """Return a closed walk over parts, each held by the next one, with the reasons."""
    return tuple(
        Block(
            part=blocking.names[part],
            by=blocking.names[by],
            reason=blocking.refusal(d, part, by, blocking.everything),
        )
        for part, by in pairwise((*parts, parts[0]))
    )


def _blocks(blocking: Blocking, d: int, among: int, path: list[int]) -> Iterator[Block]:
    for part, by in pairwise(path):
        yield Block(
            part=blocking.names[part],
            by=blocking.names[by],
            reason=blocking.refusal(d, part, by, among),
        )
