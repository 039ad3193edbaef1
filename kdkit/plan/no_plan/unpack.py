"""Which joints of the workshop to make at home, so that what was packed as one comes apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kdkit.model.resolved import ResolvedJoint

__all__ = ["joints_to_unpack"]


def joints_to_unpack(
    joints: Sequence[ResolvedJoint], body: Sequence[str]
) -> Iterator[tuple[ResolvedJoint, ...]]:
    """Yield the joints that two halves of a body hang on, one by one; then all of them.

    A joint between parts that others hold together stays one of the workshop, whatever
    is said of it, so it would change nothing alone.

    Args:
        joints: of the product, as the definition has them.
        body: the names of parts that are packed as one.
    """
    inside = [j for j in joints if j.workshop and {j.joined, j.to} <= set(body)]
    pairs = {frozenset((j.joined, j.to)) for j in inside}
    hanging = [pair for pair in pairs if not _hangs_together(body, pairs - {pair})]
    for pair in sorted(hanging, key=sorted):
        yield tuple(j for j in inside if {j.joined, j.to} == pair)
    if len(pairs) > 1:
        yield tuple(inside)


def _hangs_together(body: Sequence[str], pairs: set[frozenset[str]]) -> bool:
    reached, waiting = set(body[:1]), list(body[:1])
    while waiting:
        part = waiting.pop()
        beyond = {name for pair in pairs if part in pair for name in pair} - reached
        reached |= beyond
        waiting += beyond
    return reached == set(body)
