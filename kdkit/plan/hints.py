"""The author's order: kept where it can be, otherwise the first line that cannot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.diagnostics import Problem, error
from kdkit.model.resolved import OrderSaid
from kdkit.plan.apart import find_stuck, prove_stuck, smallest_stuck
from kdkit.plan.blocking import Blocking

__all__ = ["keep_order"]


def keep_order(
    blocking: Blocking, said: Sequence[OrderSaid], titles: Mapping[str, str]
) -> tuple[Blocking, tuple[Problem, ...]]:
    """Add the author's order to the blocking graphs, line by line.

    "First before later" is an edge from first to later in every direction: what
    was put on first cannot leave before what came later. So the same search
    finds out whether an order can be kept, and the first line after which the
    product is stuck is the one that cannot.

    Args:
        blocking: graphs of a product that comes apart.

    Returns:
        ``(graphs with the order, problems)``.
    """
    number = {name: n for n, name in enumerate(blocking.names)}
    for line in said:
        pairs = []
        for first in line.first:
            for later in line.later:
                if first == later or first not in number or later not in number:
                    continue
                reason = f"the order says {titles[first]} goes on before {titles[later]}"
                pairs.append((number[first], number[later], reason))
        ordered = blocking.with_order(pairs)
        stuck = find_stuck(ordered, ordered.everything)
        if stuck is None:
            blocking = ordered
            continue
        proof = prove_stuck(ordered, smallest_stuck(ordered, stuck))
        first, later = " and ".join(line.first), " and ".join(line.later)
        reasons = list(dict.fromkeys(block.reason for _, blocks in proof.loops for block in blocks))
        return blocking, (
            error(
                "order-cannot-be-kept",
                f"{first} cannot be put on before {later}",
                line.path,
                where="; ".join(reasons[:6]),
                help="take this line out or turn it round; without it the product can be built",
            ),
        )
    return blocking, ()
