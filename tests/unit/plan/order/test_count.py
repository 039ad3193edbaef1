from __future__ import annotations

import itertools
import math

import pytest

from kdkit.plan.order.count import (
    count_orders,
    order_strength,
)

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
