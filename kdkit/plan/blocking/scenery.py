"""What stands in the way in a product, for the directions that are asked for.

Edges come, in this order of reasons, from pinned joints, from the wood in the way
(grooves taken out), from hardware that sticks out, and from the room that hands and
tools need: two parts cannot part while something stands where their fastener is worked,
because it could not have been fastened there.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, partial

import numpy as np

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking.edges import Conditional, Fixed, Hold
from kdkit.plan.blocking.reach import Reach, find_reach
from kdkit.plan.blocking.reasons import Reasons
from kdkit.plan.motion.bodies import Body, collect_bodies
from kdkit.plan.motion.collisions import find_collisions
from kdkit.plan.motion.directions import direction_words, opposite, same_way
from kdkit.plan.motion.moves import find_collisions_along, moves_words, seen_from_the_rest
from kdkit.plan.motion.sweep import Flags
from kdkit.plan.plan import Moves, OperationKind, Slide

__all__ = ["Scenery"]

Rows = tuple[
    tuple[tuple[tuple[Hold, ...], ...], ...], tuple[tuple[tuple[Conditional, ...], ...], ...]
]
"""The edges that always count, and the others, per direction and part."""

_Holds = list[list[dict[int, Hold]]]
_Edges = list[list[dict[tuple[int, int], Conditional]]]

Rooms = Mapping[tuple[str, str, str], Sequence[frozenset[str]]]
"""(fastener, item, part) → sets of parts in whose company it cannot be fitted any more."""


class Scenery:
    """All that can stand in the way in a product: its bodies, pins and rooms."""

    def __init__(
        self, names: Sequence[str], assembly: Assembly, joinery: Joinery, catalogue: Catalogue
    ) -> None:
        self.names = tuple(names)
        number = {name: n for n, name in enumerate(names)}
        bodies = [b for b in collect_bodies(assembly, joinery, catalogue) if b.part in number]
        titles = {part.name: part.title or part.name for part in assembly.parts}
        self.reach = find_reach(bodies, joinery, catalogue, titles)
        covered = _covered_fixtures(self.reach)
        if covered:
            found = collect_bodies(assembly, joinery, catalogue, covered)
            bodies = [b for b in found if b.part in number]
        self.number = number
        self._bodies = bodies
        self._titles = titles
        self._reasons = Reasons(joinery, catalogue, titles)
        self._late = _late_rooms(self.reach)
        self._pins = [
            joint
            for joint in joinery.joints
            if joint.butting in number
            and joint.receiving in number
            and self._reasons.pinning(joint) is not None
        ]

    def rows(self, directions: Sequence[Vec3]) -> Rows:
        """Return the edges that always count, and the others, per direction and part.

        Args:
            directions: in pairs, each followed by its opposite.
        """
        holds, edges = self._nothing(len(directions))
        self._add_pins(directions, holds)
        self._add_sweeps(directions, holds, edges)
        return self._closed(holds, edges)

    def rows_along(self, moves: Moves) -> Rows:
        """Return the edges for some moves in a row, and for these seen from the rest.

        Pins let go along their own way alone, in the first move.
        """
        holds, edges = self._nothing(2)
        first = moves[0]
        way = first.way if isinstance(first, Slide) else None
        self._add_pins((way, None if way is None else opposite(way)), holds)
        words = (moves_words(moves), moves_words(seen_from_the_rest(moves)))

        def decided(d: int, moving: Body, standing: Body) -> bool:
            return self.number[standing.part] in holds[d][self.number[moving.part]]

        for d, moving, standing in find_collisions_along(
            self._bodies, moves, self._company, decided
        ):
            self._note(moving, standing, words[d], holds[d], edges[d])
        return self._closed(holds, edges)

    def _nothing(self, directions: int) -> tuple[_Holds, _Edges]:
        """No edges yet, for so many directions."""
        count = len(self.names)
        holds: _Holds = [[{} for _ in range(count)] for _ in range(directions)]
        edges: _Edges = [[{} for _ in range(count)] for _ in range(directions)]
        return holds, edges

    def _closed(self, holds: _Holds, edges: _Edges) -> Rows:
        """All edges, those of rooms for tools added."""
        self._add_reach(holds, edges)
        return (
            tuple(tuple(tuple(row[to] for to in sorted(row)) for row in per) for per in holds),
            tuple(
                tuple(
                    tuple(row[key] for key in sorted(row) if key[0] not in holds[d][part])
                    for part, row in enumerate(per)
                )
                for d, per in enumerate(edges)
            ),
        )

    def fixed(self, among: int) -> Iterator[Fixed]:
        """Yield the edges over a set of parts that hang on no direction, or on one alone."""
        for joint in self._pins:
            a, b = self.number[joint.butting], self.number[joint.receiving]
            if among >> a & 1 and among >> b & 1:
                yield Fixed(a, b, joint.way)
                yield Fixed(b, a, opposite(joint.way))
        for _, _, a, b, needs in self._shut():
            if not (needs | 1 << a | 1 << b) & ~among:
                yield Fixed(a, b)
                yield Fixed(b, a)

    def meetings(self, direction: Vec3, groups: Sequence[int]) -> Iterator[tuple[Body, Body]]:
        """Yield (moving body, body in its way), along a direction or its opposite.

        Enough of them for every edge between some groups of parts, each of which moves as
        one, while just these are there.
        """
        of = self._groups_of(groups)
        inside = [b for b in self._bodies if b.part in of]
        there = of.keys()

        def decided(_: int, moving: Body, standing: Body) -> bool:
            return of[moving.part] == of[standing.part]

        pair = (direction, opposite(direction))
        for _, moving, standing in find_collisions(inside, pair, self._company, decided):
            if any(
                names & self.number.keys() <= there
                for names, _ in _company(moving, standing, self._late)
            ):
                yield moving, standing

    def between(self, groups: Sequence[int]) -> tuple[list[Body], Flags]:
        """Return the bodies of some groups of parts, and which may be in the way of which.

        Those of different groups, as far as both are there while just these groups are.
        """
        of = self._groups_of(groups)
        inside = [b for b in self._bodies if b.part in of]
        group = np.array([of[body.part] for body in inside])
        counts = group[:, None] != group[None, :]
        some = [n for n, b in enumerate(inside) if b.needs or b.fastener is not None]
        for n, m in itertools.product(some, range(len(inside))):
            if counts[n, m]:
                companies = _company(inside[n], inside[m], self._late)
                counts[n, m] = counts[m, n] = any(
                    names & self.number.keys() <= of.keys() for names, _ in companies
                )
        return inside, counts

    def _groups_of(self, groups: Sequence[int]) -> dict[str, int]:
        """For each part of some groups the number of its group."""
        return {
            name: n
            for n, group in enumerate(groups)
            for part, name in enumerate(self.names)
            if group >> part & 1
        }

    def _company(self, body: Body) -> tuple[object, ...]:
        rooms = self._late.get((body.fastener or "", body.item, body.part), ())
        return (body.needs, body.mate if rooms else None, tuple(rooms))

    def _add_pins(self, directions: Sequence[Vec3 | None], holds: _Holds) -> None:
        said = self._reasons.pinned
        for joint in self._pins:
            k = joint.way
            a, b = self.number[joint.butting], self.number[joint.receiving]
            for d, v in enumerate(directions):
                if v is None or not same_way(v, k):
                    holds[d][a].setdefault(b, Hold(b, said(joint.butting, joint, k)))
                if v is None or not same_way(v, opposite(k)):
                    holds[d][b].setdefault(a, Hold(a, said(joint.receiving, joint, opposite(k))))

    def _shut(self) -> Iterator[tuple[Reach, frozenset[str], int, int, int]]:
        """Yield (work, others there, its two members, mask of the others) of barred rooms.

        Clamps are left out: where they find no room is no reason for a no (see ``clamps``).
        """
        number = self.number
        for one in self.reach:
            if one.is_clamp or len(one.members) < 2:
                continue
            if any(name not in number for name in one.members):
                continue
            a, b = (number[name] for name in one.members)
            for others in one.blocked:
                if all(name in number for name in others):
                    yield one, others, a, b, sum(1 << number[name] for name in others)

    def _add_reach(
        self,
        holds: _Holds,
        edges: _Edges,
    ) -> None:
        """Two members stay together while their fastener's room is not clear."""
        for one, others, a, b, needs in self._shut():
            reason = one.reason(others, self._titles)
            room = cache(partial(one.room_words, others, self._titles))
            for d in range(len(holds)):
                for part, to in ((a, b), (b, a)):
                    if needs == 0:
                        holds[d][part].setdefault(to, Hold(to, reason, room))
                    elif to not in holds[d][part]:
                        edge = Conditional(to, needs, reason, tool=True, room=room)
                        edges[d][part].setdefault((to, needs), edge)

    def _add_sweeps(
        self,
        directions: Sequence[Vec3],
        holds: _Holds,
        edges: _Edges,
    ) -> None:
        """Sweep every body along every direction against every other part's bodies."""
        number = self.number

        def decided(d: int, moving: Body, standing: Body) -> bool:
            return number[standing.part] in holds[d][number[moving.part]]

        for d, moving, standing in find_collisions(
            self._bodies, directions, self._company, decided
        ):
            self._note(moving, standing, direction_words(directions[d]), holds[d], edges[d])

    def _note(
        self,
        moving: Body,
        standing: Body,
        way: str,
        holds: list[dict[int, Hold]],
        edges: list[dict[tuple[int, int], Conditional]],
    ) -> None:
        number = self.number
        part, to = number[moving.part], number[standing.part]
        pair = ~(1 << part | 1 << to)
        reason = self._reasons.in_the_way(moving, standing, way)
        for names, tool in _company(moving, standing, self._late):
            needs = sum(1 << number[name] for name in names if name in number) & pair
            if needs == 0:
                holds[part].setdefault(to, Hold(to, reason))
                return
            if to not in holds[part]:
                said = f"{reason}, and it can be fitted no later" if tool else reason
                edges[part].setdefault((to, needs), Conditional(to, needs, said, tool))


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


def _company(moving: Body, standing: Body, late: Rooms) -> Iterator[tuple[frozenset[str], bool]]:
    """Yield the sets of parts in whose company a collision counts.

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
