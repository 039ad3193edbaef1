from __future__ import annotations

import math
import pathlib
import re
from collections.abc import Callable

import numpy as np
import pytest
import shapely

import kdkit
from kdkit.areas import GRID, _mended, intersect, join, rest_of, shared, subtract, together


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


BOW_TIE = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
"""A border that crosses itself, as a sliver's may that is seen from the side."""


@pytest.mark.parametrize("work", [shared, rest_of], ids=["shared", "rest_of"])
def test_a_border_that_crosses_itself_is_mended_and_not_refused(
    work: Callable[[shapely.Polygon, shapely.Polygon], shapely.Geometry],
) -> None:
    upper = shapely.box(0, 5, 20, 20)
    with pytest.raises(shapely.errors.GEOSException):
        shapely.intersection(BOW_TIE, upper)
    assert work(BOW_TIE, upper).area == pytest.approx(25)
    (paired,) = intersect([BOW_TIE], [upper])
    assert paired.area == pytest.approx(25)


def test_a_union_takes_what_crosses_itself_and_loses_nothing() -> None:
    squares = [square(n * (1 + 1e-12), 0, 1) for n in range(20)]
    assert together(squares).area == pytest.approx(20, rel=1e-9)
    whole = together([BOW_TIE, square(20, 0, 10)])
    assert whole.area == pytest.approx(150)
    assert join([BOW_TIE, shapely.box(0, 0, 10, 10)]).area == pytest.approx(100)
    assert together([]).is_empty


def test_areas_are_cut_and_joined_in_one_place() -> None:
    """Only the check of a certificate does its own: it shares no code on purpose."""
    calls = re.compile(
        r"shapely\.(union_all|unary_union|intersection|difference)\("
        r"|(?<!sections)\.(intersection|difference|symmetric_difference)\("
    )
    package = pathlib.Path(kdkit.__file__).parent
    allowed = {
        "areas.py",
        "plan/verify/meeting.py",
        "plan/verify/pieces.py",
        "illustrate/annotation/travel_arrows.py",
    }
    found = {
        str(module.relative_to(package))
        for module in package.rglob("*.py")
        if calls.search(module.read_text(encoding="utf-8"))
    }
    assert found <= allowed


def test_a_sliver_that_folds_onto_itself_is_cut_as_the_area_it_is() -> None:
    """Made valid it is an area with a line, which the library's overlay refuses."""
    folded = shapely.Polygon([(0, 0), (4, 0), (4, 4), (0, 4), (0, 0), (9, 0), (0, 0)])
    assert shapely.make_valid(folded).geom_type == "GeometryCollection"
    mended = _mended(folded)
    assert mended.area == pytest.approx(16)
    assert mended.geom_type in ("Polygon", "MultiPolygon")
    one, two = (np.array([s], dtype=object) for s in (folded, shapely.box(2, 0, 6, 4)))
    assert _mended(one)[0].area == pytest.approx(16)
    (left,) = shapely.difference(_mended(one), _mended(two), grid_size=GRID)
    assert left.area == pytest.approx(8)
