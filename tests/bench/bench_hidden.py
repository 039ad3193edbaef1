"""Hidden lines: ours against the OCCT kernel's exact algorithm, in one run.

Run ``python tests/bench/bench_hidden.py``. Prints a table; nothing fails on a time.
Times are processor time, the shortest of several runs. Bodies and the kernel's solids
are made beforehand. Columns: ``lines`` is visible lines alone, which is what the
kernel's column gives; ``drawing`` adds visible surface, tints and the bores' mouths,
which is what a figure needs. The kernel's solids are once plain boards, once the
boards as drilled, which is the product that is drawn.
"""

from __future__ import annotations

import math
import pathlib
import sys
import time
from collections.abc import Callable, Sequence

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.bodies.parts import part_body
from kdkit.illustrate.hidden_lines import own_look
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.front_faces import find_front_faces
from kdkit.illustrate.hidden_lines.strokes import join_strokes
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View
from kdkit.illustrate.hidden_lines.visible_lines import find_stretches, list_segments
from kdkit.illustrate.hidden_lines.visible_surfaces import VisibleSurfaces
from tests.outside import solid_scenes as fronts

VIEW = View(viewpoint=VIEWPOINTS["front-right"], scale=0.1)
PANELS = (10, 20, 40, 80, 160)
KERNEL_UP_TO = 40


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Return the shortest processor time of several runs."""
    best = math.inf
    for _ in range(repeat):
        own_look._look.cache_clear()  # nothing of one run helps the next
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def draw_lines(bodies: Sequence[Body]) -> None:
    """Find the visible lines of bodies that do not cut into each other, all of them tested."""
    fronts = find_front_faces(bodies, VIEW)
    free = VisibleSurfaces(seen=(*fronts.shapes, *(shape for _, shape, _ in fronts.paints)))
    join_strokes(bodies, (), find_stretches(fronts, list_segments(fronts, free)), VIEW)


def row(count: int, last: dict[str, float]) -> str:
    """Measure one number of panels; ``last`` keeps the row above for the growth."""
    parts = fronts.long_run(count // 10)
    bores = fronts.drill(parts)
    plain = [part_body(part) for part in parts]
    drilled = [part_body(part, (), bores, scale=VIEW.scale) for part in parts]
    lines = seconds(lambda: draw_lines(plain), 5)
    drawing = seconds(lambda: draw_bodies(drilled, VIEW), 5)
    text = f"{count:6d} {lines * 1e3:7.0f} ms {drawing * 1e3:7.0f} ms"
    if count <= KERNEL_UP_TO:
        solids, bored = fronts.kernel_solids(parts), fronts.kernel_solids(parts, bores)
        kernel = seconds(lambda: fronts.kernel_visible_edges(solids, VIEW), 3)
        kernel_bored = seconds(lambda: fronts.kernel_visible_edges(bored, VIEW), 1)
        text += f" {kernel * 1e3:7.0f} ms {kernel_bored * 1e3:7.0f} ms"
        text += f" {kernel / lines:8.1f} {kernel_bored / drawing:8.1f}"
    else:
        text += " " * 40
    if last:
        times = math.log(count / last["count"])
        text += f"   n^{math.log(lines / last['lines']) / times:.2f}"
        text += f" n^{math.log(drawing / last['drawing']) / times:.2f}"
    last.update(count=count, lines=lines, drawing=drawing)
    return text


def main() -> None:
    """Measure and print."""
    print("             ours                  kernel          kernel : ours       growth")
    print("panels      lines    drawing      plain    drilled    plain  drilled")
    last: dict[str, float] = {}
    for count in PANELS:
        print(row(count, last), flush=True)


if __name__ == "__main__":
    main()
