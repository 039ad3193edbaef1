"""The verdict over all directions: what is stuck is looked at all round before it is a no.

The graphs begin with the directions that a product's joints, grooves and axes suggest.
If all comes apart along these, nothing more is asked. If some bodies are stuck, every
direction is gone over for them (``everywhere``): a direction that sets some of them free
joins the graphs, for all parts, and the search goes on. If there is none, two moves in a
row and tilting are tried on them (``detours``), and what sets some free joins likewise. If
nothing does, the loops that show it of all directions are the certificate.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import product

from kdkit.frames import Vec3
from kdkit.plan.blocking.apart import find_stuck, prove_stuck, smallest_stuck, walk_of_blocks
from kdkit.plan.blocking.detours import Tried, find_moves, tried_words
from kdkit.plan.blocking.everywhere import (
    Everywhere,
    Knowledge,
    Loop,
    closed_walk,
    is_joined,
    look_everywhere,
)
from kdkit.plan.blocking.graphs import Blocking, members
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.cones import EVERYWHERE, cone_between
from kdkit.plan.motion.directions import opposite, same_way
from kdkit.plan.motion.sweep import overlap
from kdkit.plan.plan import EVERY_DIRECTION, Impossible, body_name

__all__ = ["find_way", "settle", "settle_order", "with_all_reasons"]

_MOST_WAYS = 400
"""How many directions may join the graphs; each sets something free."""

_MOST_REASONS, _MOST_LOOKS = 12, 60
"""Bounds on the search for further reasons: how many are certified, and how many looks."""


def settle(
    blocking: Blocking,
    find: Callable[[Blocking], Sequence[int] | None],
    *,
    detours: bool = True,
) -> tuple[Blocking, Impossible | None]:
    """Return the graphs with every direction that a verdict needs, and a no if it is one.

    Args:
        find: gives the bodies (masks of parts) that are stuck in some graphs, none of
            which can be spared; or None.
        detours: try two moves in a row and tilting on what no straight move takes apart.
    """
    found, tried = Everywhere(None, ()), Tried()
    for _ in range(_MOST_WAYS):
        stuck = find(blocking)
        if stuck is None:
            return blocking, None
        found = find_way(blocking, stuck)
        if found.way is not None and not _is_known(blocking, found.way):
            blocking = blocking.towards((found.way, opposite(found.way)))
            continue
        more, tried = find_moves(blocking, stuck) if detours else ((), Tried())
        if not more:
            break
        for moves in more:
            blocking = blocking.along(moves)
    stuck = find(blocking)
    if stuck is None:
        return blocking, None
    proof = _certificate(blocking, stuck, found.loops)
    return blocking, replace(proof, tried=tried_words(tried))


def with_all_reasons(
    blocking: Blocking,
    proof: Impossible,
    find: Callable[[Blocking, int], Sequence[int] | None],
) -> Impossible:
    """Return a no with a certificate for every further reason that stands by itself.

    What is known is broken: all its parts are taken away, or one of each set; what is stuck
    then and has at most one part in common with each known set is a reason of its own.

    Args:
        find: gives the bodies that are stuck in some graphs among some parts (a mask).
    """
    number = {name: n for n, name in enumerate(blocking.names)}
    known = [[sum(1 << number[p] for p in body) for body in proof.bodies.values()]]
    more: list[Impossible] = []
    looks = 0
    tried: set[int] = set()
    while len(known) < _MOST_REASONS:
        removed = next((m for m in _broken(known) if m not in tried), None)
        if removed is None:
            return replace(proof, more=tuple(more))
        if looks == _MOST_LOOKS:
            break
        looks += 1
        tried.add(removed)
        stuck = find(blocking, blocking.everything & ~removed)
        if stuck is None or any(_in_common(stuck, bodies) > 1 for bodies in known):
            continue
        found = find_way(blocking, stuck)
        if found.way is not None and not _is_known(blocking, found.way):
            blocking = blocking.towards((found.way, opposite(found.way)))
            tried.discard(removed)
            continue
        known.append(list(stuck))
        more.append(_certificate(blocking, stuck, found.loops))
    return replace(proof, more=tuple(more), all_found=False)


def _broken(known: Sequence[Sequence[int]]) -> Iterator[int]:
    """Masks of parts without which none of some sets is stuck: all parts; one body of each."""
    everything = 0
    for bodies in known:
        for body in bodies:
            everything |= body
    yield everything
    for some in product(*known):
        mask = 0
        for body in some:
            mask |= body
        yield mask


def _in_common(stuck: Sequence[int], bodies: Sequence[int]) -> int:
    whole = 0
    for mask in bodies:
        whole |= mask
    return sum(bool(mask & whole) for mask in stuck)


def settle_order(
    blocking: Blocking,
    row: Sequence[int],
    lines: Sequence[tuple[Sequence[str], Sequence[str]]],
) -> Blocking:
    """Return the graphs with the directions that an author's order needs, if it can be kept.

    Args:
        row: what the author puts on one after the other, as masks.
        lines: (first, later) of all that is to be put on before something else.
    """
    known = blocking
    there = 0
    for moving in row:
        if moving and there and not there & moving and not _leaves(blocking, moving, there):
            found = find_way(blocking, (moving, there), held=((1, 0),))
            if found.way is not None:
                blocking = blocking.towards((found.way, opposite(found.way)))
            else:
                more, _ = find_moves(blocking, (moving, there), held=((1, 0),))
                for moves in more:
                    blocking = blocking.along(moves)
        there |= moving
    number = {name: n for n, name in enumerate(blocking.names)}
    ordered = blocking
    for first, later in lines:
        pairs = [(a, b) for a in first for b in later if a != b and {a, b} <= number.keys()]
        ordered = ordered.with_order([(number[a], number[b], "") for a, b in pairs])
        ordered, proof = settle(ordered, _stuck_parts)
        if proof is not None:
            break
    for d in range(len(known.directions), len(ordered.directions), 2):
        if d in ordered.moves:
            known = known.along(ordered.moves[d])
        else:
            known = known.towards(ordered.directions[d : d + 2])
    return known


def _leaves(blocking: Blocking, moving: int, there: int) -> bool:
    return any(
        not any(blocking.blockers(d, part, moving | there) & there for part in members(moving))
        for d in range(len(blocking.directions))
    )


def _stuck_parts(blocking: Blocking) -> list[int] | None:
    stuck = find_stuck(blocking, blocking.everything)
    if stuck is None:
        return None
    return [1 << part for part in members(smallest_stuck(blocking, stuck))]


def find_way(
    blocking: Blocking, bodies: Sequence[int], held: Sequence[tuple[int, int]] = ()
) -> Everywhere:
    """Look in every direction for one in which some stuck bodies can leave the others.

    Args:
        blocking: the graphs of the parts, in none of which any of the bodies can leave.
        bodies: the parts of each, as masks.
        held: (body, by) that count in every direction too.
    """
    scenery = blocking.scenery
    if scenery is None or len(bodies) < 2:
        return Everywhere(None, ())
    of = {part: n for n, group in enumerate(bodies) for part in members(group)}
    known = Knowledge(len(bodies))
    for fixed in scenery.fixed(sum(bodies)):
        if of[fixed.part] != of[fixed.to]:
            but = () if fixed.but is None else (fixed.but,)
            known.add(of[fixed.part], of[fixed.to], EVERYWHERE, but)
    for first, later, _ in blocking.ordered:
        if first in of and later in of and of[first] != of[later]:
            known.add(of[first], of[later], EVERYWHERE)
    for body, by in held:
        known.add(body, by, EVERYWHERE)
    seen: set[tuple[int, int]] = set()

    def learn(way: Vec3) -> None:
        for moving, standing in scenery.meetings(way, bodies):
            pair = (id(moving), id(standing))
            cone = None if pair in seen else cone_between(moving.shape, standing.shape)
            seen.add(pair)
            if cone is not None:
                held, by = (of[scenery.number[b.part]] for b in (moving, standing))
                known.add(held, by, cone, _through(moving, standing))

    straight = [way for d, way in enumerate(blocking.directions) if d not in blocking.moves]
    for way in straight[::2]:
        learn(way)
    edges = [(way, known.at(way)) for way in straight]
    loops = [Loop(way, closed_walk(held)) for way, held in edges if is_joined(held)]
    return look_everywhere(known, loops, learn)


def _through(moving: Body, standing: Body) -> tuple[Vec3, ...]:
    """The ways in which an item that stands in another part leaves its bore."""
    axes = [body.axis for body in (moving, standing) if body.axis is not None]
    if not axes or not overlap(moving.shape, standing.shape):
        return ()
    return tuple(way for axis in axes for way in (axis, opposite(axis)))


def _is_known(blocking: Blocking, way: Vec3) -> bool:
    return _number(blocking, way) is not None


def _number(blocking: Blocking, way: Vec3) -> int | None:
    """The number of the straight direction that is a way."""
    for d, v in enumerate(blocking.directions):
        if d not in blocking.moves and same_way(way, v):
            return d
    return None


def _certificate(blocking: Blocking, bodies: Sequence[int], loops: Sequence[Loop]) -> Impossible:
    """Return the loops with the reason of every block in them.

    Without loops: those of the graphs, which then say nothing of other directions.
    """
    more = [o.direction for o in loops if not _is_known(blocking, o.direction)]
    if more:
        blocking = blocking.towards([w for v in more for w in (v, opposite(v))])
    names = [body_name([blocking.names[p] for p in members(mask)]) for mask in bodies]
    merged = blocking.merged(bodies, names)
    if not loops:
        return prove_stuck(merged, merged.everything)
    walks = []
    for loop in loops:
        d = _number(merged, loop.direction)
        assert d is not None
        walks.append((merged.directions[d], walk_of_blocks(merged, d, loop.bodies)))
    return Impossible(parts=tuple(names), loops=tuple(walks), motion_class=EVERY_DIRECTION)
