"""Room for clamps: kept where it can be, and no reason for a no.

Where a jaw finds no place, a caul, a band or a wedge does: so a clamp's room asks for an
order, and gives way to whatever else needs another one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from kdkit.plan.blocking.apart import find_stuck
from kdkit.plan.blocking.edges import Conditional
from kdkit.plan.blocking.graphs import Blocking, members
from kdkit.plan.blocking.reach import Reach

__all__ = ["keep_clamps"]

Grouping = Sequence[int]
"""Masks of parts, each one body, that are to be put together."""


def keep_clamps(
    blocking: Blocking, titles: Mapping[str, str], groupings: Iterable[Grouping]
) -> Blocking:
    """Return the graphs in which parts stay together while no clamp finds room on them.

    Of the clamps' rooms as many are kept as leave every grouping that comes apart without
    them still coming apart.

    Args:
        blocking: without any clamps.
        titles: what to call the parts.
        groupings: what must be put together at one time: the product, units by themselves.
    """
    clamps = [r for r in blocking.reach if r.is_clamp and any(r.blocked)]
    if not clamps:
        return blocking
    wanted = [grouping for grouping in groupings if _find_stuck(blocking, grouping) is None]
    while True:
        kept = _with_rooms(blocking, clamps, titles)
        stuck = [mask for g in wanted if (mask := _find_stuck(kept, g)) is not None]
        if not stuck:
            return kept
        clamps = [r for r in clamps if not any(_counts(r, kept, mask) for mask in stuck)]


def _find_stuck(blocking: Blocking, grouping: Grouping) -> int | None:
    """The parts of the bodies that hold each other, or None."""
    merged = blocking.merged(grouping, [str(n) for n in range(len(grouping))])
    stuck = find_stuck(merged, merged.everything)
    return None if stuck is None else sum(grouping[n] for n in members(stuck))


def _counts(clamp: Reach, blocking: Blocking, among: int) -> bool:
    """Tell whether a clamp's room holds something together in a set of parts."""
    there = {blocking.names[p] for p in members(among)}
    return set(clamp.members) <= there and any(s and s <= there for s in clamp.blocked)


def _with_rooms(blocking: Blocking, clamps: Sequence[Reach], titles: Mapping[str, str]) -> Blocking:
    number = {name: n for n, name in enumerate(blocking.names)}
    more: dict[int, dict[tuple[int, int], Conditional]] = {}
    for clamp in clamps:
        if any(name not in number for name in clamp.members):
            continue
        a, b = (number[name] for name in clamp.members)
        for others in clamp.blocked:
            if not others or any(name not in number for name in others):
                continue
            needs = sum(1 << number[name] for name in others)
            reason = clamp.reason(others, titles)
            for part, to in ((a, b), (b, a)):
                edge = Conditional(to, needs, reason, tool=True)
                more.setdefault(part, {}).setdefault((to, needs), edge)

    def row(d: int, part: int) -> tuple[Conditional, ...]:
        edges = {(e.to, e.needs): e for e in blocking.conditional[d][part]}
        for key, edge in more.get(part, {}).items():
            if not blocking.masks[d][part] >> edge.to & 1:
                edges.setdefault(key, edge)
        return tuple(edges[key] for key in sorted(edges))

    parts = range(len(blocking.names))
    return replace(
        blocking,
        conditional=tuple(
            tuple(row(d, part) for part in parts) for d in range(len(blocking.directions))
        ),
    )
