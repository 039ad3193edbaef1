"""Hidden lines: ours against the OCCT kernel's exact algorithm, in one run.

Run: ``python -m tests.bench.bench_hidden``. Prints a table; nothing fails on a time.
Ours includes the bodies, visible surface, visible lines and strokes; the kernel's time
is its projection alone, its solids made beforehand.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

from kdkit.illustrate.bodies import part_body
from kdkit.illustrate.hidden import draw_bodies
from kdkit.illustrate.view import VIEWPOINTS, View
from tests.outside import solid_scenes as scenes

VIEW = View(viewpoint=VIEWPOINTS["front-right"], scale=0.1)
PANELS = (10, 20, 40, 80, 160)
KERNEL_UP_TO = 40


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Return the shortest of several runs."""
    best = math.inf
    for _ in range(repeat):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Measure and print."""
    print(f"{'panels':>6} {'ours':>9} {'kernel':>9} {'ratio':>6} {'growth':>7}")
    last: tuple[int, float] | None = None
    for count in PANELS:
        parts = scenes.long_run(count // 10)
        assert len(parts) == count

        def ours(parts: list[scenes.Part] = parts) -> None:
            draw_bodies([part_body(part) for part in parts], VIEW)

        mine = seconds(ours, 5)
        kernel, ratio = "", ""
        if count <= KERNEL_UP_TO:
            solids = scenes.kernel_solids(parts)
            theirs = seconds(lambda: scenes.kernel_visible_edges(solids, VIEW), 2)  # noqa: B023
            kernel, ratio = f"{theirs * 1e3:6.0f} ms", f"{theirs / mine:.1f}"
        growth = ""
        if last is not None:
            growth = f"n^{math.log(mine / last[1]) / math.log(count / last[0]):.2f}"
        last = (count, mine)
        print(f"{count:6d} {mine * 1e3:6.0f} ms {kernel:>9} {ratio:>6} {growth:>7}")


if __name__ == "__main__":
    main()
