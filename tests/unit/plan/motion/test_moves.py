"""The room that parts take on a way of several moves, and what is free of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial import Delaunay
from scipy.spatial.transform import Rotation

from kdkit.frames import PRODUCT, Frame, Vec3, cross, unit
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.moves import (
    Pose,
    find_collisions_along,
    moves_words,
    reversed_moves,
    rooms,
    seen_from_the_rest,
)
from kdkit.plan.motion.sweep import Polytope, Stock, prism
from kdkit.plan.motion.two_moves import Lengths
from kdkit.plan.plan import Moves, Slide, Tilt

LIP = (Slide((1.0, 0.0, 0.0), 55.0), Slide((0.0, 0.0, 1.0)))
UP = Tilt((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), -30.0)


def box(low: Vec3, high: Vec3) -> Polytope:
    plan = ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1]))
    return prism(PRODUCT, plan, low[2], high[2])


def free(moving: Polytope, standing: Polytope, moves: Moves) -> bool:
    bodies = [Body(part="a", shape=moving), Body(part="b", shape=standing)]
    found = find_collisions_along(bodies, moves, lambda _: (), lambda *_: False)
    return not any(d == 0 and one.part == "a" for d, one, _ in found)


def test_words() -> None:
    assert moves_words(LIP) == "55 mm to the right and then upwards"
    assert moves_words((UP, LIP[1])) == "tilted by 30 degrees and then upwards"


@pytest.mark.parametrize("moves", [LIP, (UP, LIP[1]), (UP, LIP[0], LIP[1])])
def test_seen_from_the_rest_and_back(moves: Moves) -> None:
    twice = seen_from_the_rest(seen_from_the_rest(moves))
    for one, other in zip(moves, twice, strict=True):
        for value, same in zip(vars(one).values(), vars(other).values(), strict=True):
            assert same == pytest.approx(value, abs=1e-9)
    assert reversed_moves(reversed_moves(moves)) == moves


def test_who_moves_makes_no_difference() -> None:
    rng = np.random.default_rng(7)
    for _ in range(40):
        a = box((0, 0, 0), tuple(rng.uniform(10, 60, 3)))  # type: ignore[arg-type]
        low = rng.uniform(-60, 60, 3)
        b = box(tuple(low), tuple(low + rng.uniform(10, 60, 3)))  # type: ignore[arg-type]
        tilt = Tilt(tuple(rng.uniform(-30, 30, 3)), (0.0, 0.0, 1.0), 25.0)  # type: ignore[arg-type]
        moves: Moves = (tilt, Slide((0.0, 1.0, 0.0), 30.0), Slide((1.0, 0.0, 0.0)))
        # The hulls of arcs differ a little between the two, so only clear cases must agree.
        if free(a, b, moves):
            wide = Polytope(a.vertices * 0.98, a.edges, a.normals)
            assert free(b, wide, seen_from_the_rest(moves))


def test_a_tilt_stays_within_its_room() -> None:
    rng = np.random.default_rng(3)
    for _ in range(10):
        axis = unit(tuple(rng.normal(size=3)))  # type: ignore[arg-type]
        point = tuple(rng.uniform(-200, 200, 3))
        frame = Frame((0.0, 0.0, 0.0), *_square(axis))
        shape = prism(frame, ((0, 0), (300, 0), (300, 80), (0, 80)), -9, 9)
        tilt = Tilt(point, axis, 3.0)  # type: ignore[arg-type]
        taken = list(rooms(Stock([shape]), Pose.at_rest(), tilt, 0.0))
        assert len(taken) == 3
        for n, room in enumerate(taken):
            hull = Delaunay(room.vertices[0][0])
            for share in (0.1, 0.5, 0.9):
                turn = Rotation.from_rotvec((n + share) * np.array(axis), degrees=True)
                at = turn.apply(shape.vertices - point) + point
                middle = at.mean(axis=0)
                assert (hull.find_simplex(middle + (1 - 1e-9) * (at - middle)) >= 0).all()


def _square(axis: Vec3) -> tuple[Vec3, Vec3, Vec3]:
    i = unit(cross(axis, (0.3, 0.5, 0.8)))
    return i, cross(axis, i), axis


def test_a_tilt_meets_what_its_ends_do_not() -> None:
    """A bar swung through a right angle passes a post that it touches neither before nor after."""
    bar = box((0, -5, 0), (100, 5, 10))
    post = box((66, 66, 0), (72, 72, 10))
    swing = Tilt((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 90.0)
    assert not free(bar, post, (swing, Slide((0.0, 0.0, 1.0))))
    far = box((76, 76, 0), (82, 82, 10))
    assert free(bar, far, (swing, Slide((0.0, 0.0, 1.0))))


def test_lengths_agree_with_sweeps() -> None:
    rng = np.random.default_rng(11)
    ways: list[Vec3] = [(1.0, 0.0, 0.0), (0.0, 0.0, 1.0), unit((1.0, 2.0, -1.0))]
    for _ in range(60):
        a = box((0, 0, 0), tuple(rng.uniform(10, 60, 3)))  # type: ignore[arg-type]
        low = rng.uniform(-80, 80, 3)
        b = box(tuple(low), tuple(low + rng.uniform(10, 60, 3)))  # type: ignore[arg-type]
        one = np.array([0])
        lengths = Lengths(Stock([a]), one, Stock([b]), one)
        for way, onward in ((ways[0], ways[1]), (ways[1], ways[2]), (ways[2], ways[0])):
            until = lengths.until(way, np.array([False]))[0]
            low_end, high_end = (float(v[0]) for v in lengths.barred(way, onward))
            for length in (1.0, 20.0, 70.0, 150.0):
                if min(abs(length - v) for v in (until, low_end, high_end)) < 0.1:
                    continue
                hits = until < length or low_end < length < high_end
                moves = (Slide(way, length), Slide(onward))
                assert free(a, b, moves) is not hits


def test_lengths_of_a_lip_by_hand() -> None:
    """A panel 400 long under a lip that reaches 50 over it, a wall 60 away at its other end."""
    panel = box((0, 0, 0), (400, 300, 12))
    lip, wall = box((0, 0, 12), (50, 300, 30)), box((460, 0, 0), (478, 300, 60))
    rows = np.array([0, 0])
    lengths = Lengths(Stock([panel]), rows, Stock([lip, wall]), np.array([0, 1]))
    until = lengths.until((1.0, 0.0, 0.0), np.zeros(2, dtype=np.bool_))
    assert math.isinf(until[0])
    assert until[1] == pytest.approx(60.0, abs=0.02)
    low, high = lengths.barred((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    assert low[0] < 0
    assert high[0] == pytest.approx(50.0, abs=0.02)
