"""Sweep verdicts against a general mesh library (manifold3d).

The swept body is the hull of a body and of the same body moved past everything; it
collides when its volume in common with the standing one is not nought. Source: the
sweep of a convex body along a line is the convex hull of its two ends.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from kdkit.frames import PRODUCT, Frame, Vec3, cross, unit
from kdkit.plan.motion.sweep import Polytope, prism, sweep_hits

manifold3d = pytest.importorskip("manifold3d")

ASSEMBLIES = 200
DIRECTIONS: tuple[Vec3, ...] = (
    (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), unit((1.0, 2.0, -1.0)),
)  # fmt: skip


def random_frame(rng: random.Random, turned: bool) -> Frame:
    if not turned:
        return PRODUCT
    k = unit((rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1)))
    i = unit(cross(k, (rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1))))
    return Frame((0.0, 0.0, 0.0), i, cross(k, i), k)


def random_boxes(rng: random.Random, kind: str) -> list[Polytope]:
    """Four to six boards; in one common turned frame, or each in its own."""
    common = random_frame(rng, kind != "straight")
    boxes = []
    for _ in range(rng.randint(4, 6)):
        frame = random_frame(rng, True) if kind == "mixed" else common
        low = [float(rng.randrange(-160, 160, 20)) for _ in range(3)]
        size = [float(rng.choice((18, 60, 200, 300))) for _ in range(3)]
        at = Frame(frame.point_to_outer((low[0], low[1], low[2])), frame.i, frame.j, frame.k)
        corners = ((0.0, 0.0), (size[0], 0.0), (size[0], size[1]), (0.0, size[1]))
        boxes.append(prism(at, corners, 0.0, size[2]))
    return boxes


def common_volume(moving: Polytope, standing: Polytope, direction: Vec3) -> float:
    hull = manifold3d.Manifold.hull_points
    ends = np.vstack([moving.vertices, moving.vertices + 4000.0 * np.array(direction)])
    return float((hull(ends) ^ hull(standing.vertices)).volume())


@pytest.mark.parametrize("kind", ["straight", "turned", "mixed"])
def test_verdicts_agree_on_random_box_assemblies(kind: str) -> None:
    rng = random.Random(f"sweeps {kind}")
    hits = misses = 0
    for number in range(ASSEMBLIES // 2 if kind != "mixed" else ASSEMBLIES // 5):
        boxes = random_boxes(rng, kind)
        direction = DIRECTIONS[number % len(DIRECTIONS)]
        verdicts = sweep_hits(boxes, boxes, direction)
        for n, p in enumerate(boxes):
            for m, q in enumerate(boxes):
                if n == m:
                    continue
                volume = common_volume(p, q, direction)
                if verdicts[n, m]:
                    hits += 1
                    assert volume > 1e-6, (kind, number, n, m)
                else:
                    misses += 1
                    assert volume < 1.0, (kind, number, n, m)
    assert hits > 100
    assert misses > 100
