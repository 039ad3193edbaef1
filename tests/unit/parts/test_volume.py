"""Volumes of drilled panels: closed formulas and laws. The CAD kernel has its own test."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.frames import PRODUCT, Vec3
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.quadrature import integrate
from kdkit.parts.volume import drilled_volume, prism_volume

WHOLE = 600.0 * 300.0 * 18.0
PANEL = Part(
    name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
    outline=((0, 0), (600, 0), (600, 300), (0, 300)),
)  # fmt: skip


def bore(surface: str, mouth: Vec3, diameter: float, depth: float, through: bool = False) -> Bore:
    into = {"face": (0, 0, -1), "back": (0, 0, 1), "edge:0": (0, 1, 0), "edge:3": (1, 0, 0)}
    return Bore(
        part="panel", surface=surface, mouth=mouth, into=into[surface], diameter=diameter,
        depth=depth, through=through, purpose="bore", path=(),
    )  # fmt: skip


def cylinder(diameter: float, depth: float) -> float:
    return math.pi * diameter**2 / 4 * depth


def taken(*bores: Bore, grooves: tuple[Groove, ...] = ()) -> float:
    return WHOLE - drilled_volume(PANEL, bores, grooves)


def test_prisms() -> None:
    assert prism_volume(PANEL) == WHOLE
    opened = Part(
        name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
        outline=PANEL.outline, cutouts=(((10, 10), (20, 10), (20, 30), (10, 30)),),
        round_cutouts=(RoundCutOut(centre=(300, 150), diameter=60),),
    )  # fmt: skip
    assert prism_volume(opened) == pytest.approx(WHOLE - 200 * 18 - cylinder(60, 18), rel=1e-12)


def test_one_bore_has_its_closed_formula() -> None:
    assert taken(bore("face", (100, 100, 0), 15, 13.5)) == pytest.approx(cylinder(15, 13.5))
    assert taken(bore("edge:0", (100, 0, -9), 8, 24)) == pytest.approx(cylinder(8, 24))


def test_a_counterbore_counts_its_middle_once() -> None:
    found = taken(bore("face", (100, 100, 0), 10, 7), bore("face", (100, 100, 0), 4.5, 18, True))
    assert found == pytest.approx(cylinder(10, 7) + cylinder(4.5, 11), rel=1e-9)


def test_the_same_bore_twice_counts_once() -> None:
    one = bore("face", (100, 100, 0), 15, 13.5)
    assert taken(one, one) == pytest.approx(cylinder(15, 13.5), rel=1e-9)


def test_half_a_bore_over_an_edge() -> None:
    assert taken(bore("face", (100, 0, 0), 10, 12)) == pytest.approx(cylinder(10, 12) / 2, rel=1e-9)


def test_a_groove_that_runs_out_counts_inside_only() -> None:
    plan = ((-50.0, 280.0), (650.0, 280.0), (650.0, 284.0), (-50.0, 284.0))
    groove = Groove(part="panel", surface="face", polygon=plan, depth=8, path=(), joint="")
    assert taken(grooves=(groove,)) == pytest.approx(600 * 4 * 8)


def test_a_groove_in_an_edge() -> None:
    plan = ((0.0, -11.0), (600.0, -11.0), (600.0, -7.0), (0.0, -7.0))
    groove = Groove(part="panel", surface="edge:0", polygon=plan, depth=8, path=(), joint="")
    assert taken(grooves=(groove,)) == pytest.approx(600 * 4 * 8)


def test_two_equal_crossed_bores() -> None:
    """Source: the common part of two equal crossed cylinders is 16·r³/3 (Archimedes)."""
    found = taken(bore("edge:0", (100, 0, -9), 8, 200), bore("edge:3", (0, 100, -9), 8, 200))
    expected = 2 * cylinder(8, 200) - 16 * 4**3 / 3
    assert found == pytest.approx(expected, rel=1e-9)


def test_three_equal_crossed_bores() -> None:
    """Source: the common part of three equal crossed cylinders is 8·(2 − √2)·r³."""
    thick = Part(
        name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=40.0,
        outline=((0, 0), (60, 0), (60, 60), (0, 60)),
    )  # fmt: skip
    bores = (
        bore("edge:0", (30, 0, -20), 8, 60, True),
        bore("edge:3", (0, 30, -20), 8, 60, True),
        bore("face", (30, 30, 0), 8, 40, True),
    )
    whole = 60 * 60 * 40.0
    pairs, all_three = 3 * 16 * 4**3 / 3, 8 * (2 - math.sqrt(2)) * 4**3
    expected = cylinder(8, 60) * 2 + cylinder(8, 40) - pairs + all_three
    assert whole - drilled_volume(thick, bores) == pytest.approx(expected, abs=1e-9 * whole)


@settings(max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_changes_nothing_and_more_bores_leave_less(rng: random.Random) -> None:
    bores = [
        bore("face", (rng.uniform(20, 120), rng.uniform(20, 80), 0), rng.choice((5, 8, 15)), 12)
        for _ in range(4)
    ] + [bore("edge:0", (rng.uniform(20, 120), 0, -9), 8, rng.uniform(10, 60))]
    left = drilled_volume(PANEL, bores)
    assert drilled_volume(PANEL, bores[::-1]) == pytest.approx(left, rel=1e-9)
    assert left <= drilled_volume(PANEL, bores[:-1]) + 1e-3
    apart = sum(cylinder(b.diameter, b.depth) for b in bores)
    assert WHOLE - left <= apart + 1e-3


def test_hundreds_of_bores_in_one_place_are_no_work_without_end() -> None:
    """Each for itself, in all no more than the box round them: 255 × 5 mm bores in 61 × 5 × 12."""
    many = [bore("face", (100 + 0.22 * n, 150, 0), 5, 12) for n in range(255)]
    assert taken(*many) == pytest.approx((254 * 0.22 + 5) * 5 * 12, rel=1e-9)
    apart = [bore("face", (20 + 4.9 * n, 150, 0), 5, 12) for n in range(100)]
    assert taken(*apart) == pytest.approx(100 * cylinder(5, 12), rel=1e-9)
    # As they are up to two dozen, the overlaps count once.
    assert taken(*apart[:24]) < 24 * cylinder(5, 12)


def test_integrals_with_kinks() -> None:
    assert integrate(lambda x: np.abs(x - 0.3), [0, 1], 1e-12) == pytest.approx(0.29, abs=1e-11)
    half_disc = integrate(lambda x: np.sqrt(np.maximum(1 - x * x, 0)), [-1, 1], 1e-13)
    assert half_disc == pytest.approx(math.pi / 2, abs=1e-12)
    assert integrate(lambda x: x, [2, 2], 1e-9) == 0
