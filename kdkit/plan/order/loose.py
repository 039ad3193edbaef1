"""What comes last: doors, drawers, loose parts, and units that nothing joins to the rest.

They come off or out of the finished, standing product first, so they go in last of all,
the doors after what lies behind them. The carcass is whole before a drawer is in it: empty
it is light to turn, its screws can be reached, and nothing heavy is pushed onto a drawer.
What cannot come out then (a drawer behind a narrower frame) is left to the search, which puts
it on before whatever closes its way.
"""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.choice.costs import PartFacts
from kdkit.plan.order.build import Mating
from kdkit.plan.plan import Posture

__all__ = ["take_out_loose"]

_WAYS = ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
"""A loose part leaves to the front, else upwards, else to the back, else as it can."""

_STANDING = POSTURES.index(Posture.STANDING)
_CLEAR = 1.0  # mm off the floor; what stands on it carries the rest


def take_out_loose(
    blocking: Blocking,
    facts: Sequence[PartFacts],
    units: Sequence[int] = (),
    packed: Sequence[int] = (),
) -> tuple[int, tuple[Mating, ...]]:
    """Take doors, loose parts and units out of the finished product, as far as they come.

    Args:
        units: masks of the parts of each unit.
        packed: masks of the parts that arrive as one.

    Returns:
        ``(what is left, loads in the order of laying in)``.
    """
    ways = sorted(
        range(len(blocking.directions)),
        key=lambda d: (
            d in blocking.moves,
            _WAYS.index(blocking.directions[d]) if blocking.directions[d] in _WAYS else len(_WAYS),
            d,
        ),
    )
    left = blocking.everything
    floor = min(facts[part].lows[_STANDING] for part in members(left))
    singles = [1 << part for part in reversed(members(left)) if facts[part].loose]
    groups = [mask for mask in _largest_first(units) if _is_free(facts, mask, floor)]
    hung = _doors(facts, blocking.everything, units, packed)
    doors = [m for m in hung if any(facts[p].door and facts[p].hung & ~m for p in members(m))]
    drawers = [m for m in hung if m not in doors]
    taken: list[Mating] = []
    found = True
    while found:
        found = False
        for mask in (*doors, *singles, *drawers, *groups):
            if mask & ~left or not _is_smaller(facts, mask, left):
                continue
            way = next((d for d in ways if _leaves(blocking, d, mask, left)), None)
            if way is not None:
                taken.append(
                    Mating(
                        parts=mask,
                        leaving=way,
                        posture=Posture.STANDING,
                        hangs=mask in hung,
                    )
                )
                left &= ~mask
                found = True
    return left, tuple(reversed(taken))


def _doors(
    facts: Sequence[PartFacts], everything: int, units: Sequence[int], packed: Sequence[int]
) -> list[int]:
    """Return doors and drawers as masks, single panels and units; not those that arrive hung.

    A drawer is a unit of which the runners alone lead out.
    """
    found = []
    for part in reversed(members(everything)):
        if not facts[part].hung:
            continue
        single = (1 << part,) if facts[part].door else ()
        for mask in (*single, *_largest_first(units)):
            outside = [facts[p].joined & ~facts[p].hung & ~mask for p in members(mask)]
            if mask >> part & 1 and not any(outside):
                if not any(p & mask and p & ~mask for p in packed) and mask not in found:
                    found.append(mask)
                break
    return found


def _largest_first(units: Sequence[int]) -> list[int]:
    return sorted(
        (mask for mask in dict.fromkeys(units) if mask.bit_count() > 1),
        key=lambda mask: (-mask.bit_count(), -mask),
    )


def _is_free(facts: Sequence[PartFacts], mask: int, floor: float) -> bool:
    """Nothing joins it to the rest, and it does not stand on the floor."""
    inside = [facts[part] for part in members(mask)]
    return (
        all(not fact.joined & ~mask for fact in inside)
        and min(fact.lows[_STANDING] for fact in inside) > floor + _CLEAR
    )


def _is_smaller(facts: Sequence[PartFacts], mask: int, left: int) -> bool:
    """Something is left, and of a unit's size at least."""
    rest = left & ~mask
    if not rest or mask.bit_count() == 1:
        return bool(rest)
    return sum(facts[p].area for p in members(mask)) < sum(facts[p].area for p in members(rest))


def _leaves(blocking: Blocking, d: int, mask: int, left: int) -> bool:
    return all(not blocking.blockers(d, part, left) & ~mask for part in members(mask))
