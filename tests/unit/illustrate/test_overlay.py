from __future__ import annotations

import math

import pytest
import shapely

from kdkit.illustrate.overlay import intersect, join, subtract


def square(x: float, y: float, side: float) -> shapely.Polygon:
    return shapely.box(x, y, x + side, y + side)


def test_pairs_are_cut_and_shared_one_by_one() -> None:
    first = [square(0, 0, 10), square(0, 0, 10)]
    second = [square(5, 0, 10), square(20, 0, 10)]
    assert [s.area for s in intersect(first, second)] == pytest.approx([50, 0])
    assert [s.area for s in subtract(first, second)] == pytest.approx([50, 100])


def test_touching_borders_leave_no_lines() -> None:
    corner = shapely.Polygon([(10, 0), (20, 0), (20, 20), (5, 20), (5, 10), (10, 10)])
    (shared,) = intersect([square(0, 0, 10)], [corner])
    assert shared.is_empty
    ring = shapely.union_all([square(0, 0, 10), shapely.LineString([(20, 0), (30, 0)])])
    (left,) = subtract([ring], [square(5, 0, 10)])
    assert left.area == pytest.approx(50)
    assert join([ring]).geom_type == "Polygon"


def test_nothing_is_lost_when_borders_run_within_rounding() -> None:
    # Rows of rhombs that share slanting borders, their corners worked out in different ways.
    slope = (math.cos(0.3), math.sin(0.3))
    rhombs = []
    for n in range(30):
        at = [(n * 0.1 * 3.7 * slope[0], n * 3.7 * 0.1 * slope[1] + dy) for dy in (0, 5)]
        to = [((n + 1) * 0.37 * slope[0], (n + 1) * 0.37 * slope[1] + dy) for dy in (5, 0)]
        rhombs.append(shapely.Polygon([*at, *to]))
    whole = join(rhombs)
    assert whole.area == pytest.approx(sum(r.area for r in rhombs), rel=1e-4)
    assert join([whole, *rhombs]).area == pytest.approx(whole.area, rel=1e-4)


def test_nothing_to_do_gives_nothing() -> None:
    assert len(intersect([], [])) == 0
    assert len(subtract([], [])) == 0
    assert join([]).is_empty
