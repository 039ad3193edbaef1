"""Column generation: the least that patterns cost, and the patterns that come to it.

A pattern says how many of each piece come out of one bar, strip or sheet. The master program
takes fractions of patterns; the next pattern is the one that is worth most at the master's
prices. When none is worth more than it costs, the master's value is the least of all; before
that, its value divided by the greatest worth per cost is a bound all the same.

Source:
    P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting-stock problem,
    Operations Research 9, 1961, 849-859. The bound of an unfinished master: A. A. Farley,
    A note on bounding a class of linear programming problems, including cutting stock
    problems, Operations Research 38, 1990, 922-923, both from memory. The programs are solved
    by HiGHS, as it comes with SciPy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Free", "Master", "Pattern", "Priced", "best_whole", "generate"]

_ROUNDS = 200  # of the master; what is left then is told by the bound
_NODES = 500  # of the search for whole numbers: work counted, so that it ends alike everywhere
_NEAR = 1e-7


@dataclass(frozen=True)
class Pattern:
    """What comes out of one bar, strip or sheet at a cost; ``of`` says what it is cut from."""

    cost: float
    counts: tuple[float, ...]
    of: object = None


@dataclass(frozen=True)
class Free:
    """A column that costs nothing and is taken at most once: it moves demand between rows."""

    counts: tuple[float, ...]


@dataclass
class Master:
    """The patterns so far, what is asked of each row, the least cost and a bound below it."""

    demand: Sequence[float]
    patterns: list[Pattern]
    free: Sequence[Free] = ()
    least: float = math.inf
    bound: float = 0.0
    shares: list[float] = field(default_factory=list)

    def solve(self) -> NDArray[np.float64]:
        """Solve the master; return the price of each row."""
        from scipy.optimize import linprog  # type: ignore[import-untyped]  # late, seldom needed

        columns = [p.counts for p in self.patterns] + [f.counts for f in self.free]
        costs = [p.cost for p in self.patterns] + [0.0] * len(self.free)
        bounds = [(0, None)] * len(self.patterns) + [(0, 1)] * len(self.free)
        told = linprog(
            costs,
            A_ub=-np.array(columns, dtype=float).T,
            b_ub=-np.array(self.demand, dtype=float),
            bounds=bounds,
            method="highs",
        )
        if told.status != 0:
            raise ValueError(f"the master program has no answer: {told.message}")
        self.least = float(told.fun)
        self.shares = [float(x) for x in told.x[: len(self.patterns)]]
        prices: NDArray[np.float64] = np.maximum(0.0, -told.ineqlin.marginals)
        return prices


Priced = Iterable[Pattern]
"""The pattern worth most of each thing that is cut, at the prices given."""


def generate(master: Master, price: Callable[[Sequence[float]], Priced]) -> Master:
    """Add patterns until none is worth more than it costs; the master then holds the bound.

    Args:
        price: takes the price of each row, gives the pattern that is worth most for every
            kind of stock: each must be the best there is, or the bound does not hold.
    """
    known = {(p.cost, p.counts) for p in master.patterns}
    for _ in range(_ROUNDS):
        prices = master.solve()
        greatest, added = 1.0, False
        for pattern in price([float(p) for p in prices]):
            worth = math.fsum(c * p for c, p in zip(pattern.counts, prices, strict=True))
            greatest = max(greatest, worth / pattern.cost)
            if worth > pattern.cost * (1 + _NEAR) and (pattern.cost, pattern.counts) not in known:
                known.add((pattern.cost, pattern.counts))
                master.patterns.append(pattern)
                added = True
        master.bound = max(master.bound, master.least / greatest)
        if not added:
            break
    return master


def best_whole(
    patterns: Sequence[Pattern], demand: Sequence[float], at_least: float
) -> tuple[list[int] | None, bool]:
    """Return how often each pattern is cut, at the least cost, and whether that is proved.

    Args:
        at_least: a cost that no plan is below; the search ends where it is met.

    Returns:
        None where no plan was found within the work allowed; the proof is of these patterns.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    costs = np.array([p.cost for p in patterns])
    rows = np.array([p.counts for p in patterns], dtype=float).T
    told = milp(
        costs,
        constraints=[
            LinearConstraint(rows, lb=np.array(demand, dtype=float)),
            LinearConstraint(costs[None, :], lb=at_least * (1 - 1e-9)),
        ],
        integrality=np.ones(len(costs)),
        bounds=Bounds(0, np.inf),
        options={"node_limit": _NODES, "mip_rel_gap": 0.0},
    )
    if told.x is None:
        return None, False
    whole = [round(float(x)) for x in told.x]
    made = rows @ np.array(whole, dtype=float)
    if any(m < d - 0.5 for m, d in zip(made, demand, strict=True)):
        return None, False  # a count that is whole only nearly
    return whole, told.status == 0
