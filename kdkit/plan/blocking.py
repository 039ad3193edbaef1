"""Blocking graphs: for each direction, what cannot move without what, and why.

An edge i → j in the graph of direction d says: i cannot move along d unless j
moves with it. The graphs are kept twice: as bit masks, because the search asks
millions of times, and as ``networkx.DiGraph`` with the reason on each edge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3, dot
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.plan.bodies import Body, collect_bodies
from kdkit.plan.directions import canonical_directions, direction_words, opposite, same_way
from kdkit.plan.sweep import Flags, overlap, sweep_hits

__all__ = ["Blocking", "Conditional", "Hold", "find_blocking", "members"]


@dataclass(frozen=True)
class Conditional:
    """An edge that counts only while all parts of the mask ``needs`` are there."""

    to: int
    needs: int
    reason: str


@dataclass(frozen=True)
class Hold:
    """An edge that always counts, with its reason."""

    to: int
    reason: str


@dataclass(frozen=True, eq=False)
class Blocking:
    """The blocking graphs of all directions, over parts numbered by ``names``.

    Args:
        holds: for each direction and part, the parts it cannot move without.
        masks: the same as one bit mask for each direction and part.
        conditional: edges from hardware that is not always there.
    """

    names: tuple[str, ...]
    directions: tuple[Vec3, ...]
    holds: tuple[tuple[tuple[Hold, ...], ...], ...]
    masks: tuple[tuple[int, ...], ...]
    conditional: tuple[tuple[tuple[Conditional, ...], ...], ...]

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
        for hold in self.holds[d][part]:
            if hold.to == to:
                return hold.reason
        for edge in self.conditional[d][part]:
            if edge.to == to and not edge.needs & ~among:
                return edge.reason
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
        return Blocking(
            self.names,
            self.directions,
            tuple(tuple(tuple(h) for h in row) for row in holds),
            tuple(tuple(row) for row in masks),
            self.conditional,
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
                            kept.setdefault(to, Hold(to, hold.reason))
                    for edge in self.conditional[d][part]:
                        to = of.get(edge.to, n)
                        if to == n or edge.needs & ~inside:
                            continue
                        needs = outer(edge.needs) & ~(1 << n | 1 << to)
                        if needs:
                            edges.append(Conditional(to, needs, edge.reason))
                        else:
                            kept.setdefault(to, Hold(to, edge.reason))
                hold_row.append(tuple(kept[to] for to in sorted(kept)))
                edge_row.append(tuple(e for e in edges if e.to not in kept))
            holds.append(tuple(hold_row))
            conditional.append(tuple(edge_row))
            masks.append(tuple(sum(1 << h.to for h in hs) for hs in hold_row))
        return Blocking(
            tuple(names), self.directions, tuple(holds), tuple(masks), tuple(conditional)
        )


def members(mask: int) -> list[int]:
    """Return the numbers in a mask, rising."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def find_blocking(
    names: Sequence[str], assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> Blocking:
    """Return the blocking graphs of a product.

    Edges come, in this order of reasons, from pinned joints, from the wood in
    the way (grooves taken out), and from hardware that sticks out.

    Args:
        names: the parts, in the order of their numbers.
    """
    number = {name: n for n, name in enumerate(names)}
    directions = canonical_directions(assembly, joinery)
    bodies = [b for b in collect_bodies(assembly, joinery, catalogue) if b.part in number]
    titles = {part.name: part.title or part.name for part in assembly.parts}
    words = _Words(joinery, catalogue, titles)
    count = len(names)
    holds: list[list[dict[int, Hold]]] = []
    edges: list[list[dict[tuple[int, int], Conditional]]] = []
    for _ in directions:
        holds.append([{} for _ in range(count)])
        edges.append([{} for _ in range(count)])
    for joint in joinery.joints:
        if joint.butting not in number or joint.receiving not in number:
            continue
        fitting = words.pinning(joint)
        if fitting is None:
            continue
        k = joint.contact.frame.k
        for d, v in enumerate(directions):
            a, b = number[joint.butting], number[joint.receiving]
            if not same_way(v, k):
                holds[d][a].setdefault(b, Hold(b, words.pinned(joint.butting, joint, k)))
            if not same_way(v, opposite(k)):
                holds[d][b].setdefault(
                    a, Hold(a, words.pinned(joint.receiving, joint, opposite(k)))
                )
    _add_sweeps(bodies, number, directions, words, holds, edges)
    hold_rows = tuple(tuple(tuple(row[to] for to in sorted(row)) for row in per) for per in holds)
    return Blocking(
        tuple(names),
        directions,
        hold_rows,
        tuple(tuple(sum(1 << h.to for h in hs) for hs in per) for per in hold_rows),
        tuple(
            tuple(
                tuple(row[key] for key in sorted(row) if key[0] not in holds[d][part])
                for part, row in enumerate(per)
            )
            for d, per in enumerate(edges)
        ),
    )


