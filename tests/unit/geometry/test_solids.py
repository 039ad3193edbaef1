"""Gaps, overlaps and the box tree."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from kdkit.frames import Frame
from kdkit.geometry import gap_between, overlap_between
from kdkit.geometry.boxes import BoxTree, near_pairs
from tests.boxes import board

SIDE = board("side", (0, 0, 0), (18, 300, 600))


def test_gap_between_faces() -> None:
    shelf = board("shelf", (20.5, 0, 300), (500, 300, 318))
    assert gap_between(SIDE, shelf) == pytest.approx(2.5)
    assert gap_between(shelf, SIDE) == pytest.approx(2.5)


def test_gap_between_edges_and_corners() -> None:
    by_edge = board("far", (21, 304, 0), (400, 322, 600))
    assert gap_between(SIDE, by_edge) == pytest.approx(5)
    by_corner = board("far", (20, 301, 602), (400, 500, 620))
    assert gap_between(SIDE, by_corner) == pytest.approx(3)


def test_gap_between_crossed_boards() -> None:
    slanted = Frame((0, 100, 700), (math.sqrt(0.5), math.sqrt(0.5), 0), (0, 0, 1),
                    (math.sqrt(0.5), -math.sqrt(0.5), 0))  # fmt: skip
    crossed = board("far", (-200, 0, 0), (200, 40, 18), at=slanted)
    assert gap_between(SIDE, crossed) == pytest.approx(100)


def test_no_gap_when_they_touch_or_overlap() -> None:
    assert gap_between(SIDE, board("on", (18, 0, 0), (36, 300, 600))) == 0
    assert gap_between(SIDE, board("in", (10, 0, 0), (36, 300, 600))) == 0


def test_overlap_of_boxes() -> None:
    found = overlap_between(SIDE, board("in", (10, 250, 500), (60, 400, 700)))
    assert found.volume == pytest.approx(8 * 50 * 100)
    assert found.depth == pytest.approx(8)


def test_touching_is_no_overlap() -> None:
    assert overlap_between(SIDE, board("on", (18, 0, 0), (36, 300, 600))).volume == 0
    within = overlap_between(SIDE, board("on", (17.995, 0, 0), (36, 300, 600)))
    assert (within.volume, within.depth) == (0, 0)


def test_overlap_with_a_notched_board() -> None:
    notched = replace(
        SIDE, outline=((0, 0), (300, 0), (300, 100), (100, 100), (100, 600), (0, 600))
    )
    # the notch leaves the corner y > 100, z > 100 free
    through = board("through", (-50, 150, 150), (50, 250, 250))
    assert overlap_between(notched, through).volume == 0
    assert overlap_between(SIDE, through).volume == pytest.approx(18 * 100 * 100)


@pytest.mark.parametrize("count", [100, 300])  # all at once, and by the tree
def test_near_pairs_are_those_of_trying_all(count: int) -> None:
    rng = random.Random(7)
    low = np.array([[rng.uniform(0, 1000) for _ in range(3)] for _ in range(count)])
    size = np.array([[rng.uniform(0, 120) for _ in range(3)] for _ in range(count)])
    boxes = np.hstack([low, low + size])
    expected = [
        (n, m)
        for n in range(count)
        for m in range(n + 1, count)
        if (boxes[n, :3] - 5 <= boxes[m, 3:]).all() and (boxes[m, :3] - 5 <= boxes[n, 3:]).all()
    ]
    assert list(near_pairs(boxes, 5.0)) == expected
    assert len(expected) >= count / 10


def test_no_boxes_are_near_each_other() -> None:
    assert list(near_pairs(np.empty((0, 6)))) == []


def test_an_empty_tree() -> None:
    assert BoxTree(np.empty((0, 6))).touching(np.zeros(6)) == []
