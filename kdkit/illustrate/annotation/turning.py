"""How the work is turned over: lying as before, an arrow, lying as it comes to lie."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.frames import Vec2, Vec3, cross, dot, scaled, sub, unit
from kdkit.geometry.surfaces import part_middle
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import View, Viewpoint, turn_between
from kdkit.illustrate.paper.arrows import band_arrow, line_arrow
from kdkit.illustrate.paper.figure import Line, Primitive
from kdkit.illustrate.paper.moving import extent, moved
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.choose_view import FAR_ROUND
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.plan import OperationKind, Posture

__all__ = ["looked_round_inset", "square_inset", "turning_inset", "turning_shapes"]

LOOK = Viewpoint(-32.0, 28.0)
"""Both ends of a turn are seen from one place, so that only the work moves."""

SQUARE_LOOK = Viewpoint(-20.0, 55.0)
SQUARE_SIZE = 30.0
_SEEN = 0.2
"""Cosine to the line of sight above which a ring of parts is seen open enough to measure in."""

TURNS = frozenset({OperationKind.TURN, OperationKind.STAND})


def turning_inset(
    subject: Subject, state: StepState, before: Posture | None
) -> tuple[Primitive, ...]:
    """Return a small picture of a turn that opens a step, or nothing."""
    turns = [o for o in state.operations if o.kind in TURNS]
    others = [o for o in state.operations if o.kind not in TURNS]
    if not turns or not others or before is None or before is turns[-1].posture:
        return ()
    parts = [p for p in state.parts if p not in state.new]
    return turning_shapes(subject, parts, before, turns[-1].posture, size=24.0)


def looked_round_inset(
    subject: Subject, state: StepState, before: View, now: View
) -> tuple[Primitive, ...]:
    """Return a small picture of the work as it was seen in the last step and as it is now.

    Nothing where it is seen from about the same side.
    """
    parts = [p for p in state.parts if p not in state.new] or list(state.parts)
    if turn_between(before, now) <= FAR_ROUND:
        return ()
    return _from_to(subject, parts, (before, now), size=22.0)


def turning_shapes(
    subject: Subject, parts: Sequence[str], before: Posture, after: Posture, *, size: float
) -> tuple[Primitive, ...]:
    """Return before, arrow, after, each about ``size`` mm high or wide on the same scale."""
    views = (View(viewpoint=LOOK, posture=before), View(viewpoint=LOOK, posture=after))
    return _from_to(subject, parts, views, size=size)


def _from_to(
    subject: Subject, parts: Sequence[str], views: tuple[View, View], *, size: float
) -> tuple[Primitive, ...]:
    pictures = []
    for view in views:
        view = view.at_scale(1.0)
        bodies = [subject.body(p, "existing", 0.1) for p in parts]
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
    _, _, ax1, ay1 = extent(placed[0])
    bx0, _, _, by1 = extent(placed[1])
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
    result += band_arrow(path, width=min(1.8, 0.06 * size))
    return tuple(result)


def square_inset(subject: Subject, state: StepState) -> tuple[Primitive, ...]:
    """Return a small picture of the two diagonals that must be equal, or nothing."""
    squares = [o for o in state.operations if o.kind is OperationKind.SQUARE]
    if not squares:
        return ()
    parts = [p for p in squares[0].parts if p in state.parts] or list(state.parts)
    view = View(viewpoint=SQUARE_LOOK, posture=squares[0].posture)
    bodies = [subject.body(p, "existing", 0.1) for p in parts]
    x0, y0, x1, y1 = view.bounds([c for b in bodies for c in b.corners()])
    view = view.at_scale(SQUARE_SIZE / max(x1 - x0, y1 - y0))
    shapes: list[Primitive] = list(draw_bodies(bodies, view).primitives())
    corners = [c for b in bodies for c in b.corners()]
    ring = _ring_corners(subject, squares[0].parts, view, corners) if squares[0].glue_up else None
    rim = ring or _top_corners(view, corners)
    crossing = (
        sum(p[0] for p in rim) / 4,
        sum(p[1] for p in rim) / 4,
    )
    for a, b in ((rim[0], rim[2]), (rim[1], rim[3])):
        shapes += _measure(a, b)
    for a in rim[:2]:
        shapes += _equal_marks(a, crossing)
    return tuple(shapes)


def _ring_corners(
    subject: Subject, parts: Sequence[str], view: View, corners: Sequence[Vec3]
) -> list[Vec2] | None:
    """Return the corners of the side that is seen of a ring of four parts, on paper."""
    a, c, b, d = (part_middle(subject.assembly.part(name)) for name in parts)
    u, v = unit(sub(b, a)), unit(sub(d, c))
    normal = cross(u, v)
    if dot(normal, view.toward) < 0:
        normal = scaled(normal, -1.0)
    if dot(normal, view.toward) < _SEEN:
        return None
    near = max(dot(normal, corner) for corner in corners)
    rim = [corner for corner in corners if dot(normal, corner) > near - 1.0]
    found = []
    for su, sv in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        corner = max(rim, key=lambda p: (round(su * dot(u, p) + sv * dot(v, p), 3), p))
        x, y, _ = view.project(corner)
        found.append((x, y))
    return found


def _top_corners(view: View, corners: Sequence[Vec3]) -> list[Vec2]:
    """Return the corners of the upper rim of the work as it lies, in turn, on paper."""
    floor = [(view.vector_to_floor(c), c) for c in corners]
    top = max(f[2] for f, _ in floor)
    rim = [(f, c) for f, c in floor if f[2] > top - 1.0]
    found = []
    for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        _, corner = max(rim, key=lambda fc: (round(sx * fc[0][0] + sy * fc[0][1], 3), fc[1]))
        x, y, _ = view.project(corner)
        found.append((x, y))
    return found


def _measure(a: Vec2, b: Vec2) -> list[Primitive]:
    """Return a line with a head at both ends."""
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    shapes: list[Primitive] = []
    for end in (a, b):
        inner = (end[0] + 0.02 * (middle[0] - end[0]), end[1] + 0.02 * (middle[1] - end[1]))
        shapes += line_arrow((middle, inner))
    return shapes


def _equal_marks(corner: Vec2, crossing: Vec2) -> list[Primitive]:
    """Return two short strokes across a diagonal: it is as long as the other."""
    dx, dy = crossing[0] - corner[0], crossing[1] - corner[1]
    size = math.hypot(dx, dy) or 1.0
    ux, uy = dx / size, dy / size
    shapes: list[Primitive] = []
    for share in (0.5, 0.5 + 1.1 / size):
        x, y = corner[0] + dx * share, corner[1] + dy * share
        shapes.append(
            Line(points=((x - uy * 1.5, y + ux * 1.5), (x + uy * 1.5, y - ux * 1.5)), pen="arrow")
        )
    return shapes
