"""How easily a product is put together wrongly: orders that look right and end stuck.

A builder without instructions takes some part and then puts on, one at a time, any
part that fits: it meets a part that it is joined to, it can be brought there, and its
fasteners can be worked. Such an order is stuck when parts are left and none of them
fits any more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, advice
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import can_leave
from kdkit.plan.choice.costs import PartFacts
from kdkit.plan.choice.facts import canonical_order, merge_facts, part_facts
from kdkit.plan.order.packing import packed_masks

__all__ = ["MOST_PARTS", "DeadEnds", "advise_dead_ends", "count_dead_ends"]

MOST_PARTS = 12
_MANY = 0.25  # share of stuck orders from which it is worth a word: common practice, no source


@dataclass(frozen=True, kw_only=True)
class DeadEnds:
    """Orders in which every part fits when it is put on.

    Args:
        complete: how many of them end with everything together.
        stuck: how many do not.
        trap: (part, part that should have come first) of the step after which most of
            the stuck orders cannot be saved any more; None if there is none.
        by_trap: how many of the stuck orders it spoils.
    """

    complete: int
    stuck: int
    trap: tuple[int, int] | None = None
    by_trap: int = 0

    @property
    def share(self) -> float:
        """The share of orders that end stuck, 0 to 1."""
        every = self.complete + self.stuck
        return self.stuck / every if every else 0.0


def count_dead_ends(blocking: Blocking, facts: Sequence[PartFacts], among: int) -> DeadEnds | None:
    """Return how many orders end complete and how many stuck; None for too many parts.

    Counts over the sets that can be reached. A part that is joined to nothing fits
    anywhere that it can be brought to.
    """
    parts = members(among)
    if len(parts) > MOST_PARTS:
        return None
    ways = range(len(blocking.directions))

    def fitting(there: int) -> list[int]:
        found = []
        for part in parts:
            bit = 1 << part
            if there & bit:
                continue
            joined = facts[part].joined & among
            if joined and not joined & there:
                continue
            if any(can_leave(blocking, d, part, there | bit) for d in ways):
                found.append(part)
        return found

    layers: list[dict[int, int]] = [{1 << part: 1 for part in parts}]
    next_of: dict[int, list[int]] = {}
    stuck = 0
    while layers[-1]:
        following: dict[int, int] = {}
        for there, orders in layers[-1].items():
            next_of[there] = fitting(there)
            if not next_of[there] and there != among:
                stuck += orders
            for part in next_of[there]:
                grown = there | 1 << part
                following[grown] = following.get(grown, 0) + orders
        layers.append(following)
    complete = next((layer[among] for layer in layers if among in layer), 0)
    trap, spoilt = _trap(layers, next_of, among)
    return DeadEnds(complete=complete, stuck=stuck, trap=trap, by_trap=spoilt)


def _trap(
    layers: Sequence[Mapping[int, int]], next_of: Mapping[int, Sequence[int]], among: int
) -> tuple[tuple[int, int] | None, int]:
    """The putting on of one part before another that spoils most orders."""
    saved: dict[int, int] = {}  # orders from here that end complete
    endings: dict[int, int] = {}  # orders from here, however they end
    for layer in reversed(layers):
        for there in layer:
            after = [there | 1 << part for part in next_of[there]]
            saved[there] = 1 if there == among else sum(saved[a] for a in after)
            endings[there] = sum(endings[a] for a in after) if after else 1
    spoilt: dict[tuple[int, int], int] = {}
    for layer in layers:
        for there, orders in layer.items():
            if not saved[there]:
                continue
            for part in next_of[there]:
                grown = there | 1 << part
                if saved[grown]:
                    continue
                for first in next_of[there]:
                    if first != part and first not in next_of[grown]:
                        pair = (part, first)
                        spoilt[pair] = spoilt.get(pair, 0) + orders * endings[grown]
    if not spoilt:
        return None, 0
    pair = min(spoilt, key=lambda p: (-spoilt[p], p))
    return pair, spoilt[pair]


def advise_dead_ends(
    assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return one piece of advice if many orders that look right end stuck.

    Loose parts are left out: they can be laid in at any time. Parts that are packed as
    one count as one. Nothing is said of products of more than ``MOST_PARTS`` others.
    """
    parts = canonical_order(assembly.parts)
    names = [part.name for part in parts]
    titles = {part.name: part.title or part.name for part in parts}
    packed = packed_masks(names, joinery)
    facts = part_facts(parts, joinery, catalogue)
    bodies = sum(not fact.loose for fact in facts)
    if bodies - sum(mask.bit_count() - 1 for mask in packed) > MOST_PARTS:
        return ()
    blocking = find_blocking(names, assembly, joinery, catalogue)
    if packed:
        inside = sum(packed)
        singles = [1 << p for p in members(blocking.everything & ~inside)]
        masks = sorted((*packed, *singles), key=lambda mask: mask & -mask)
        names = [blocking.names[members(mask)[0]] for mask in masks]
        blocking, facts = blocking.merged(masks, names), merge_facts(facts, masks)
    among = sum(1 << part for part, fact in enumerate(facts) if not fact.loose)
    found = count_dead_ends(blocking, facts, among)
    if found is None or found.share < _MANY:
        return ()
    every = found.complete + found.stuck
    where = ""
    cure = "mark every part with the number of its step"
    if not found.complete:
        where = "halves must be put together first, and no part says so"
    elif found.trap is not None:
        part, first = (blocking.names[p] for p in found.trap)
        where = (
            f"most often because {titles[part]} is put on before {titles[first]} "
            f"({100 * found.by_trap / every:.0f} % of all)"
        )
        cure = (
            f"mark {titles[part]} and {titles[first]} with the numbers of their steps, or join "
            f"{titles[first]} with a fitting that is driven in after the parts have met"
        )
    return (
        advice(
            "dead-ends",
            f"of {every} orders in which every part fits when it is put on, "
            f"{100 * found.share:.0f} % end stuck",
            ("joints",),
            where=where,
            help=cure,
        ),
    )
