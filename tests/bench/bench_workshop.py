"""How long many drilled panels take to be checked and scheduled, and how the time grows.

Run ``python tests/bench/bench_workshop.py``. The product is a row of cabinets: two sides with
system rows, top and bottom on cams and dowels, two fixed shelves, a back screwed on, each
joined to nothing but itself. Prints panels, bores, the seconds of CPU for each stage and the
exponent of growth from one size to the next; ``--checks`` adds the slowest checks.
"""

from __future__ import annotations

import math
import pathlib
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.geometry import assemble
from kdkit.inspect import CHECKS, RISKS
from kdkit.inspect.inspection import Inspection
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, Resolved, ResolvedJoint, SystemRowsSpec
from kdkit.schedule import make_schedules
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

SIZES = (252, 504, 1002, 2004)
"""Panels; seven make a cabinet."""

T = 18.0
_HIGH = 2 * 9.0 + 32.0 * 16
_STAGES = ("contacts", "joinery", "checks", "schedules")


def row_of_cabinets(panels: int) -> Resolved:
    """Return cabinets of seven panels, every one a little wider than the last."""
    parts: list[Part] = []
    joints: list[ResolvedJoint] = []
    sides: list[str] = []
    corner = use("cam-and-bolt", count=2), use("dowel-8x35", count=2)
    for n in range(panels // 7):
        wide = 400.0 + n
        x = n * 800.0
        name = f"c{n:03d}_{{}}".format
        parts += [
            board(name("left"), (x, 0, 0), (x + T, 300, _HIGH)),
            board(name("right"), (x + wide - T, 0, 0), (x + wide, 300, _HIGH)),
            board(name("back"), (x, 300, 0), (x + wide, 303, _HIGH)),
        ]
        for lying, z in (("bottom", 0.0), ("low", 169.0), ("high", 329.0), ("top", _HIGH - T)):
            parts.append(board(name(lying), (x + T, 0, z), (x + wide - T, 300, z + T)))
            joints += [joint(name(lying), name(side), *corner) for side in ("left", "right")]
        joints += [
            joint(name("back"), name(other), use("back-screwed", count=3))
            for other in ("left", "right", "bottom", "top")
        ]
        sides += [name("left"), name("right")]
    rows = SystemRowsSpec(path=("system_rows", 0), on=tuple(sides), faces="face", end=9.0)
    return replace(resolved(parts, joints), system_rows=(rows,))


def measure(panels: int) -> tuple[int, int, list[float], dict[str, float]]:
    """Return panels, bores, the seconds of each stage and of each check."""
    product, catalogue = row_of_cabinets(panels), built_in()
    times = [time.process_time()]
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    times.append(time.process_time())
    joinery, problems = place_fittings(product, assembly, catalogue)
    assert joinery is not None, problems
    times.append(time.process_time())
    inspection = Inspection(product, assembly, joinery, catalogue)
    each: dict[str, float] = {}
    for check in (*CHECKS, *RISKS):
        start = time.process_time()
        list(check(inspection))
        each[check.__name__] = time.process_time() - start
    times.append(time.process_time())
    make_schedules(product, assembly, joinery, catalogue, None)
    times.append(time.process_time())
    seconds = [b - a for a, b in pairwise(times)]
    return len(product.parts), len(joinery.bores), seconds, each


def main(arguments: Sequence[str]) -> None:
    """Print the table."""
    measure(28)  # warm
    print("panels  bores" + "".join(f"{stage:>12}" for stage in _STAGES) + "       all")
    last: tuple[int, float] | None = None
    for size in SIZES:
        panels, bores, seconds, each = measure(size)
        total = sum(seconds)
        growth = ""
        if last is not None:
            exponent = math.log(total / last[1]) / math.log(panels / last[0])
            growth = f"   grows as n^{exponent:.2f}"
        print(
            f"{panels:6d} {bores:6d}"
            + "".join(f"{s:10.2f} s" for s in seconds)
            + f"{total:8.2f} s{growth}"
        )
        if "--checks" in arguments:
            for name, spent in sorted(each.items(), key=lambda item: -item[1])[:8]:
                print(f"{'':20}{name:32}{spent:8.2f} s")
        last = (panels, total)


if __name__ == "__main__":
    main(sys.argv[1:])
