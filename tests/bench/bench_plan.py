"""Planning time for 10, 20, 40, 80 and 160 panels, and how it grows.

Run ``python tests/bench/bench_plan.py``. The product is a wide case of equal bays:
dividers between a bottom and a top, shelves between the dividers, every end held by
two cams and bolts. Prints the time of each stage of the planner and, from one size
to the next, the exponent of growth.
"""

from __future__ import annotations

import math
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.plan import make_plan
from kdkit.plan.blocking import find_blocking
from kdkit.plan.facts import canonical_order
from kdkit.plan.plan import Plan
from tests.boxes import Made, board, make

SIZES = (10, 20, 40, 80, 160)


def case_of_bays(panels: int) -> Made:
    """A case of about a square number of bays with exactly so many panels."""
    t, bay, deep, high = 18.0, 400.0, 300.0, 1800.0
    bays = max(1, round(math.sqrt(panels / 4)))
    shelves = panels - 2 - (bays + 1)
    wide = bays * bay + (bays + 1) * t
    parts = [
        board("bottom", (0, 0, 0), (wide, deep, t)),
        board("top", (0, 0, high - t), (wide, deep, high)),
    ]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for n in range(bays + 1):
        x = n * (bay + t)
        name = f"upright_{n:02d}"
        parts.append(board(name, (x, 0, t), (x + t, deep, high - t)))
        joints[name, "bottom"] = joints[name, "top"] = "cams"
    for n in range(shelves):
        column, row = n % bays, n // bays
        rows = -(-shelves // bays)
        x = column * (bay + t) + t
        z = t + (high - 2 * t) * (row + 1) / (rows + 1) + 4.0 * (column % 2)
        name = f"shelf_{n:03d}"
        parts.append(board(name, (x, 0, z), (x + bay, deep, z + 10)))
        for side in (column, column + 1):
            joints[name, f"upright_{side:02d}"] = "cams"
    return make(parts, joints)


def main() -> None:
    before: tuple[int, float] | None = None
    for size in SIZES:
        made = case_of_bays(size)
        assembly = made[1]
        start = time.perf_counter()
        find_blocking([p.name for p in canonical_order(assembly.parts)], *made[1:])
        graphs = time.perf_counter() - start
        start = time.perf_counter()
        plan, problems = make_plan(*made)
        whole = time.perf_counter() - start
        assert isinstance(plan, Plan), problems
        growth = ""
        if before is not None:
            exponent = math.log(whole / before[1]) / math.log(size / before[0])
            growth = f"   grows as n^{exponent:.2f}"
        print(
            f"{size:4d} panels: blocking graphs {graphs:7.2f} s, whole plan {whole:7.2f} s, "
            f"{len(plan.steps)} steps, {plan.search.split(':')[0]}{growth}",
            flush=True,
        )
        before = (size, whole)


if __name__ == "__main__":
    main()
