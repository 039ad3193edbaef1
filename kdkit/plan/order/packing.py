"""Parts packed as one: they come apart in the workshop, and are one body at home."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kdkit.diagnostics import Problem, error
from kdkit.joinery.packed import packed_groups
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import find_stuck, prove_stuck, smallest_stuck
from kdkit.plan.order.units import packed_title
from kdkit.plan.plan import OrderRefused

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


def order_against_packing(
    blocking: Blocking, packed: Sequence[int], resolved: Resolved
) -> tuple[OrderRefused, Problem]:
    """Refuse an author's order that would take apart what is packed as one, at its first line.

    Args:
        blocking: the graphs without the order, in which all comes apart.
    """
    number = {name: n for n, name in enumerate(blocking.names)}
    titles = {part.name: part.title or part.name for part in resolved.parts}
    line, stuck = resolved.order[-1], list[int]()
    for line in resolved.order:
        blocking = blocking.with_order(
            [
                (
                    number[a],
                    number[b],
                    f"the order says {titles[a]} goes on before {titles[b]}",
                )
                for a in line.first
                for b in line.later
                if a != b and a in number and b in number
            ]
        )
        stuck = stuck_bodies(blocking, packed) or []
        if stuck:
            break
    merged = blocking.merged(stuck, [packed_title(blocking, mask) for mask in stuck])
    proof = prove_stuck(merged, merged.everything)
    reasons = tuple(dict.fromkeys(b.reason for _, blocks in proof.loops for b in blocks))
    together = [body for body in proof.bodies.values() if len(body) > 1]
    named = "; ".join(", ".join(titles[p] for p in body) for body in together)
    position = next((n for n, p in enumerate(resolved.sequence) if p.path == line.path), None)
    later = ", ".join(titles.get(name, name) for name in line.later)
    entry = f"entry {position + 1} of the order: " if position is not None else ""
    refused = OrderRefused(
        path=line.path,
        position=position,
        moving=tuple(name for name in line.later if name in number),
        present=tuple(p for body in proof.bodies.values() for p in body if p not in line.later),
        blocks=(),
        reasons=(*(f"packed as one: {named}" for _ in together[:1]), *reasons),
        nearest=None,
    )
    return refused, error(
        "order-cannot-be-kept",
        f"{entry}{later} cannot be put on then, because parts of the product are packed as one",
        line.path,
        where="\n  ".join(refused.reasons[:8]),
        help="what is joined in the workshop arrives together: name it in one list of the "
        "order, or join it at home",
    )
