"""Cones of directions: hand-reasoned ones, and the sweep's own word for many."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kdkit.frames import PRODUCT, Frame, Vec3, unit
from kdkit.plan.motion.cones import EVERYWHERE, INSIDE, Cone, cone_between
from kdkit.plan.motion.sweep import Polytope, prism, sweep_hits


def box(low: Vec3, high: Vec3) -> Polytope:
    ring = ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1]))
    return prism(PRODUCT, ring, low[2], high[2])


def is_in(cone: Cone | None, way: tuple[float, float, float]) -> bool:
    return cone is not None and bool((cone.sides @ np.array(unit(way)) > INSIDE).all())


def test_a_contact_bars_one_side_of_its_plane() -> None:
    cone = cone_between(box((0, 0, 0), (100, 100, 10)), box((0, 0, 10), (100, 100, 20)))
    assert is_in(cone, (0, 0, 1))
    assert is_in(cone, (50, 0, 1))
    assert not is_in(cone, (1, 0, 0))
    assert not is_in(cone, (0, 0, -1))


def test_over_a_gap_only_ways_that_reach_the_other_are_barred() -> None:
    """A cube of 10 and one 40 above it: what leans by more than 1 in 4 passes beside it."""
    cone = cone_between(box((0, 0, 0), (10, 10, 10)), box((0, 0, 50), (10, 10, 60)))
    assert is_in(cone, (0, 0, 1))
    assert is_in(cone, (0.24, 0, 1))
    assert not is_in(cone, (0.26, 0, 1))
    assert not is_in(cone, (0, -0.26, 1))


def test_one_beside_the_other_on_a_line_is_never_met() -> None:
    slant = box((10, 10, 0), (20, 20, 10))
    cone = cone_between(box((0, 0, 0), (10, 10, 10)), slant)
    assert is_in(cone, (1, 1, 0))
    assert not is_in(cone, (1, 0, 0))


def test_what_stands_in_another_is_held_in_every_direction() -> None:
    assert cone_between(box((0, 0, 0), (10, 10, 10)), box((5, 5, 5), (9, 9, 9))) is EVERYWHERE


@pytest.mark.parametrize("seed", range(6))
def test_cones_say_what_the_sweep_says(seed: int) -> None:
    """Boxes and prisms, along the axes and turned anyhow; also where two sides cross."""
    rng = np.random.default_rng(seed)

    def body() -> Polytope:
        axes = np.linalg.qr(rng.normal(size=(3, 3)))[0] if rng.random() < 0.5 else np.eye(3)
        axes[0] *= np.linalg.det(axes)
        i, j, k = (tuple(float(c) for c in axis) for axis in axes)
        x, y, z = (float(c) for c in rng.integers(-4, 5, size=3) * 25)
        turns = np.sort(rng.random(5) * 2 * math.pi)
        ring = [(40 * math.cos(t), 40 * math.sin(t)) for t in turns]
        if rng.random() < 0.6:
            ring = [(0.0, 0.0), (50.0, 0.0), (50.0, 100.0), (0.0, 100.0)]
        return prism(Frame((x, y, z), i, j, k), ring, 0.0, 25.0)  # type: ignore[arg-type]

    for _ in range(40):
        moving, standing = body(), body()
        cone = cone_between(moving, standing)
        ways = [*rng.normal(size=(8, 3)), *np.eye(3), *-np.eye(3)]
        if cone is not None and len(cone.planes) > 1:
            n, m = rng.integers(0, len(cone.planes), size=2)
            line = np.cross(cone.planes[n], cone.planes[m])
            if np.linalg.norm(line) > 1e-3:
                ways += [line, -line]
        for way in ways:
            x, y, z = (float(c) for c in way)
            hits = sweep_hits([moving], [standing], unit((x, y, z)))[0, 0]
            assert is_in(cone, (x, y, z)) == bool(hits)
