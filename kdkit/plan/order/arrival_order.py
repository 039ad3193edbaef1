"""Why one arrival comes before another, and the order a maker likes among those allowed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.plan.blocking import members
from kdkit.plan.order.build import Mating, Scene

__all__ = ["arrival_reasons", "liked_order"]

Events = Sequence[tuple[Mating, int]]
"""Matings in the order chosen, each with the mask of what is there before it."""


def arrival_reasons(
    scene: Scene, joined: frozenset[frozenset[str]], events: Events
) -> dict[tuple[int, int], str]:
    """Return for each (earlier, later) pair of events that must keep its order the reason.

    Any order that keeps all of them can be built: a part arrives before everything
    that would stand in its way, and after what it is joined to.

    Args:
        joined: pairs of parts with a joint between them.
    """
    found: dict[tuple[int, int], str] = {}
    number = {name: n for n, name in enumerate(scene.blocking.names)}
    mates = [0] * len(number)
    for a, b in map(tuple, joined):
        mates[number[a]] |= 1 << number[b]
        mates[number[b]] |= 1 << number[a]
    for later in range(len(events)):
        for earlier in range(later):
            reason = _reason(scene, mates, events[earlier], events[later])
            if reason is not None:
                found[earlier, later] = reason
    return found


def _reason(
    scene: Scene,
    mates: Sequence[int],
    earlier: tuple[Mating, int],
    later: tuple[Mating, int],
) -> str | None:
    first, _ = earlier
    second, there = later
    blocking = scene.blocking
    everything = there | second.parts
    for part in members(first.parts):
        held = blocking.blockers(first.leaving, part, everything) & second.parts
        if held:
            return blocking.reason(first.leaving, part, members(held)[0], everything)
        for edge in blocking.conditional[first.leaving][part]:
            meets = everything & ~first.parts
            if meets >> edge.to & 1 and edge.needs & second.parts:
                return edge.reason
            sticking_out = not edge.tool and edge.needs & ~everything
            if second.parts >> edge.to & 1 and sticking_out:
                return edge.reason  # its hardware waits for a part that comes later still
    for a in members(first.parts):
        met = mates[a] & second.parts
        if met:
            return (
                f"{scene.titles[blocking.names[members(met)[0]]]} is joined to "
                f"{scene.titles[blocking.names[a]]}, which must be there to carry it"
            )
    return _carries(scene, mates, first, second, there)


def _carries(
    scene: Scene, mates: Sequence[int], first: Mating, second: Mating, there: int
) -> str | None:
    """Why what carries a part that nothing joins yet comes before it."""
    names = scene.blocking.names
    if any(mates[a] & there for a in members(second.parts)):
        return None
    for b in members(second.parts):
        for touch in scene.facts[b].poise.touches:
            if first.parts >> touch.other & 1:
                return (
                    f"{scene.titles[names[b]]} rests on {scene.titles[names[touch.other]]}, "
                    "which must be there to carry it"
                )
    return None


def liked_order(scene: Scene, events: Events, reasons: Mapping[tuple[int, int], str]) -> list[int]:
    """Return the events' numbers: like parts one after the other where the reasons allow.

    The postures keep the order in which they were chosen.
    """
    before: dict[int, set[int]] = {n: set() for n in range(len(events))}
    for earlier, later in reasons:
        before[later].add(earlier)
    names = scene.blocking.names
    kinds = [tuple(scene.alike[names[p]] for p in members(mating.parts)) for mating, _ in events]
    order: list[int] = []
    done: set[int] = set()
    start = 0
    while start < len(events):
        end = start
        while end < len(events) and events[end][0].posture is events[start][0].posture:
            end += 1
        left = list(range(start, end))
        while left:
            ready = [n for n in left if before[n] <= done]
            like = (n for n in ready if order and kinds[n] == kinds[order[-1]])
            pick = next(like, ready[0])
            order.append(pick)
            done.add(pick)
            left.remove(pick)
        start = end
    return order
