"""Parts packed as one: they come apart in the workshop, and are one body at home."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kdkit.diagnostics import Problem, error
from kdkit.joinery.packed import packed_groups
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import find_stuck, smallest_stuck
from kdkit.plan.order.units import packed_title
from kdkit.plan.plan import Impossible

__all__ = ["built_together", "order_against_packing", "packed_masks", "stuck_bodies"]


def packed_masks(names: Sequence[str], joinery: Joinery) -> tuple[int, ...]:
    """Return a mask of part numbers for each group that arrives as one."""
    number = {name: n for n, name in enumerate(names)}
    return tuple(
        sum(1 << number[name] for name in group if name in number)
        for group in packed_groups(joinery.joints)
    )


def built_together(
    blocking: Blocking, packed: Sequence[int], groups: Sequence[int]
) -> Iterator[list[int]]:
    """Yield the bodies of all that is put together at one time.

    The product, what is packed as one, the other groups, and the product with each of
    these as one body.
    """
    for mask in (blocking.everything, *packed, *groups):
        yield _as_packed(mask, packed)
    for mask in groups:
        if all(mask & other in (0, other) for other in packed):
            outside = [other for other in packed if not mask & other]
            yield _as_packed(blocking.everything, [mask, *outside])


def _as_packed(among: int, packed: Sequence[int]) -> list[int]:
    """The bodies of a set of parts: what is packed as one, and single parts."""
    inside = [group for group in packed if group & among == group != among]
    singles = [1 << p for p in members(among & ~sum(inside))]
    return sorted((*inside, *singles), key=lambda mask: mask & -mask)


def stuck_bodies(
    blocking: Blocking, packed: Sequence[int], among: int | None = None
) -> list[int] | None:
    """Return bodies (masks of parts) that hold each other, none to spare; None: all comes apart.

    Parts packed as one by themselves, or the product with these as bodies.

    Args:
        among: a mask of the parts that are there; None: all.
    """
    there = blocking.everything if among is None else among
    for group in packed:
        stuck = find_stuck(blocking, group & there)
        if stuck is not None:
            return [1 << part for part in members(smallest_stuck(blocking, stuck))]
    groups = [m for m in _as_packed(blocking.everything, packed) if not m & ~there]
    if packed or among is not None:
        blocking = blocking.merged(groups, [packed_title(blocking, mask) for mask in groups])
    stuck = find_stuck(blocking, blocking.everything)
    if stuck is None:
        return None
    return [groups[body] for body in members(smallest_stuck(blocking, stuck))]


def order_against_packing(proof: Impossible, resolved: Resolved) -> Problem:
    """Return the error of an author's order that would take apart what is packed as one."""
    reasons = dict.fromkeys(block.reason for _, blocks in proof.loops for block in blocks)
    return error(
        "order-cannot-be-kept",
        "the order cannot be kept with parts that are packed as one",
        resolved.order[0].path if resolved.order else ("order",),
        where="; ".join(list(reasons)[:6]),
        help="what is joined in the workshop arrives together: change the order or the joint",
    )
