"""Blocking graphs: for each direction, what cannot move without what, and why.

An edge i → j in the graph of direction d says: i cannot move along d unless j
moves with it. The graphs are kept twice: as bit masks, because the search asks
millions of times, and as ``networkx.DiGraph`` with the reason on each edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.meetings import MEETINGS
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.plan.blocking.reach import Reach, find_reach
from kdkit.plan.motion.bodies import Body, collect_bodies
from kdkit.plan.motion.collisions import find_collisions
from kdkit.plan.motion.directions import canonical_directions, direction_words, opposite, same_way
from kdkit.plan.plan import OperationKind

__all__ = ["Blocking", "Conditional", "Hold", "find_blocking", "members"]


@dataclass(frozen=True)
class Conditional:
    """An edge that counts only while all parts of the mask ``needs`` are there.

    ``tool``: it comes from the room that a tool needs, not from hardware in the way.
    """

    to: int
    needs: int
    reason: str
    tool: bool = False


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
        conditional: edges from hardware that is not always there, and from the room that
            hands and tools need.
        reach: that room, piece of work by piece of work.
    """

    names: tuple[str, ...]
    directions: tuple[Vec3, ...]
    holds: tuple[tuple[tuple[Hold, ...], ...], ...]
    masks: tuple[tuple[int, ...], ...]
    conditional: tuple[tuple[tuple[Conditional, ...], ...], ...]
    reach: tuple[Reach, ...] = ()

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
            self.reach,
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
                            edges.append(Conditional(to, needs, edge.reason, edge.tool))
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
    the way (grooves taken out), from hardware that sticks out, and from the room that
    hands and tools need: two parts cannot part while something stands where their
    fastener is worked, because it could not have been fastened there.

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
        k = joint.way
        for d, v in enumerate(directions):
            a, b = number[joint.butting], number[joint.receiving]
            if not same_way(v, k):
                holds[d][a].setdefault(b, Hold(b, words.pinned(joint.butting, joint, k)))
            if not same_way(v, opposite(k)):
                holds[d][b].setdefault(
                    a, Hold(a, words.pinned(joint.receiving, joint, opposite(k)))
                )
    reach = find_reach(bodies, joinery, catalogue, titles)
    covered = _covered_fixtures(reach)
    if covered:
        found = collect_bodies(assembly, joinery, catalogue, covered)
        bodies = [b for b in found if b.part in number]
    late = _late_rooms(reach)
    _add_sweeps(bodies, number, directions, words, holds, edges, late)
    _add_reach(reach, number, titles, holds, edges)
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
        reach,
    )


Rooms = Mapping[tuple[str, str, str], Sequence[frozenset[str]]]
"""(fastener, item, part) → sets of parts in whose company it cannot be fitted any more."""


def _late_rooms(reach: Sequence[Reach]) -> Rooms:
    found: dict[tuple[str, str, str], list[frozenset[str]]] = {}
    for one in reach:
        if one.kind is OperationKind.FIT:
            key = (one.work[0], one.item, one.members[0])
            found.setdefault(key, []).extend(s for s in one.blocked if s)
    return found


def _covered_fixtures(reach: Sequence[Reach]) -> Mapping[str, Sequence[frozenset[str]]]:
    """Fixtures that go on before something covers them: fastener → what covers it."""
    found: dict[str, list[frozenset[str]]] = {}
    for one in reach:
        if one.kind is OperationKind.FIXTURE:
            found.setdefault(one.work[0], []).extend(s for s in one.blocked if s)
    return {name: sets for name, sets in found.items() if sets}


def _add_reach(
    reach: Sequence[Reach],
    number: Mapping[str, int],
    titles: Mapping[str, str],
    holds: list[list[dict[int, Hold]]],
    edges: list[list[dict[tuple[int, int], Conditional]]],
) -> None:
    """Two members stay together while their fastener's room is not clear.

    Clamps are left out: where they find no room is no reason for a no (see ``clamps``).
    """
    for one in reach:
        if one.is_clamp or len(one.members) < 2 or any(name not in number for name in one.members):
            continue
        a, b = (number[name] for name in one.members)
        for others in one.blocked:
            if any(name not in number for name in others):
                continue
            needs = sum(1 << number[name] for name in others)
            reason = one.reason(others, titles)
            for d in range(len(holds)):
                for part, to in ((a, b), (b, a)):
                    if needs == 0:
                        holds[d][part].setdefault(to, Hold(to, reason))
                    elif to not in holds[d][part]:
                        edge = Conditional(to, needs, reason, tool=True)
                        edges[d][part].setdefault((to, needs), edge)


def _add_sweeps(
    bodies: Sequence[Body],
    number: Mapping[str, int],
    directions: Sequence[Vec3],
    words: _Words,
    holds: list[list[dict[int, Hold]]],
    edges: list[list[dict[tuple[int, int], Conditional]]],
    late: Rooms,
) -> None:
    """Sweep every body along every direction against every other part's bodies."""

    def company(body: Body) -> tuple[object, ...]:
        rooms = late.get((body.fastener or "", body.item, body.part), ())
        return (body.needs, body.mate if rooms else None, tuple(rooms))

    def decided(d: int, moving: Body, standing: Body) -> bool:
        return number[standing.part] in holds[d][number[moving.part]]

    for d, moving, standing in find_collisions(bodies, directions, company, decided):
        _note(moving, standing, d, number, directions[d], words, holds, edges, late)


def _note(
    moving: Body,
    standing: Body,
    d: int,
    number: Mapping[str, int],
    direction: Vec3,
    words: _Words,
    holds: list[list[dict[int, Hold]]],
    edges: list[list[dict[tuple[int, int], Conditional]]],
    late: Rooms,
) -> None:
    part, to = number[moving.part], number[standing.part]
    pair = ~(1 << part | 1 << to)
    reason = words.in_the_way(moving, standing, direction)
    for names, tool in _company(moving, standing, late):
        needs = sum(1 << number[name] for name in names if name in number) & pair
        if needs == 0:
            holds[d][part].setdefault(to, Hold(to, reason))
            return
        if to not in holds[d][part]:
            said = f"{reason}, and it can be fitted no later" if tool else reason
            edges[d][part].setdefault((to, needs), Conditional(to, needs, said, tool))


def _company(moving: Body, standing: Body, late: Rooms) -> Iterator[tuple[frozenset[str], bool]]:
    """The sets of parts in whose company a collision counts.

    An item fitted at home is there once the part that it is meant for is; or earlier,
    where it could not be fitted any more because of what stands in its room.
    """
    yield frozenset((*moving.needs, *standing.needs)), False
    for body, other in ((moving, standing), (standing, moving)):
        if body.fastener is None or not body.needs:
            continue
        for others in late.get((body.fastener, body.item, body.part), ()):
            if body.mate not in others:
                yield others | frozenset(other.needs), True


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
        if joint.contact.kind in MEETINGS:
            return (
                f"{self._titles[part]} is held by {self._titles[other]} ({fitting}) "
                f"and comes off {direction_words(way)} only"
            )
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
