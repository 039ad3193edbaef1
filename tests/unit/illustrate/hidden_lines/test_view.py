from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.frames import AXES, Vec3, cross, dot, norm
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View, Viewpoint
from kdkit.parts.postures import ON_FLOOR, Posture
from tests.viewpoints import DIMETRIC

DOWN = {
    Posture.STANDING: "-z",
    Posture.ON_LEFT: "-x",
    Posture.ON_RIGHT: "+x",
    Posture.ON_FRONT: "-y",
    Posture.ON_BACK: "+y",
    Posture.UPSIDE_DOWN: "+z",
}

coordinate = st.floats(-3000, 3000)
points = st.tuples(coordinate, coordinate, coordinate)
angles = st.tuples(st.floats(-180, 180), st.floats(-89, 89))
postures = st.sampled_from(list(Posture))


@pytest.mark.parametrize("posture", list(Posture))
def test_the_named_side_lies_on_the_floor(posture: Posture) -> None:
    assert View(posture=posture).vector_to_floor(AXES[DOWN[posture]]) == pytest.approx((0, 0, -1))


@pytest.mark.parametrize("posture", list(Posture))
def test_a_posture_is_a_turn_and_no_mirror_image(posture: Posture) -> None:
    x, y, z = ON_FLOOR[posture]
    assert cross(x, y) == z
    assert (dot(x, y), norm(x), norm(y)) == (0, 1, 1)


def test_the_usual_view_has_right_to_the_right_up_up_and_back_farther() -> None:
    view = View(viewpoint=VIEWPOINTS["front-right"], scale=0.1, origin=(50, 80))
    assert view.project((0, 0, 0)) == (50, 80, 0)
    right, back, top = (view.project(p) for p in ((100, 0, 0), (0, 100, 0), (0, 0, 100)))
    assert right[0] > 50
    assert back[2] > 0
    assert top[1] < 80
    assert top[0] == pytest.approx(50)


def test_the_dimetric_axes_lie_at_7_and_42_degrees() -> None:
    # Source: ISO 5456-3: 7 degrees and 42 degrees (rounded), receding at one half.
    view = View(viewpoint=DIMETRIC)
    x, y = view.direction((1, 0, 0)), view.direction((0, 1, 0))
    assert abs(math.degrees(math.atan2(x[1], x[0]))) == pytest.approx(7, abs=0.3)
    assert abs(math.degrees(math.atan2(y[1], y[0]))) == pytest.approx(42, abs=0.7)
    assert math.hypot(*y) / math.hypot(*x) == pytest.approx(0.5)
    assert math.hypot(*x) == pytest.approx(math.hypot(*view.direction((0, 0, 1))))


@given(points, points, angles, postures)
def test_no_length_grows_and_depth_makes_up_the_rest(
    p: Vec3, q: Vec3, turned: tuple[float, float], posture: Posture
) -> None:
    view = View(viewpoint=Viewpoint(*turned), posture=posture)
    a, b = view.project(p), view.project(q)
    assert math.dist(a, b) == pytest.approx(math.dist(p, q), abs=1e-6)
    assert view.project_many(np.array([p, q])) == pytest.approx(np.array([a, b]), abs=1e-6)


@given(angles, postures)
def test_a_step_toward_the_viewer_stays_on_one_spot(
    turned: tuple[float, float], posture: Posture
) -> None:
    view = View(viewpoint=Viewpoint(*turned), posture=posture)
    x, y, depth = view.project(view.toward)
    assert (x, y) == pytest.approx((0, 0), abs=1e-9)
    assert depth == pytest.approx(-1)


def test_tints_follow_the_posture() -> None:
    assert View().orientation((0, 0, 1)) == "top"
    assert View().orientation((0, 0, -1)) == "under"
    assert View().orientation((0, -1, 0)) == "front"
    assert View().orientation((1, 0, 0)) == "side"
    assert View(posture=Posture.ON_LEFT).orientation((1, 0, 0)) == "top"
    assert View(posture=Posture.ON_BACK).orientation((0, -1, 0)) == "top"


def test_viewpoints_stand_where_their_names_say() -> None:
    assert len(VIEWPOINTS) == 16
    for name, viewpoint in VIEWPOINTS.items():
        toward = View(viewpoint=viewpoint).toward
        assert ("right" in name) == (toward[0] > 0)
        assert ("back" in name) == (toward[1] > 0)
        assert ("below" in name) == (toward[2] < 0)


def test_bounds_hold_all_points() -> None:
    view = View(scale=0.5, origin=(3, 4))
    corners = [(0.0, 0.0, 0.0), (100.0, 50.0, 20.0), (0.0, 50.0, 20.0)]
    x0, y0, x1, y1 = view.bounds(corners)
    for corner in corners:
        x, y, _ = view.project(corner)
        assert x0 <= x <= x1
        assert y0 <= y <= y1
