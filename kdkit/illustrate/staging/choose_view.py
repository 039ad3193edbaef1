"""From where a step is seen: the view that shows the new parts, their bores and hardware.

A few looks are compared by casting rays from points that must be seen (mouths of bores,
hardware, a grid over the new parts) to the viewer. The last step's look stays unless
another one shows clearly more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kdkit.frames import Vec3, add, dot, scaled
from kdkit.illustrate.hidden_lines.view import View, Viewpoint, turn_between
from kdkit.model.resolved import Part
from kdkit.parts.size import part_size
from kdkit.plan.plan import Posture

__all__ = ["FAR_ROUND", "LOOKS", "Shown", "ShownPart", "choose_look", "look_score", "sees"]

LOOKS = (
    Viewpoint(-32.0, 28.0),
    Viewpoint(32.0, 28.0),
    Viewpoint(-58.0, 30.0),
    Viewpoint(58.0, 30.0),
    Viewpoint(148.0, 28.0),
    Viewpoint(-148.0, 28.0),
    Viewpoint(-32.0, -22.0),
    Viewpoint(32.0, -22.0),
)
"""Where one looks from, the preferred first: from the front and above before all else."""

PREFERENCE = (0.06, 0.06, 0.04, 0.04, -0.04, -0.04, -0.25, -0.25)
KEEP = 0.12
"""How much more another look must show before the last one is left."""

LOST = 0.35
"""What it costs when nothing is seen of the hardware that the step handles."""

HIDDEN = 0.8
ENOUGH, ENOUGH_THERE = 0.85, 0.55
"""What it costs, per share, when less than that of the new part seen least is in sight, or of
all that is there already."""

JUMP = 0.2
"""What it costs to look from more than ``FAR_ROUND`` further round than in the last step."""

FAR_ROUND = 91.0
"""A right angle, and a little for looks of unlike height, degrees."""

NUDGE = 0.5


@dataclass(frozen=True, kw_only=True)
class ShownPart:
    """A part as it stands in the picture, moved by ``shift`` from its place."""

    part: Part
    shift: Vec3 = (0.0, 0.0, 0.0)
    new: bool = False


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What must be seen: points with the way they face, in the picture's places.

    ``marks``: mouths of bores and hardware, ``(point, out of the surface, weight)``.
    """

    parts: tuple[ShownPart, ...]
    marks: tuple[tuple[Vec3, Vec3, float], ...]


def choose_look(
    shown: Shown, posture: Posture, last: Viewpoint | None, *, at_wall: bool = False
) -> Viewpoint:
    """Return the look for a picture.

    Args:
        last: the one before, None for the first.
        at_wall: a wall stands behind the product, and nobody looks from behind that.
    """
    scores = {
        look: look_score(shown, posture, look) + liked - (JUMP if _is_far(look, last) else 0.0)
        for look, liked in zip(LOOKS, PREFERENCE, strict=True)
        if not at_wall or View(viewpoint=look, posture=posture).toward[1] < 0.0
    }
    best = max(scores, key=lambda look: round(scores[look], 4))
    if last in scores and scores[last] + KEEP >= scores[best]:
        return last
    return best


def _is_far(look: Viewpoint, last: Viewpoint | None) -> bool:
    return last is not None and turn_between(View(viewpoint=look), View(viewpoint=last)) > FAR_ROUND


def look_score(shown: Shown, posture: Posture, look: Viewpoint) -> float:
    """Return how much of what must be seen is seen, about 0 to 2."""
    toward = View(viewpoint=look, posture=posture).toward
    score = 0.0
    if shown.marks:
        points = [add(p, scaled(out, NUDGE)) for p, out, _ in shown.marks]
        facing = np.array([max(0.0, dot(out, toward)) for _, out, _ in shown.marks])
        seen = sees(points, toward, shown.parts)
        weight = np.array([w for _, _, w in shown.marks])
        good = seen * np.minimum(1.0, 0.35 + facing) * (facing > 0.12)
        score += float(np.sum(good * weight) / np.sum(weight))
        handled = weight > 1.0
        if handled.any() and not (good * handled).any():
            score -= LOST
    new = [n for n, one in enumerate(shown.parts) if one.new]
    if new:
        area, turned, seen, owner = _surfaces(shown, new, toward)
        if len(turned):
            score += 0.8 * float(np.sum(seen * turned)) / area
            least = min(float(seen[owner == n].mean()) for n in set(owner.tolist()))
            score -= HIDDEN * max(0.0, ENOUGH - least)
    there = [n for n, one in enumerate(shown.parts) if not one.new]
    if there:
        _, turned, seen, _ = _surfaces(shown, there, toward)
        if len(turned):
            share = float(np.sum(seen * turned) / np.sum(turned))
            score -= HIDDEN * max(0.0, ENOUGH_THERE - share)
    return score


def _surfaces(
    shown: Shown, parts: Sequence[int], toward: Vec3
) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
    """Return how large parts are, and of points over what they turn to the viewer three rows.

    Returns:
        half the area of all faces; for each point the area that it stands for as it is
        seen, whether it is in sight, and the number of its part.
    """
    faces = [(n, *grid) for n in parts for grid in _grids(shown.parts[n])]
    turned = [(n, p, a * dot(out, toward)) for n, p, out, a in faces if dot(out, toward) > 0.05]
    flat = [p for _, points, _ in turned for p in points]
    return (
        sum(a for _, _, _, a in faces) / 2,
        np.array([a / len(points) for _, points, a in turned for _ in points]),
        sees(flat, toward, shown.parts) if flat else np.zeros(0),
        np.array([n for n, points, _ in turned for _ in points]),
    )


def _grids(one: ShownPart) -> list[tuple[list[Vec3], Vec3, float]]:
    """Return for both faces a grid of points, the way out, and the area."""
    part = one.part
    length, width = part_size(part)
    shares = (0.1, 0.3, 0.5, 0.7, 0.9)
    result = []
    for z, out in ((NUDGE, (0.0, 0.0, 1.0)), (-part.thickness - NUDGE, (0.0, 0.0, -1.0))):
        points = [
            add(part.frame.point_to_outer((a * length, b * width, z)), one.shift)
            for a in shares
            for b in shares
        ]
        result.append((points, part.frame.vector_to_outer(out), length * width))
    return result


def sees(points: Sequence[Vec3], toward: Vec3, parts: Sequence[ShownPart]) -> np.ndarray:
    """Return for each point whether nothing stands between it and the viewer (N,), 0 or 1.

    Each part counts as the box round its outline (slab test).
    """
    free = np.ones(len(points))
    p = np.array(points, dtype=float)
    for one in parts:
        frame = one.part.frame
        axes = np.array([frame.i, frame.j, frame.k])
        local = (p - np.array(one.shift) - np.array(frame.origin)) @ axes.T
        d = axes @ np.array(toward)
        low = np.array([0.0, 0.0, -one.part.thickness])
        high = np.array([*part_size(one.part), 0.0])
        enter = np.full(len(points), 1e-6)
        leave = np.full(len(points), np.inf)
        for axis in range(3):
            if abs(d[axis]) < 1e-9:
                outside = (local[:, axis] <= low[axis]) | (local[:, axis] >= high[axis])
                leave = np.where(outside, -1.0, leave)
                continue
            a = (low[axis] - local[:, axis]) / d[axis]
            b = (high[axis] - local[:, axis]) / d[axis]
            enter = np.maximum(enter, np.minimum(a, b))
            leave = np.minimum(leave, np.maximum(a, b))
        free[leave > enter + 1e-6] = 0.0
    return free
