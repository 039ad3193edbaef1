"""Interlocked bodies of cubes: the planner against a search that moves cubes on a grid.

Source: interlocking puzzles are counted so, cube by cube and step by step: W. H. Cutler, The
six-piece burr, Journal of Recreational Mathematics 10, 1978 (from memory). The pieces are
random, of seeds that give each kind; the search here knows sets of cells and nothing else.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import pytest

from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import find_stuck, smallest_stuck
from kdkit.plan.blocking.settle import settle
from kdkit.plan.plan import Slide, Tilt
from tests.boxes import board, make

Cell = tuple[int, int, int]
Body = frozenset[Cell]

WAYS: tuple[Cell, ...] = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))
SIZE, GRID = 4, 20.0
OUT = 2 * SIZE


def pieces(seed: int) -> list[Body]:
    """Three connected bodies that fill most of a cube of 4 × 4 × 3 cells."""
    rng = np.random.default_rng(seed)
    cells = set(itertools.product(range(SIZE), range(SIZE), range(3)))
    for n in rng.permutation(len(cells))[: int(rng.integers(6, 14))]:
        cells.discard(sorted(itertools.product(range(SIZE), range(SIZE), range(3)))[int(n)])
    order = sorted(cells)
    starts = [order[int(n)] for n in rng.permutation(len(order))[:3]]
    found = [{start} for start in starts]
    left = cells - set(starts)
    while left:
        grown = False
        for body in found:
            rim = sorted({shifted_cell(c, w) for c in body for w in WAYS} & left)
            if rim:
                cell = rim[int(rng.integers(len(rim)))]
                body.add(cell)
                left.discard(cell)
                grown = True
        if not grown:
            break
    return [frozenset(body) for body in found]


def shifted_cell(cell: Cell, way: Cell, by: int = 1) -> Cell:
    x, y, z = (c + by * w for c, w in zip(cell, way, strict=True))
    return (x, y, z)


def slides(some: Body, rest: Body, way: Cell, by: int) -> bool:
    return not any({shifted_cell(c, way, n) for c in some} & rest for n in range(1, by + 1))


def ways_out(some: Body, rest: Body) -> Iterator[int]:
    """How many straight moves take some cells out from among the rest, if 1 or 2 do."""
    if any(slides(some, rest, way, OUT) for way in WAYS):
        yield 1
    for way in WAYS:
        for by in range(1, OUT):
            if not slides(some, rest, way, by):
                break
            at = frozenset(shifted_cell(c, way, by) for c in some)
            if any(slides(at, rest, onward, OUT) for onward in WAYS):
                yield 2


def moves_needed(bodies: list[Body]) -> int:
    """1: comes apart by single moves; 2: by two at a time; 3: not by these."""

    def apart(among: tuple[int, ...], most: int) -> bool:
        if len(among) < 2:
            return True
        for size in range(1, len(among)):
            for some in itertools.combinations(among, size):
                rest = tuple(n for n in among if n not in some)
                one, other = (frozenset().union(*(bodies[n] for n in g)) for g in (some, rest))
                if any(n <= most for n in ways_out(one, other)):
                    return apart(some, most) and apart(rest, most)
        return False

    everything = tuple(range(len(bodies)))
    return next((most for most in (1, 2) if apart(everything, most)), 3)


def settled(bodies: list[Body]) -> tuple[Blocking, bool]:
    """The planner's graphs of them, and whether they come apart."""
    parts, groups = [], []
    for b, body in enumerate(bodies):
        mask = 0
        for column in columns(body):
            (x, y, low), high = column
            mask |= 1 << len(parts)
            corner = (x * GRID, y * GRID, low * GRID)
            end = ((x + 1) * GRID, (y + 1) * GRID, high * GRID)
            parts.append(board(f"p{b}-{x}{y}{low}", corner, end))
        groups.append(mask)
    _, assembly, joinery, catalogue = make(parts, {})
    graphs = find_blocking([part.name for part in parts], assembly, joinery, catalogue)

    def stuck(blocking: Blocking) -> list[int] | None:
        merged = blocking.merged(groups, [str(n) for n in range(len(groups))])
        mask = find_stuck(merged, merged.everything)
        if mask is None:
            return None
        return [groups[n] for n in members(smallest_stuck(merged, mask))]

    graphs, no = settle(graphs, stuck)
    return graphs, no is None


def columns(body: Body) -> Iterator[tuple[Cell, int]]:
    """Upright runs of cells: the lowest, and where the run ends."""
    for x, y, z in sorted(body):
        if (x, y, z - 1) not in body:
            high = z
            while (x, y, high) in body:
                high += 1
            yield (x, y, z), high


def test_the_search_by_hand() -> None:
    """A hook: it must first go down, then to the side; and a ring through a ring."""
    block = frozenset({(0, 0, 0), (1, 0, 0), (2, 0, 0), (0, 0, 1), (0, 0, 2), (2, 0, 1)})
    assert moves_needed([block, frozenset({(3, 0, 0)})]) == 1
    hook = frozenset({(1, 0, 1), (1, 0, 2), (2, 0, 2)})
    assert moves_needed([block, hook]) == 1
    roofed = block | {(1, 1, 0), (1, 1, 1), (1, 1, 2), (1, -1, 0), (1, -1, 1), (1, -1, 2)}
    assert moves_needed([roofed, hook]) == 1
    ring = frozenset((x, y, 1) for x in range(3) for y in range(3) if (x, y) != (1, 1))
    through = frozenset({(1, 1, 0), (1, 1, 1), (1, 1, 2), (1, 4, 1)}) | {
        (1, y, z) for y in range(1, 5) for z in (0, 2)
    }
    assert moves_needed([ring, through]) == 3


SEEDS = {
    1: (0, 1, 2, 3),
    2: (289, 901, 928, 1293, 1354, 1374, 1419),
    3: (60, 65, 80, 92, 130, 148),
}
"""Seeds by the moves that the search needs at a time; 3: more than two, or nothing helps."""


@pytest.mark.parametrize(("needed", "seed"), [(n, s) for n, some in SEEDS.items() for s in some])
def test_planner_and_search_agree(needed: int, seed: int) -> None:
    bodies = pieces(seed)
    assert moves_needed(bodies) == needed
    graphs, apart = settled(bodies)
    kinds = {type(move) for moves in graphs.moves.values() for move in moves}
    if needed < 3:
        assert apart
        assert kinds == ({Slide} if needed == 2 else set())
    else:
        assert not apart or Tilt in kinds  # the search does not tilt
