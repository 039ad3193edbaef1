"""Which way is up: one table for planner, pictures and words."""

from __future__ import annotations

import pytest

from kdkit.frames import AXES, Vec3, cross, dot
from kdkit.parts.postures import ON_FLOOR, POSTURES, UP, Posture, posture_with_up, steepness

LIES_ON = {
    Posture.STANDING: "-z",
    Posture.ON_LEFT: "-x",
    Posture.ON_RIGHT: "+x",
    Posture.ON_FRONT: "-y",
    Posture.ON_BACK: "+y",
    Posture.UPSIDE_DOWN: "+z",
}


@pytest.mark.parametrize("posture", POSTURES)
def test_the_side_on_the_floor_looks_down(posture: Posture) -> None:
    assert steepness(AXES[LIES_ON[posture]], posture) == -1
    assert posture_with_up(UP[posture]) is posture
    assert sorted(abs(c) for c in UP[posture]) == [0, 0, 1]


@pytest.mark.parametrize("posture", POSTURES)
def test_a_product_is_turned_over_and_never_mirrored(posture: Posture) -> None:
    x, y, z = ON_FLOOR[posture]
    assert cross(x, y) == z
    assert dot(x, y) == dot(y, z) == 0


@pytest.mark.parametrize(
    ("direction", "posture"),
    [
        ((0.6, 0.0, 0.8), Posture.STANDING),
        ((0.8, 0.0, 0.6), Posture.ON_LEFT),
        ((0.0, -0.8, 0.6), Posture.ON_BACK),
        ((0.0, 0.0, -1.0), Posture.UPSIDE_DOWN),
    ],
)
def test_a_slanted_side_comes_up_as_far_as_it_can(direction: Vec3, posture: Posture) -> None:
    assert posture_with_up(direction) is posture
