"""The nearest order: compared with trying every order, and bounded when there are many."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import permutations

from kdkit.plan.blocking import Blocking, Hold, members
from kdkit.plan.blocking.apart import comes_apart, free_parts
from kdkit.plan.order.nearest import nearest_order

WAY = (1.0, 0.0, 0.0)


def before(pairs: Sequence[tuple[int, int]], count: int) -> Blocking:
    """Graphs of one direction in which ``a`` cannot leave before ``b``."""
    holds = [tuple(Hold(b, "said") for a, b in pairs if a == n) for n in range(count)]
    masks = tuple(sum(1 << h.to for h in hs) for hs in holds)
    names = tuple("abcdefghijklmnop"[:count])
    return Blocking(names, (WAY,), (tuple(holds),), (masks,), (((),) * count,))


def one_by_one(blocking: Blocking, groups: Sequence[int]) -> list[tuple[str, ...]]:
    """Take away what is free, the last part first; give the order of putting on."""
    left, taken = blocking.everything, []
    while left:
        free = [m for m in free_parts(blocking, left) if m.parts.bit_count() == 1]
        last = max(free, key=lambda m: m.parts)
        taken.append((blocking.names[members(last.parts)[0]],))
        left &= ~last.parts
    return taken[::-1]


def longest_kept(row: Sequence[int], feasible: Sequence[Sequence[int]]) -> int:
    """The most entries of a row that stand in the same order in some feasible order."""
    best = 0
    for order in feasible:
        place = {n: k for k, n in enumerate(order)}
        lengths: list[int] = []
        for n, entry in enumerate(row):
            shorter = [lengths[m] for m in range(n) if place[row[m]] < place[entry]]
            lengths.append(1 + max(shorter, default=0))
        best = max(best, *lengths)
    return best


def test_moves_as_few_entries_as_any_order_that_works() -> None:
    rng = random.Random(3)
    for _ in range(60):
        count = 5
        order = list(range(count))
        rng.shuffle(order)
        pairs = [
            (order[a], order[b])
            for a in range(count)
            for b in range(a + 1, count)
            if rng.random() < 0.35
        ]
        blocking = before(pairs, count)
        feasible = [
            p for p in permutations(range(count)) if all(p.index(a) < p.index(b) for a, b in pairs)
        ]
        row = list(range(count))
        rng.shuffle(row)
        near = nearest_order(blocking, [1 << n for n in row], [], None, one_by_one)
        assert near.exact
        assert len(near.moved) == count - longest_kept(row, feasible)
        found = [blocking.names.index(name) for (name,) in near.entries]
        assert all(found.index(a) < found.index(b) for a, b in pairs)


def test_says_so_when_the_bound_cuts_the_search() -> None:
    count = 12
    pairs = [(n, n + 1) for n in range(count - 1)]
    blocking = before(pairs, count)
    row = [1 << n for n in reversed(range(count))]
    near = nearest_order(blocking, row, [], 1, one_by_one, most_tests=20)
    assert not near.exact
    assert [name for (name,) in near.entries] == list("abcdefghijkl")
    assert len(near.moved) == count - 1
    assert comes_apart(blocking, blocking.everything)


def test_prefers_a_move_to_a_new_bracket() -> None:
    blocking = before([(0, 1), (2, 1)], 3)
    near = nearest_order(blocking, [1, 2, 4], [], 2, one_by_one)
    assert near.entries[-1] == ("b",)
    assert len(near.moved) == 1
