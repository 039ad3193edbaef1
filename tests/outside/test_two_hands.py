"""What is published of taking convex bodies and burrs apart with two hands.

Source:
    J. Snoeyink, J. Stolfi, Objects that cannot be taken apart with two hands, Discrete and
    Computational Geometry 12, 1994 (from memory of its abstract): every arrangement of five
    or fewer convex objects with disjoint interiors can be taken apart by translations with
    two hands; of six there is one that cannot.
    Six-piece burrs, from memory of W. H. Cutler, A computer analysis of all 6-piece burrs,
    1994: six sticks of square section in three crossing pairs; a burr with a piece that has
    no notch opens by sliding that key out; the level of a burr is the number of moves until
    something comes free, so one of a level over 1 opens by no single move. The notches here
    are random, of seeds that leave each stick in one piece.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable, Iterator

import pytest

from kdkit.plan.plan import EVERY_DIRECTION
from tests.boxes import board, make
from tests.off_axis import Leaning, leaning_product, planned

Cell = tuple[int, int, int]
Stick = frozenset[Cell]

WAYS: tuple[Cell, ...] = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))
FAR = 9
UNIT = 20.0


@pytest.mark.parametrize("seed", range(100, 112))
def test_five_convex_bodies_always_come_apart(seed: int) -> None:
    assembly = leaning_product(seed).made[1]
    parts = assembly.parts[:5]
    product = Leaning(make(parts, {}), tuple((p.name,) for p in parts), f"five of {seed}")
    assert len(parts) >= 4
    assert planned(product)[1] is None


# -- burrs: cells of a grid, judged by walking over it --------------------------------


def claims() -> list[Stick]:
    """Six sticks of 2 × 2 × 6, two along each axis, as if none had a notch."""
    found = []
    for axis in range(3):
        side, up = (axis + 1) % 3, (axis + 2) % 3
        for half in (-2, 0):
            cells = []
            for along, u, v in itertools.product(range(-3, 3), (half, half + 1), (-1, 0)):
                cell = [0, 0, 0]
                cell[axis], cell[side], cell[up] = along, u, v
                cells.append((cell[0], cell[1], cell[2]))
            found.append(frozenset(cells))
    return found


def burr(seed: int, key: bool) -> list[Stick] | None:
    """Notch the sticks at random so that no two hold one cell; None if one falls to pieces."""
    chance = random.Random(seed)
    whole = claims()
    left: list[set[Cell]] = [set() for _ in whole]
    for cell in sorted(set().union(*whole)):
        owners = [n for n, stick in enumerate(whole) if cell in stick]
        if key and 0 in owners:
            owners = [0]
        left[chance.choice(owners)].add(cell)
    sticks = [frozenset(stick) for stick in left]
    return sticks if all(is_one(stick) for stick in sticks) else None


def is_one(stick: Stick) -> bool:
    seen = {min(stick)}
    waiting = list(seen)
    while waiting:
        cell = waiting.pop()
        near = {moved(cell, way) for way in WAYS} & stick - seen
        seen |= near
        waiting += near
    return seen == stick


def moved(cell: Cell, way: Cell, by: int = 1) -> Cell:
    return (cell[0] + by * way[0], cell[1] + by * way[1], cell[2] + by * way[2])


def shifted(cells: Iterable[Cell], way: Cell, by: int) -> set[Cell]:
    return {moved(cell, way, by) for cell in cells}


def sets(sticks: list[Stick]) -> Iterator[tuple[set[Cell], set[Cell]]]:
    """The cells of some sticks that move, and of those that stay."""
    for size in range(1, len(sticks)):
        for some in itertools.combinations(range(len(sticks)), size):
            moving = set().union(*(sticks[n] for n in some))
            staying = set().union(*(s for n, s in enumerate(sticks) if n not in some))
            yield moving, staying


def free(moving: set[Cell], staying: set[Cell], way: Cell) -> int:
    """How many cells a set can go along a way, at most FAR."""
    return next((by - 1 for by in range(1, FAR + 1) if shifted(moving, way, by) & staying), FAR)


def as_product(sticks: list[Stick]) -> Leaning:
    """Each stick as one body of boards, rows of cells."""
    parts, bodies = [], []
    for n, stick in enumerate(sticks):
        axis = n // 2
        names = []
        for cell in sorted(stick):
            back = moved(cell, WAYS[2 * axis], -1)
            if back in stick:
                continue
            end = cell
            while moved(end, WAYS[2 * axis]) in stick:
                end = moved(end, WAYS[2 * axis])
            low = (UNIT * cell[0], UNIT * cell[1], UNIT * cell[2])
            high = (UNIT * (end[0] + 1), UNIT * (end[1] + 1), UNIT * (end[2] + 1))
            names.append(f"s{n}_{len(names)}")
            parts.append(board(names[-1], low, high))
        bodies.append(tuple(names))
    return Leaning(make(parts, {}), tuple(bodies), "burr")


def comes_apart_cell_by_cell(sticks: list[Stick]) -> bool:
    """Tell whether single straight moves along the axes take all apart."""
    if len(sticks) < 2:
        return True
    for size in range(1, len(sticks)):
        for some in itertools.combinations(range(len(sticks)), size):
            out = [sticks[n] for n in some]
            rest = [s for n, s in enumerate(sticks) if n not in some]
            moving, staying = set().union(*out), set().union(*rest)
            if any(free(moving, staying, way) == FAR for way in WAYS):
                return comes_apart_cell_by_cell(out) and comes_apart_cell_by_cell(rest)
    return False


@pytest.mark.parametrize("seed", [126, 357, 1718])
def test_a_burr_with_a_key_opens_by_one_move(seed: int) -> None:
    """The key slides out; what is left comes apart by single moves or not, as on the grid."""
    sticks = burr(seed, key=True)
    assert sticks is not None
    key, *others = sticks
    assert free(set(key), set().union(*others), (1, 0, 0)) == FAR
    product = as_product(sticks)
    _, no = planned(product)
    assert (no is None) is comes_apart_cell_by_cell(sticks)
    if no is not None:
        assert not {part for body in no.bodies.values() for part in body} & set(product.bodies[0])


@pytest.mark.parametrize("seed", [113, 230])
def test_a_burr_of_a_higher_level_opens_by_no_single_move(seed: int) -> None:
    sticks = burr(seed, key=False)
    assert sticks is not None
    assert all(free(m, s, way) < FAR for m, s in sets(sticks) for way in WAYS)
    _, no = planned(as_product(sticks))
    assert no is not None
    assert no.motion_class == EVERY_DIRECTION
