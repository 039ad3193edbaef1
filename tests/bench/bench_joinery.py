"""How many fasteners a second the joinery places, and how the time grows.

Run ``python tests/bench/bench_joinery.py``. The product is a row of shelves between two
sides, every end with two cams and three dowels. Prints fasteners, bores and time for
each size, and the exponent of growth from one size to the next.
"""

from __future__ import annotations

import math
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

SIZES = (10, 40, 160, 640)


def measure(shelves: int) -> tuple[int, int, float]:
    """Return fasteners, bores and seconds for a case with so many shelves."""
    t, pitch = 18.0, 40.0
    high = shelves * pitch + 100
    parts = [
        board("left", (0, 0, 0), (t, 300, high)),
        board("right", (600 - t, 0, 0), (600, 300, high)),
    ]
    joints = []
    for n in range(shelves):
        z = 50 + n * pitch
        parts.append(board(f"shelf_{n:03d}", (t, 0, z), (600 - t, 300, z + t)))
        joints += [
            joint(f"shelf_{n:03d}", side, use("cam-and-bolt"), use("dowel-8x35"))
            for side in ("left", "right")
        ]
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    if assembly is None:
        raise ValueError(problems)
    catalogue = built_in()
    start = time.perf_counter()
    joinery, problems = place_fittings(product, assembly, catalogue)
    seconds = time.perf_counter() - start
    if joinery is None:
        raise ValueError(problems)
    return len(joinery.fasteners), len(joinery.bores), seconds


def main() -> None:
    """Print the table."""
    measure(SIZES[0])  # warm
    last: tuple[int, float] | None = None
    for size in SIZES:
        fasteners, bores, seconds = measure(size)
        growth = ""
        if last is not None:
            exponent = math.log(seconds / last[1]) / math.log(fasteners / last[0])
            growth = f"   grows as n^{exponent:.2f}"
        print(
            f"{fasteners:6d} fasteners {bores:6d} bores {seconds:8.3f} s"
            f" {fasteners / seconds:8.0f} a second{growth}"
        )
        last = (fasteners, seconds)


if __name__ == "__main__":
    main()
