"""Blocking graphs: for each direction, what cannot move without what, and why.

An edge i → j in the graph of direction d says: i cannot move along d unless j
moves with it. The graphs are kept twice: as bit masks, because the search asks
millions of times, and as ``networkx.DiGraph`` with the reason on each edge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import networkx as nx

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking.edges import Conditional, Hold
from kdkit.plan.blocking.reach import Reach
from kdkit.plan.blocking.scenery import Scenery
from kdkit.plan.motion.directions import canonical_directions
from kdkit.plan.motion.moves import seen_from_the_rest
from kdkit.plan.plan import Moves, Slide

__all__ = ["Blocking", "find_blocking", "members"]


@dataclass(frozen=True, eq=False)
class Blocking:
    """The blocking graphs of all directions, over parts numbered by ``names``.

    Args:
        holds: for each direction and part, the parts it cannot move without.
        masks: the same as one bit mask for each direction and part.
        conditional: edges from hardware that is not always there, and from the room that
            hands and tools need.
        reach: that room, piece of work by piece of work.
        scenery: what they were made from, and more can be made from; None for merged bodies.
        ordered: (first, later, reason) of an order that was added to them.
        moves: for the number of a direction that is more than one straight move, all of
            them; what stands among the directions is then the way that the parts leave
            their joints, or, where they tilt first, the way after that.
    """

    names: tuple[str, ...]
    directions: tuple[Vec3, ...]
    holds: tuple[tuple[tuple[Hold, ...], ...], ...]
    masks: tuple[tuple[int, ...], ...]
    conditional: tuple[tuple[tuple[Conditional, ...], ...], ...]
    reach: tuple[Reach, ...] = ()
    scenery: Scenery | None = None
    ordered: tuple[tuple[int, int, str], ...] = ()
    moves: Mapping[int, Moves] = field(default_factory=dict)

    @property
    def everything(self) -> int:
        """The mask of all parts."""
        return (1 << len(self.names)) - 1

    def blockers(self, d: int, part: int, among: int) -> int:
        """Return the mask of the parts among a set that one part cannot move without."""
        mask = self.masks[d][part] & among
        for edge in self.conditional[d][part]:
            if among >> edge.to & 1 and not edge.needs & ~among:
                mask |= 1 << edge.to
        return mask

    def reason(self, d: int, part: int, to: int, among: int) -> str:
        """Return why ``part`` cannot move without ``to`` while a set is there.

        Raises:
            KeyError: it can (a fault in kdkit).
        """
        return self._edge(d, part, to, among).reason

    def refusal(self, d: int, part: int, to: int, among: int) -> str:
        """Return the same as a no gives it: with the room that a tool needs and has, mm."""
        return self._edge(d, part, to, among).refusal

    def _edge(self, d: int, part: int, to: int, among: int) -> Hold | Conditional:
        for hold in self.holds[d][part]:
            if hold.to == to:
                return hold
        for edge in self.conditional[d][part]:
            if edge.to == to and not edge.needs & ~among:
                return edge
        raise KeyError((self.names[part], self.names[to]))

    def graph(self, d: int, among: int) -> nx.DiGraph[int]:
        """Return the blocking graph of a direction over a set of parts.

        Nodes are part numbers; each edge has its ``reason``.
        """
        graph: nx.DiGraph[int] = nx.DiGraph()
        inside = members(among)
        graph.add_nodes_from(inside)
        for part in inside:
            for to in members(self.blockers(d, part, among)):
                graph.add_edge(part, to, reason=self.reason(d, part, to, among))
        return graph

    def with_order(self, pairs: Sequence[tuple[int, int, str]]) -> Blocking:
        """Return the graphs with (first, later, reason) kept in every direction.

        ``first`` is put on before ``later``, hence it cannot leave without it.
        """
        masks = [list(row) for row in self.masks]
        holds = [[list(h) for h in row] for row in self.holds]
        for first, later, reason in pairs:
            for d in range(len(self.directions)):
                if not masks[d][first] >> later & 1:
                    masks[d][first] |= 1 << later
                    holds[d][first].append(Hold(later, reason))
        return replace(
            self,
            holds=tuple(tuple(tuple(h) for h in row) for row in holds),
            masks=tuple(tuple(row) for row in masks),
            ordered=(*self.ordered, *pairs),
        )

    def towards(self, more: Sequence[Vec3]) -> Blocking:
        """Return the graphs with those of further directions, in pairs of opposites.

        An order that was added counts in them as in the others; clamps' rooms do not.

        Raises:
            ValueError: the graphs are of merged bodies (a fault in kdkit).
        """
        if self.scenery is None:
            raise ValueError("merged graphs cannot be given more directions")
        return self._with_rows(more, *self.scenery.rows(more))

    def along(self, moves: Moves) -> Blocking:
        """Return the graphs with those of some moves in a row, and of these seen from the rest.

        Raises:
            ValueError: the graphs are of merged bodies (a fault in kdkit).
        """
        if self.scenery is None:
            raise ValueError("merged graphs cannot be given more moves")
        both = (moves, seen_from_the_rest(moves))
        at = len(self.directions)
        more = self._with_rows([_way_of(m) for m in both], *self.scenery.rows_along(moves))
        return replace(more, moves={**self.moves, at: both[0], at + 1: both[1]})

    def _with_rows(
        self,
        more: Sequence[Vec3],
        rows: tuple[tuple[tuple[Hold, ...], ...], ...],
        edges: tuple[tuple[tuple[Conditional, ...], ...], ...],
    ) -> Blocking:
        fresh = replace(
            self,
            directions=tuple(more),
            holds=rows,
            masks=tuple(tuple(sum(1 << h.to for h in hs) for hs in per) for per in rows),
            conditional=edges,
            ordered=(),
        ).with_order(self.ordered)
        return replace(
            self,
            directions=(*self.directions, *fresh.directions),
            holds=(*self.holds, *fresh.holds),
            masks=(*self.masks, *fresh.masks),
            conditional=(*self.conditional, *fresh.conditional),
        )

    def merged(self, groups: Sequence[int], names: Sequence[str]) -> Blocking:
        """Return the graphs in which each group of parts (a mask) moves as one body.

        Parts in no group are not there.
        """
        inside = sum(groups)
        of = {part: n for n, group in enumerate(groups) for part in members(group)}

        def outer(mask: int) -> int:
            result = 0
            for part in members(mask):
                result |= 1 << of[part]
            return result

        holds, masks, conditional = [], [], []
        for d in range(len(self.directions)):
            hold_row: list[tuple[Hold, ...]] = []
            edge_row: list[tuple[Conditional, ...]] = []
            for n, group in enumerate(groups):
                kept: dict[int, Hold] = {}
                edges: list[Conditional] = []
                for part in members(group):
                    for hold in self.holds[d][part]:
                        to = of.get(hold.to, n)
                        if to != n:
                            kept.setdefault(to, replace(hold, to=to))
                    for edge in self.conditional[d][part]:
                        to = of.get(edge.to, n)
                        if to == n or edge.needs & ~inside:
                            continue
                        needs = outer(edge.needs) & ~(1 << n | 1 << to)
                        if needs:
                            edges.append(replace(edge, to=to, needs=needs))
                        else:
                            kept.setdefault(to, Hold(to, edge.reason, edge.room))
                hold_row.append(tuple(kept[to] for to in sorted(kept)))
                edge_row.append(tuple(e for e in edges if e.to not in kept))
            holds.append(tuple(hold_row))
            conditional.append(tuple(edge_row))
            masks.append(tuple(sum(1 << h.to for h in hs) for hs in hold_row))
        return Blocking(
            tuple(names),
            self.directions,
            tuple(holds),
            tuple(masks),
            tuple(conditional),
            moves=self.moves,
        )


def _way_of(moves: Moves) -> Vec3:
    """The way of the first straight one of some moves."""
    return next(move.way for move in moves if isinstance(move, Slide))


def members(mask: int) -> list[int]:
    """Return the numbers in a mask, rising."""
    count = mask.bit_count()
    if count > 8 and 3 * count > mask.bit_length():  # the same, faster where many are in it
        return [n for n, bit in enumerate(bin(mask)[:1:-1]) if bit == "1"]
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def find_blocking(
    names: Sequence[str], assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> Blocking:
    """Return the blocking graphs of a product, for its canonical directions.

    Args:
        names: the parts, in the order of their numbers.
    """
    scenery = Scenery(names, assembly, joinery, catalogue)
    nothing = Blocking(tuple(names), (), (), (), (), scenery.reach, scenery)
    return nothing.towards(canonical_directions(assembly, joinery))
