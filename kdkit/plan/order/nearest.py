"""The order nearest to the author's that works: fewest changes to the row.

A change is an entry taken out of the row and put in elsewhere, or a new bracket: parts
that are put together first and then put on as one. The entries that are not moved keep
their order, so the sets of entries to move are tried by size; each is tested by adding
the order of the rest to the blocking graphs. Where two ways need equally many changes,
the one without a new bracket is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import comes_apart, free_parts

__all__ = ["Near", "Propose", "nearest_order"]

MOST_TESTS = 400
"""How many sets of entries are tested before one is grown entry by entry instead."""

Propose = Callable[[Blocking, Sequence[int]], Sequence[tuple[str, ...]]]
"""Gives the best order under some graphs, some sets of parts each put on as one."""


@dataclass(frozen=True)
class Near:
    """An order that works; ``moved`` counts the author's entries from 0.

    ``exact``: no order that works needs fewer changes.
    """

    entries: tuple[tuple[str, ...], ...]
    moved: tuple[int, ...]
    exact: bool


@dataclass(frozen=True)
class _Row:
    blocking: Blocking
    row: Sequence[int]
    groups: Sequence[int]
    propose: Propose

    def keeping(self, moved: set[int]) -> Blocking:
        """The graphs with the order of the entries that are not moved."""
        kept = [mask for n, mask in enumerate(self.row) if n not in moved]
        pairs = [
            (first, later, "")
            for one, two in pairwise(kept)
            for first in members(one)
            for later in members(two)
            if first != later
        ]
        return self.blocking.with_order(pairs)

    def bodies(self) -> list[int]:
        """The author's own brackets that can be built first, and every other part."""
        free = self.blocking.everything & ~sum(self.groups)
        return [*self.groups, *(1 << part for part in members(free))]

    def is_one_by_one(self, kept: Blocking) -> bool:
        """Tell whether it comes apart body by body, without any new bracket.

        Whatever is free stays free while others leave, so the order does not matter.
        """
        bodies = self.bodies()
        merged = kept.merged(bodies, [str(n) for n in range(len(bodies))])
        left = merged.everything
        while left.bit_count() > 1:
            free = free_parts(merged, left)
            if not free:
                return False
            left &= ~free[0].parts
        return True

    def near(self, kept: Blocking, moved: tuple[int, ...], exact: bool) -> Near:
        return Near(tuple(self.propose(kept, self.groups)), moved, exact)

    def new_brackets(self, near: Near) -> int:
        names = self.blocking.names
        own = {frozenset(names[p] for p in members(mask)) for mask in self.groups}
        return sum(len(entry) > 1 and frozenset(entry) not in own for entry in near.entries)


def nearest_order(
    blocking: Blocking,
    row: Sequence[int],
    groups: Sequence[int],
    failing: int | None,
    propose: Propose,
    *,
    most_tests: int = MOST_TESTS,
) -> Near:
    """Return an order that works with as few changes to a row as can be.

    Args:
        blocking: graphs of a product that comes apart.
        row: the author's entries as masks of parts, none of them twice.
        groups: those of them that can be put together first.
        failing: the entry that failed; of sets of one size those with it come first.
        propose: gives the best order under some graphs.
        most_tests: beyond it the entries are kept one after the other as far as that
            works, which may move more than need be.
    """
    judged = _Row(blocking, row, groups, propose)
    bracketed: tuple[int, Near] | None = None
    tests = 0
    for size in range(len(row)):
        if bracketed is not None and bracketed[0] < size:
            return bracketed[1]
        for moved in _sets(len(row), size, failing):
            if tests >= most_tests:
                return bracketed[1] if bracketed is not None else _grown(judged)
            tests += 1
            kept = judged.keeping(set(moved))
            if judged.is_one_by_one(kept):
                return judged.near(kept, moved, True)
            if bracketed is None and comes_apart(kept, kept.everything):
                near = judged.near(kept, moved, False)
                new = judged.new_brackets(near)
                bracketed = (size + new, Near(near.entries, moved, new <= 1))
    return bracketed[1] if bracketed is not None else _grown(judged)


def _sets(count: int, size: int, failing: int | None) -> Iterator[tuple[int, ...]]:
    """All sets of a size, those with the failing entry first."""
    if failing is None:
        yield from combinations(range(count), size)
        return
    for with_it in (True, False):
        for moved in combinations(range(count), size):
            if (failing in moved) is with_it:
                yield moved


def _grown(judged: _Row) -> Near:
    """Keep entry after entry as long as their order works."""
    moved: set[int] = set()
    for n in range(len(judged.row)):
        kept = judged.keeping(moved | set(range(n + 1, len(judged.row))))
        if not comes_apart(kept, kept.everything):
            moved.add(n)
    return judged.near(judged.keeping(moved), tuple(sorted(moved)), False)
