"""The finished product on the cover: standing, complete, nothing pulled apart."""

from __future__ import annotations

from dataclasses import replace

from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.paper.figure import Figure, Primitive
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.explode import move_apart
from kdkit.illustrate.staging.plates import together
from kdkit.illustrate.staging.subject import Subject, step_bodies
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import OperationKind

__all__ = ["COVER_LOOK", "draw_cover"]

COVER_LOOK = Viewpoint(-32.0, 20.0)
WIDEST, HIGHEST = 150.0, 116.0
"""The most that the product measures on the cover, mm."""


def draw_cover(subject: Subject, resolved: Resolved, finished: StepState, style: Style) -> Figure:
    """Return the finished product, at most 150 × 116 mm on paper.

    Args:
        subject: parts, joinery, catalogue.
        resolved: for the product's name.
        finished: the last step; what fixes the product to the wall is left out.
        style: for its margin.
    """
    whole = replace(
        finished,
        parts=tuple(part.name for part in subject.assembly.parts),
        new=(),
        items=tuple(
            replace(one, new=False, turned=False, adjusted=False)
            for one in finished.items
            if one.operation is None or one.operation.kind is not OperationKind.SECURE
        ),
    )
    apart = together(
        move_apart(
            whole, subject.assembly, subject.joinery, subject.catalogue.items, gap=0.0, item_gap=0.0
        )
    )
    view = View(viewpoint=COVER_LOOK)
    bodies = [body.in_role("cover") for body in step_bodies(subject, whole, apart, scale=0.1)]
    x0, y0, x1, y1 = view.bounds([c for b in bodies for c in b.corners()])
    scale = min(0.5, WIDEST / (x1 - x0), HIGHEST / (y1 - y0))
    shapes: list[Primitive] = list(draw_bodies(bodies, view.at_scale(scale)).primitives())
    title = getattr(resolved.said, "product", "") or "The product"
    x0, y0, x1, y1 = extent(shapes)
    margin = style.margin
    return Figure(
        width=x1 - x0 + 2 * margin,
        height=y1 - y0 + 2 * margin,
        primitives=moved(shapes, (margin - x0, margin - y0)),
        title=title,
        description="",
        scale=scale,
    )