def _add_sweeps(
    bodies: Sequence[Body],
    number: Mapping[str, int],
    directions: Sequence[Vec3],
    words: _Words,
    holds: list[list[dict[int, Hold]]],
    edges: list[list[dict[tuple[int, int], Conditional]]],
) -> None:
    """Sweep every body along every direction against every other part's bodies."""
    shapes = [b.shape for b in bodies]
    owner = np.array([number[b.part] for b in bodies])
    wanted = owner[:, None] != owner[None, :]
    hardware = [n for n, b in enumerate(bodies) if b.fastener is not None]
    for n in hardware:
        body = bodies[n]
        if body.mate is not None and body.mate in number:
            same = owner == number[body.mate]
            wanted[n, same] = False
            wanted[same, n] = False
        for m in hardware:
            if bodies[m].fastener == body.fastener:
                wanted[n, m] = wanted[m, n] = False
    through = _passing_through(bodies, hardware, wanted)
    for d in range(0, len(directions), 2):
        hits = sweep_hits(shapes, shapes, directions[d], wanted)
        for (n, m), axis in through.items():
            if abs(dot(axis, directions[d])) > 1 - 1e-9:
                hits[n, m] = hits[m, n] = False
        for n, m in zip(*np.nonzero(hits), strict=True):
            for way, p, q in ((d, int(n), int(m)), (d + 1, int(m), int(n))):
                _note(bodies[p], bodies[q], way, number, directions[way], words, holds, edges)


def _passing_through(
    bodies: Sequence[Body], hardware: Sequence[int], wanted: Flags
) -> dict[tuple[int, int], Vec3]:
    """Items that already stand in a third part: a bore lets them out along their axis."""
    found: dict[tuple[int, int], Vec3] = {}
    low = np.array([b.shape.vertices.min(axis=0) for b in bodies])
    high = np.array([b.shape.vertices.max(axis=0) for b in bodies])
    for n in hardware:
        axis = bodies[n].axis
        near = wanted[n] & (low < high[n]).all(axis=1) & (high > low[n]).all(axis=1)
        for m in np.nonzero(near)[0]:
            if axis is not None and overlap(bodies[n].shape, bodies[int(m)].shape):
                found[n, int(m)] = axis
    return found


def _note(
    moving: Body,
    standing: Body,
    d: int,
    number: Mapping[str, int],
    direction: Vec3,
    words: _Words,
    holds: list[list[dict[int, Hold]]],
    edges: list[list[dict[tuple[int, int], Conditional]]],
) -> None:
    part, to = number[moving.part], number[standing.part]
    needs = 0
    for name in (*moving.needs, *standing.needs):
        if name in number:
            needs |= 1 << number[name]
    needs &= ~(1 << part | 1 << to)
    if needs == 0:
        holds[d][part].setdefault(to, Hold(to, words.in_the_way(moving, standing, direction)))
    elif to not in holds[d][part]:
        edges[d][part].setdefault(
            (to, needs), Conditional(to, needs, words.in_the_way(moving, standing, direction))
        )


class _Words:
    """Reasons as people read them."""

    def __init__(self, joinery: Joinery, catalogue: Catalogue, titles: Mapping[str, str]) -> None:
        self._joinery = joinery
        self._catalogue = catalogue
        self._titles = titles
        self._captured = {
            frozenset((j.butting, j.receiving)): j.butting
            for j in joinery.joints
            if any(self._holds(f) == "captured" for f in j.fittings) or j.contact.sunk > 0
        }

    def _holds(self, fitting: str) -> str:
        entry = self._joinery.fittings.get(fitting)
        return entry.holds if entry is not None else "free"

    def pinning(self, joint: PlacedJoint) -> str | None:
        """Return the first fitting that pins a joint, or None."""
        return next((f for f in joint.fittings if self._holds(f) == "pinned"), None)

    def pinned(self, part: str, joint: PlacedJoint, way: Vec3) -> str:
        """Return the reason of a pinned joint."""
        other = joint.receiving if part == joint.butting else joint.butting
        fitting = self._joinery.fittings[self.pinning(joint) or ""].title.lower()
        return (
            f"{self._titles[part]} is pinned to {self._titles[other]} ({fitting}) "
            f"and comes off {direction_words(way)} only"
        )

    def in_the_way(self, moving: Body, standing: Body, direction: Vec3) -> str:
        """Return the reason of a collision."""
        mover, other = self._titles[moving.part], self._titles[standing.part]
        way = direction_words(direction)
        for body, whose in ((moving, mover), (standing, other)):
            if body.fastener is not None:
                entry = self._catalogue.items.get(body.item)
                item = entry.title.lower() if entry is not None else body.item
                return (
                    f"moving {mover} {way}, the {item} in {whose} would meet {other}"
                    if (body is moving)
                    else f"moving {mover} {way}, it would meet the {item} in {whose}"
                )
        held = self._captured.get(frozenset((moving.part, standing.part)))
        if held == moving.part:
            return f"{mover} stands in the groove of {other} and cannot move {way}"
        if held == standing.part:
            return f"{mover} holds {other} in its groove and cannot move {way}"
        return f"moving {mover} {way}, it would run into {other}"
