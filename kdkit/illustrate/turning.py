"""How the work is turned over: lying as before, an arrow, lying as it comes to lie."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.illustrate.arrows import band_arrow
from kdkit.illustrate.build_state import StepState
from kdkit.illustrate.figure import Line, Primitive
from kdkit.illustrate.hidden import draw_bodies
from kdkit.illustrate.paper import extent, moved
from kdkit.illustrate.scene import Workshop
from kdkit.illustrate.view import View, Viewpoint
from kdkit.plan.plan import OperationKind, Posture

__all__ = ["turning_inset", "turning_shapes"]

LOOK = Viewpoint(-32.0, 28.0)
"""Both ends of a turn are seen from one place, so that only the work moves."""

TURNS = frozenset({OperationKind.TURN, OperationKind.STAND})


def turning_inset(
    shop: Workshop, state: StepState, before: Posture | None
) -> tuple[Primitive, ...]:
    """Return a small picture of a turn that opens a step, or nothing."""
    turns = [o for o in state.operations if o.kind in TURNS]
    others = [o for o in state.operations if o.kind not in TURNS]
    if not turns or not others or before is None or before is turns[-1].posture:
        return ()
    parts = [p for p in state.parts if p not in state.new]
    return turning_shapes(shop, parts, before, turns[-1].posture, size=24.0)


def turning_shapes(
    shop: Workshop, parts: Sequence[str], before: Posture, after: Posture, *, size: float
) -> tuple[Primitive, ...]:
    """Return before, arrow, after, each about ``size`` mm high or wide on the same scale."""
    pictures = []
    for posture in (before, after):
        view = View(viewpoint=LOOK, posture=posture)
        bodies = [shop.body(p, "existing", 0.1) for p in parts]
        x0, y0, x1, y1 = view.bounds([c for b in bodies for c in b.corners()])
        pictures.append((view, bodies, max(x1 - x0, y1 - y0)))
    scale = size / max(reach for _, _, reach in pictures)
    placed: list[tuple[Primitive, ...]] = []
    for view, bodies, _ in pictures:
        shapes = draw_bodies(bodies, view.at_scale(scale)).primitives()
        x0, _, x1, y1 = extent(shapes)
        ground = Line(points=((x0 - 2.0, y1 + 0.8), (x1 + 2.0, y1 + 0.8)), pen="ground")
        placed.append((*shapes, ground))
    arrow_room = 0.55 * size
    ax0, _, ax1, ay1 = extent(placed[0])
    bx0, _, bx1, by1 = extent(placed[1])
    result = list(moved(placed[0], (-ax1, -ay1)))
    result += moved(placed[1], (arrow_room - bx0, -by1))
    rise = 0.45 * size
    path = [
        (
            arrow_room * (0.12 + 0.76 * n / 12),
            -rise - 0.18 * size * (1 - ((n - 6) / 6) ** 2),
        )
        for n in range(13)
    ]
    result += band_arrow(path, width=0.06 * size)
    return tuple(result)
