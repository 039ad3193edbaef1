from __future__ import annotations

import itertools
import math

import pytest

from kdkit.plan.blocking import Blocking, find_blocking
from kdkit.plan.order.count import (
    AssemblyCount,
    count_assemblies,
    count_connected_orders,
    count_orders,
    count_part_orders,
    order_strength,
)
from tests.boxes import Made, board, bookcase, make, pinwheel


def test_connected_orders_of_a_tree_of_six() -> None:
    # Source: a question on cs.stackexchange (3314): six parts A-B B-C B-D C-E D-F, start A.
    edges = ["AB", "BC", "BD", "CE", "DF"]
    beside = {p: [e.strip(p) for e in edges if p in e] for p in "ABCDEF"}
    assert count_connected_orders(beside, "A") == 6


JACKSON = [
    (1, 2), (1, 3), (1, 4), (1, 5), (2, 6), (3, 7), (4, 7), (5, 7),
    (6, 8), (7, 9), (8, 10), (9, 11), (10, 11),
]  # fmt: skip


def test_orders_of_jacksons_eleven_tasks() -> None:
    # Source: Jackson's problem in Scholl's assembly-line data (from memory): 756, 58.18 %.
    count = count_orders(range(1, 12), JACKSON)
    assert (count.at_least, count.at_most) == (756, 756)
    assert order_strength(range(1, 12), JACKSON) == pytest.approx(0.5818, abs=5e-5)


@pytest.mark.parametrize(("d", "orders"), [(1, 1), (2, 2), (3, 48), (4, 1_680_384)])
def test_orders_of_boolean_lattices(d: int, orders: int) -> None:
    # Source: linear extensions of the Boolean lattice, OEIS A046873.
    sets = range(2**d)
    arcs = [(s, s | 1 << n) for s in sets for n in range(d) if not s >> n & 1]
    assert count_orders(sets, arcs).at_least == orders


@pytest.mark.parametrize(("m", "n", "orders"), [(2, 2, 2), (2, 3, 5), (3, 3, 42), (4, 4, 24_024)])
def test_orders_of_grids(m: int, n: int, orders: int) -> None:
    # Source: standard Young tableaux of m × n by the hook length formula.
    cells = list(itertools.product(range(m), range(n)))
    arcs = [((i, j), (i + 1, j)) for i, j in cells if i + 1 < m]
    arcs += [((i, j), (i, j + 1)) for i, j in cells if j + 1 < n]
    hooks = math.prod((m - i) + (n - j) - 1 for i, j in cells)
    assert count_orders(cells, arcs).at_least == orders == math.factorial(m * n) // hooks


def test_bounds_hold_when_there_are_too_many_ideals() -> None:
    exact = count_orders(range(1, 12), JACKSON).at_least
    bounds = count_orders(range(1, 12), JACKSON, most_ideals=3)
    assert not bounds.exact
    assert bounds.at_least <= exact <= bounds.at_most


def test_hook_bound_is_exact_for_a_tree() -> None:
    # The orders of a rooted tree are n! / Π (size of the tree below): here hung upside down.
    arcs = [(1, 0), (2, 0), (3, 1), (4, 1)]
    assert (
        count_orders(range(5), arcs, most_ideals=1).at_least
        == count_orders(range(5), arcs).at_least
    )


def test_a_loop_is_refused() -> None:
    with pytest.raises(ValueError, match="loop"):
        count_orders("ab", [("a", "b"), ("b", "a")])


def graphs_of(made: Made) -> Blocking:
    return find_blocking([p.name for p in made[1].parts], *made[1:])


def test_part_orders_are_those_that_can_be_listed() -> None:
    blocking = graphs_of(bookcase(1))
    count = len(blocking.names)
    listed = 0
    for order in itertools.permutations(range(count)):
        there = blocking.everything
        for part in order[:-1]:
            if all(blocking.blockers(d, part, there) for d in range(len(blocking.directions))):
                break
            there &= ~(1 << part)
        else:
            listed += 1
    assert count_part_orders(blocking, blocking.everything) == listed
    assert 0 < listed < math.factorial(count)


def test_a_pinwheel_has_no_order_of_single_parts() -> None:
    blocking = graphs_of(make(*pinwheel()))
    assert count_part_orders(blocking, blocking.everything) == 0


def test_too_many_sets_are_not_counted() -> None:
    blocking = graphs_of(bookcase(3))
    assert count_part_orders(blocking, blocking.everything, most_sets=5) is None


def plates(count: int) -> Blocking:
    """Plates on each other; any of them slide out sideways between the others."""
    parts = [board(f"p{n}", (0, 0, 20 * n), (300, 200, 20 * n + 20)) for n in range(count)]
    return graphs_of(make(parts, {}))


CHAIN = {n: (1 << n + 1 | 1 << n >> 1) & 0b11111 for n in range(5)}
COMPLETE = {n: 0b11111 & ~(1 << n) for n in range(5)}


@pytest.mark.parametrize(
    ("joined", "counts"),
    [(CHAIN, AssemblyCount(15, 20, 14)), (COMPLETE, AssemblyCount(31, 90, 105))],
)
def test_assemblies_of_five_parts(joined: dict[int, int], counts: AssemblyCount) -> None:
    # Source: AND/OR graphs of Homem de Mello and Sanderson, five parts in a chain and five
    # of which each is joined to each (from memory). By closed formulas: a chain has
    # n(n+1)/2 groups, (n³ − n)/6 ways to part them and the Catalan number of n − 1 trees;
    # a complete graph 2ⁿ − 1 groups, (3ⁿ + 1)/2 − 2ⁿ ways and (2n − 3)!! trees.
    blocking = plates(5)
    assert count_assemblies(blocking, joined, blocking.everything) == counts
    n = 5
    if joined is CHAIN:
        assert counts == AssemblyCount(
            n * (n + 1) // 2, (n**3 - n) // 6, math.comb(2 * n - 2, n - 1) // n
        )
    else:
        assert counts == AssemblyCount(
            2**n - 1, (3**n + 1) // 2 - 2**n, math.prod(range(1, 2 * n - 2, 2))
        )


def test_a_pinwheel_is_built_in_two_ways() -> None:
    blocking = graphs_of(make(*pinwheel()))
    names = blocking.names
    joined = {
        names.index(p): sum(1 << names.index(q) for q in beside)
        for p, beside in {"a": "bd", "b": "ac", "c": "bd", "d": "ca"}.items()
    }
    # Four boards, four pairs, the whole; every pair parts one way, the whole along x and y.
    assert count_assemblies(blocking, joined, blocking.everything) == AssemblyCount(9, 6, 2)


def test_too_many_assemblies_are_not_counted() -> None:
    blocking = plates(5)
    assert count_assemblies(blocking, COMPLETE, blocking.everything, most_sets=10) is None
