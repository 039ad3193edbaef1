from __future__ import annotations

import math

import numpy as np
import pytest

from kdkit.frames import PRODUCT, Frame, Vec3
from kdkit.plan.motion.sweep import Polytope, overlap, prism, sweep_hits


def box(low: Vec3, high: Vec3, at: Frame = PRODUCT) -> Polytope:
    corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    return prism(at, corners, low[2], high[2])


def hits(p: Polytope, q: Polytope, direction: Vec3) -> bool:
    return bool(sweep_hits([p], [q], direction)[0, 0])


RIGHT, LEFT, UP = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
A = box((0, 0, 0), (10, 10, 10))


def test_a_box_ahead_is_hit_and_one_behind_is_not() -> None:
    ahead = box((30, 0, 0), (40, 10, 10))
    assert hits(A, ahead, RIGHT)
    assert not hits(A, ahead, LEFT)
    assert not hits(A, ahead, UP)


def test_touching_boxes_slide_past_each_other() -> None:
    beside = box((0, 10, 0), (40, 20, 10))
    assert not hits(A, beside, RIGHT)
    assert hits(A, beside, (0.0, 1.0, 0.0))
    assert not hits(A, beside, (0.0, -1.0, 0.0))


@pytest.mark.parametrize(("sunk", "expected"), [(0.009, False), (0.02, True)])
def test_tolerance_is_a_hundredth(sunk: float, expected: bool) -> None:
    assert hits(A, box((20, 10 - sunk, 0), (40, 20, 10)), RIGHT) is expected


def test_overlapping_bodies_are_stuck_both_ways() -> None:
    through = box((2, 2, -5), (4, 4, 15))
    assert overlap(A, through)
    assert all(hits(A, through, v) for v in (RIGHT, LEFT, UP))
    assert not overlap(A, box((10, 0, 0), (20, 10, 10)))


def test_a_slanted_gap_lets_pass_what_its_bounding_box_would_stop() -> None:
    """Two slabs at 45 degrees slide along each other."""
    s = math.sqrt(0.5)
    slope = Frame((0.0, 0.0, 0.0), (s, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, s))
    low, high = box((0, 0, 0), (100, 50, 10), slope), box((50, 0, 10), (200, 50, 20), slope)
    assert not hits(low, high, (s, 0.0, s))
    assert hits(low, high, UP)
    assert hits(high, low, (0.0, 0.0, -1.0))


def test_edges_crossing_in_the_air_need_a_plane_of_both_edges() -> None:
    """A bar on edge passes under another on edge: no face normal keeps them apart."""
    s = math.sqrt(0.5)
    along_x = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, s, s), (0.0, -s, s))
    along_y = Frame((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (-s, 0.0, s), (s, 0.0, s))
    low = box((-50, -5, -5), (50, 5, 5), along_x)
    top = 20 * s  # half diagonals of both
    for gap, apart in ((0.5, True), (-0.5, False)):
        lifted = Frame((0.0, 0.0, top + gap), along_y.i, along_y.j, along_y.k)
        high = box((-50, -5, -5), (50, 5, 5), lifted)
        assert overlap(low, high) is not apart
        assert hits(low, high, UP)


def test_many_pairs_at_once_are_the_same_as_one_by_one() -> None:
    rng = np.random.default_rng(5)
    bodies = [box((x, y, z), (x + 9, y + 3, z + 5)) for x, y, z in rng.uniform(0, 40, (25, 3))]
    ring = [(8 * math.cos(a), 8 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 13)[:-1]]
    bodies.append(prism(PRODUCT, ring, 0.0, 30.0))
    matrix = sweep_hits(bodies, bodies, RIGHT)
    for n, p in enumerate(bodies):
        for m, q in enumerate(bodies):
            assert matrix[n, m] == hits(p, q, RIGHT)


def test_prism_may_run_either_way_round() -> None:
    ring = [(0.0, 0.0), (10.0, 0.0), (0.0, 10.0)]
    for corners in (ring, ring[::-1]):
        p = prism(PRODUCT, corners, 0.0, 5.0)
        inside = p.vertices.mean(axis=0)
        for normal in p.normals:
            assert (p.vertices @ normal).max() > inside @ normal
