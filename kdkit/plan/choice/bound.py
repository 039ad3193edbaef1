"""The least that any order could cost: a bound under the costs of a guided search.

It leaves out what depends on the order (what is held, what covers what) and lets every
part arrive the way that suits it best, so no order that the search may choose costs
less; the best one usually costs more.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import permutations

from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import members
from kdkit.plan.blocking.apart import comes_apart_singly
from kdkit.plan.choice.costs import APART, HALF, RESTS, Costs, turn_cost
from kdkit.plan.choice.resting import LEVEL
from kdkit.plan.plan import Posture

__all__ = ["least_cost"]

_WAYS = range(len(POSTURES))


def least_cost(scene: Costs, among: int, finish: Posture | None) -> float:
    """Return a cost below which no order of a set lies.

    Each joint between two parts closes in exactly one of the n − 1 arrivals, halves
    inside halves included, so some of them must close several at once. If the parts can
    come one at a time, each pays at least its best way in the best of the postures that are
    used, and the turns join those postures; or else all that is there is put on one of them
    somewhere, in whatever posture it was built. Where the joints do not reach from one group
    of parts to the next, the first of each further group meets nothing.
    """
    parts = members(among)
    joints = sum((scene.facts[part].joined & among).bit_count() for part in parts) // 2
    least = scene.pinned_at_once(joints, len(parts) - 1)
    groups = _groups(scene, among)
    alone = [RESTS if _may_rest(scene, group, among) else APART for group in groups]
    if not comes_apart_singly(scene.blocking, among):
        return least + sum(sorted(alone)[:-1])
    arrivals = [[_arrival(scene, part, q, among) for q in _WAYS] for part in parts]
    bases = [[scene.base(part, q) for q in _WAYS] for part in parts]
    best = float("inf")
    for used in range(1, 1 << len(POSTURES)):
        chosen = [q for q in _WAYS if used >> q & 1]
        each = [min(costs[q] for q in chosen) for costs in arrivals]
        base = min(
            min(costs[q] for q in chosen) - saved for costs, saved in zip(bases, each, strict=True)
        )
        of = dict(zip(parts, each, strict=True))
        apart = sorted(
            max(0.0, cost - max((of[part] for part in group), default=0.0))
            for cost, group in zip(alone, groups, strict=True)
        )
        cost = _turns(tuple(chosen), finish) + sum(each) + base + sum(apart[:-1])
        best = min(best, cost)
    put_on = RESTS + HALF  # pays for the part of the half that the half begins with
    least_each = [min(put_on, *costs) for costs in arrivals]
    return least + min(best, max(0.0, sum(least_each) - 2 * max(least_each) + put_on))


def _may_rest(scene: Costs, group: Sequence[int], among: int) -> bool:
    """Tell whether a group can stand on the rest or beside it, in some posture."""
    others = among & ~sum(1 << part for part in group)
    if any(others >> t.other & 1 for part in group for t in scene.facts[part].poise.touches):
        return True
    return any(
        abs(min(scene.facts[p].lows[q] for p in group) - scene.facts[o].lows[q]) <= LEVEL
        for q in _WAYS
        for o in members(others)
        if group
    )


def _groups(scene: Costs, among: int) -> list[list[int]]:
    """The parts that joints hold together, loose parts left out."""
    left = sum(1 << part for part in members(among) if not scene.facts[part].loose)
    groups = []
    while left:
        fresh = left & -left
        group = 0
        while fresh:
            part = fresh.bit_length() - 1
            group |= 1 << part
            fresh = (fresh | scene.facts[part].joined & left) & ~group
        groups.append(members(group))
        left &= ~group
    return groups or [[]]


def _arrival(scene: Costs, part: int, q: int, among: int) -> float:
    """The least that one part can cost in one posture, whatever else is there."""
    ways = range(len(scene.blocking.directions))
    fact = scene.facts[part]
    alone = min(scene.arriving[d][q] for d in ways) + (0.0 if fact.loose else RESTS)
    joined = (
        scene.least_step(part, other, d, q)
        for other in members(fact.joined & among)
        for d in ways
        if not scene.blocking.masks[d][part] >> other & 1
    )
    return min(alone, *joined) if fact.joined & among else alone


@cache
def _turns(used: tuple[int, ...], finish: Posture | None) -> float:
    """The least cost of turning through some postures, to end in the last one."""
    end = () if finish is None else (POSTURES.index(finish),)
    inner = [q for q in used if q not in end]
    return min(
        sum(
            turn_cost(POSTURES[a], POSTURES[b])
            for a, b in zip(order, (*order[1:], *end), strict=False)
        )
        for order in permutations(inner)
    )
