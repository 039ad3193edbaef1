"""Touches on walls of openings and on round parts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.geometry.inner_touches import inner_touches
from kdkit.model.resolved import Part, RoundCutOut
from tests.boxes import board

PLATE = board("plate", (0, 0, 0), (200, 200, 18))


def rod(radius: float, turned: float = 0.0) -> Part:
    """An upright round part about (100, 100), through the plate and beyond."""
    ring = tuple(
        (
            100 + radius * math.cos(2 * math.pi * n / 48 + turned),
            100 + radius * math.sin(2 * math.pi * n / 48 + turned),
        )
        for n in range(48)
    )
    plain = board("rod", (0, 0, -50), (200, 200, 80))
    assert plain.frame.k == (0.0, 0.0, 1.0)
    return replace(plain, outline=ring, edge_sides=("",) * 48, bands=(0.0,) * 48, smooth=True)


def test_a_square_hole_holds_a_post_on_four_sides_over_the_plates_thickness() -> None:
    ring = ((80.0, 80.0), (120.0, 80.0), (120.0, 120.0), (80.0, 120.0))
    plate = replace(PLATE, cutouts=(ring,))
    post = board("post", (80, 80, -50), (120, 120, 200))
    found = inner_touches((plate, post))
    assert sorted(touch.way for touch in found) == [(-1, 0, 0), (0, -1, 0), (0, 1, 0), (1, 0, 0)]
    for touch in found:
        assert sorted({p[2] for p in touch.points}) == pytest.approx([0, 18])
        # Who leaves along the way has the wood of the other behind it.
        sign = 1 if touch.one == "post" else -1
        for p in touch.points:
            off = sum((c - 100) * w for c, w in zip(p[:2], touch.way, strict=False))
            assert sign * off == pytest.approx(-20)


@pytest.mark.parametrize("turned", [0.0, 0.03])
def test_a_rod_in_its_hole_is_held_all_round_however_its_polygon_lies(turned: float) -> None:
    plate = replace(PLATE, round_cutouts=(RoundCutOut(centre=(100.0, 100.0), diameter=50.0),))
    found = inner_touches((plate, rod(25.0, turned)))
    assert len(found) == 48
    for touch in found:
        assert touch.way[2] == 0
        assert sorted(p[2] for p in touch.points) == pytest.approx([0, 18])
    assert inner_touches((plate, rod(24.9, turned))) == ()


def test_boards_that_lie_on_each_other_touch_at_no_wall() -> None:
    holes = tuple(
        RoundCutOut(centre=(x, y), diameter=10.0) for x in range(10, 200, 15) for y in (20, 60, 100)
    )
    plate = replace(PLATE, round_cutouts=holes)
    other = replace(board("other", (0, 0, 18), (200, 200, 36)), round_cutouts=holes)
    assert inner_touches((plate, other)) == ()
