"""Where fasteners stand along a run."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.joinery.spread import (
    clear_of,
    spread_along,
    spread_by_count,
    spread_by_rule,
    stretches_at,
)
from tests.cabinets import built_in, use

CAM = built_in().fittings["cam-and-bolt"]


def positions(run: float, **settings: object) -> tuple[float, ...]:
    found, problems = spread_along(use("cam-and-bolt", **settings), CAM, [(0.0, run)], "here")
    assert problems == ()
    return found


def test_the_rule_by_hand() -> None:
    # 560 long, 60 from the ends, at most 200 apart: 440 / 200 -> 3 gaps of 146.67.
    assert spread_by_rule(560, 60, 200) == pytest.approx((60, 206.667, 353.333, 500), abs=1e-3)
    assert spread_by_rule(300, 60, 200) == (60, 240)
    assert spread_by_rule(520, 60, 200) == (60, 260, 460)  # exactly two pitches: two gaps
    assert spread_by_rule(100, 60, 200) == (50,)
    assert spread_by_rule(121, 60, 200) == (30.25, 90.75)  # not two bores 1 apart


@given(run=st.floats(20, 3000), ends=st.floats(0, 200), pitch=st.floats(20, 500))
def test_the_rule_keeps_ends_and_pitch(run: float, ends: float, pitch: float) -> None:
    found = spread_by_rule(run, ends, pitch)
    if run - 2 * ends < 0.01:
        assert found == (run / 2,)
        return
    if run - 2 * ends < min(ends, pitch):  # two nearer to each other than to the ends
        assert found == (run / 4, run * 3 / 4)
        return
    assert found[0] == pytest.approx(ends)
    assert found[-1] == pytest.approx(run - ends)
    gaps = [b - a for a, b in itertools.pairwise(found)]
    assert max(gaps) <= pitch + 1e-3
    assert max(gaps) - min(gaps) < 1e-6
    fewer = len(found) - 2
    assert fewer == 0 or (run - 2 * ends) / fewer > pitch - 1e-3  # one less would be too few


@given(run=st.floats(20, 3000), ends=st.floats(0, 200), count=st.integers(1, 40))
def test_a_count_is_kept_and_symmetrical(run: float, ends: float, count: int) -> None:
    found = spread_by_count(run, ends, count)
    assert len(found) == count
    assert all(a < b for a, b in itertools.pairwise(found))
    for a, b in zip(found, reversed(found), strict=True):
        assert a + b == pytest.approx(run)


def test_exact_positions_count_from_either_end() -> None:
    assert positions(560, at=(110.0, -110.0)) == (110, 450)
    assert positions(560, at=(0.0, 560.0)) == (0, 560)


def test_defaults_come_from_the_fitting() -> None:
    assert positions(300) == (64, 236)
    assert positions(564, ends=50.0) == pytest.approx((50, 282, 514))
    assert positions(300, count=3) == (64, 150, 236)


def test_the_grid_counts_from_the_near_end() -> None:
    found = positions(560, ends=60.0, pitch=200.0, grid=32.0)
    assert found == (64, 192, 352, 512)
    assert all(math.isclose(p % 32, 0) for p in found)


@pytest.mark.parametrize(
    ("settings", "path"),
    [
        ({"at": (10.0, 900.0)}, ("at", 1)),
        ({"at": (-900.0,)}, ("at", 0)),
        ({"count": 0}, ("count",)),
        ({"count": 10**6}, ("count",)),
        ({"pitch": 0.0}, ("pitch",)),
        ({"pitch": -4.0}, ("pitch",)),
        ({"pitch": 1e-6}, ("pitch",)),
        ({"ends": -1.0}, ("ends",)),
        ({"grid": 0.0}, ("grid",)),
    ],
)
def test_impossible_positions_are_problems(
    settings: dict[str, object], path: tuple[str | int, ...]
) -> None:
    placement = use("cam-and-bolt", **settings)
    _, problems = spread_along(placement, CAM, [(0.0, 560.0)], "here")
    assert [p.code for p in problems] == ["fitting-position"]
    assert problems[0].path == (*placement.path, *path)
    assert problems[0].help


def test_ends_that_do_not_fit_are_told() -> None:
    found, problems = spread_along(use("cam-and-bolt", ends=60.0), CAM, [(0.0, 100.0)], "here")
    assert found == (50,)
    assert [p.severity for p in problems] == ["warning"]


def test_a_notch_parts_the_run() -> None:
    both = [(0.0, 200.0), (260.0, 560.0)]
    found, problems = spread_along(use("cam-and-bolt", ends=50.0), CAM, both, "here")
    assert problems == ()
    assert found == (50, 150, 310, 510)
    found, problems = spread_along(use("cam-and-bolt", at=(50.0, 230.0)), CAM, both, "here")
    assert found == (50,)
    assert "0 to 200 and 260 to 560" in problems[0].help


def test_stretches_of_a_notched_polygon() -> None:
    ring = ((0, 0), (100, 0), (100, 20), (60, 20), (60, 5), (40, 5), (40, 20), (0, 20))
    assert stretches_at(ring, 3.0) == ((0, 100),)
    assert stretches_at(ring, 10.0) == ((0, 40), (60, 100))
    assert stretches_at(ring, 30.0) == ()


def test_places_taken_are_left_out() -> None:
    # Source: cam to dowel at least 32, common practice.
    assert clear_of((32, 156, 280, 404, 528), [64, 280, 496]) == (32, 156, 404, 528)
    assert clear_of((32, 156), []) == (32, 156)
    assert clear_of((50,), [60]) == (50,)  # better too near than none: inspection tells
