"""The raster under labels, checked against exact geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from kdkit.illustrate.paper.ground import CELL, Ground, fill_loops

turns = st.lists(st.floats(6, 24), min_size=3, max_size=12)


@settings(deadline=None, max_examples=60, derandomize=True)
@given(radii=turns, shift=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)))
def test_a_cell_is_filled_when_its_middle_lies_inside(
    radii: list[float], shift: tuple[float, float]
) -> None:
    loop = [
        (
            30 + shift[0] + r * math.cos(math.tau * n / len(radii)),
            30 + shift[1] + r * math.sin(math.tau * n / len(radii)),
        )
        for n, r in enumerate(radii)
    ]
    hole = [(28.2, 28.3), (31.7, 28.3), (31.7, 31.6), (28.2, 31.6)]
    shape = Polygon(loop).difference(Polygon(hole))
    cells = fill_loops([loop, hole], 0.0, 0.0, (60, 60))
    outside_hole = Polygon(loop).contains(Polygon(hole))
    for row, column in np.ndindex(60, 60):
        middle = Point((column + 0.5) * CELL, (row + 0.5) * CELL)
        if outside_hole and shape.boundary.distance(middle) > 1e-6:
            assert cells[row, column] == shape.contains(middle)


def test_free_boxes_are_found_and_lines_measured() -> None:
    ground = Ground.blank((0.0, 0.0, 40.0, 30.0))
    ground.fill_box(10.0, 10.0, 20.0, 15.0)

    def free_at(*box: float) -> bool:
        (alone,) = ground.free_grid(*(np.array([v]) for v in box)).ravel().tolist()
        assert alone is not ground.is_taken_in(*box)
        return bool(alone)

    assert free_at(0, 0, 9.9, 30)
    assert not free_at(0, 0, 40, 30)
    assert not free_at(19.5, 14.5, 30, 30)
    assert free_at(-50, -50, -1, -1)
    low_x, low_y = np.array([0.0, 12.0, 21.0]), np.array([0.0, 11.0])
    assert ground.free_grid(low_x, low_y, low_x + 5, low_y + 5).tolist() == [
        [True, True, True],
        [True, False, True],
    ]
    ground.fill_box(0.0, 0.0, 1.0, 1.0)
    assert not ground.free_grid(low_x, low_y, low_x + 5, low_y + 5)[0, 0]
    starts, ends = np.array([[0.0, 12.5], [0.0, 2.5]]), np.array([[40.0, 12.5], [40.0, 2.5]])
    over, free = ground.along(starts, ends, Ground.blank((0.0, 0.0, 40.0, 30.0)))
    assert over.tolist() == pytest.approx([10.0, 0.0])
    assert free.tolist() == [0.0, 0.0]


@settings(deadline=None, max_examples=60, derandomize=True)
@given(lines=st.tuples(*[st.floats(1, 39)] * 4), ways=st.tuples(*[st.floats(1, 39)] * 4))
def test_a_tight_line_bars_every_way_across_it(
    lines: tuple[float, float, float, float], ways: tuple[float, float, float, float]
) -> None:
    line = LineString([lines[:2], lines[2:]])
    way = LineString([ways[:2], ways[2:]])
    ground = Ground.blank((0.0, 0.0, 40.0, 40.0))
    ground.draw([[lines[:2], lines[2:]]], tight=True)
    over = float(ground.along(np.array([ways[:2]]), np.array([ways[2:]]))[0][0])
    if line.crosses(way) and way.length > 4:
        assert over > 0
    if line.distance(way) > 2.5 * CELL:
        assert over == 0
