"""Things beside a drawing: off the drawing, off each other, near what they belong to."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Circle
from kdkit.illustrate.paper.ground import sides_of
from kdkit.illustrate.paper.layout import FreePlaces, Placed, Thing, text_width

Loop = list[Vec2]

DRAWN: Loop = [(0.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0)]


def blank(loop: Loop = DRAWN, limit: Vec2 = (178.0, 140.0)) -> FreePlaces:
    xs, ys = [p[0] for p in loop], [p[1] for p in loop]
    return FreePlaces.over(
        (min(xs), min(ys), max(xs), max(ys)),
        limit,
        areas=sides_of([loop]),
        lines=sides_of([[*loop, loop[0]]], closed=False),
    )


def put(paper: FreePlaces, thing: Thing) -> Placed:
    placed = paper.find(thing)
    assert placed is not None
    paper.put(placed)
    return placed


sizes = st.tuples(st.floats(8, 36), st.floats(8, 36))
points = st.tuples(st.floats(2, 78), st.floats(2, 58))


@settings(deadline=None, max_examples=40, derandomize=True)
@given(many=st.lists(st.tuples(sizes, points), min_size=1, max_size=5))
def test_boxes_are_disjoint_off_the_drawing_and_within_the_limit(
    many: list[tuple[Vec2, Vec2]],
) -> None:
    paper = blank()
    boxes = []
    for (width, height), anchor in many:
        placed = paper.find(Thing(width=width, height=height, anchors=(anchor,)))
        if placed is not None:
            paper.put(placed)
            boxes.append(box(*placed.box))
    drawn = box(0, 0, 80, 60)
    for n, one in enumerate(boxes):
        assert one.intersection(drawn).area == 0
        assert not any(one.intersects(other) for other in boxes[:n])
    for placed in paper.placed:
        if not placed.crosses:
            line = LineString(placed.leader)
            for other, area in zip(paper.placed, boxes, strict=True):
                assert other is placed or line.intersection(area.buffer(-0.5)).length == 0
    x0, y0, x1, y1 = paper.bounds
    assert x1 - x0 <= 178 + 1e-6
    assert y1 - y0 <= 140 + 1e-6


def test_a_thing_stands_on_the_side_of_its_anchor() -> None:
    placed = put(blank(), Thing(width=20, height=20, anchors=((78.0, 30.0),)))
    assert placed.box[0] > 80


def test_a_free_bay_inside_the_drawing_is_used() -> None:
    bay: Loop = [
        (0.0, 0.0),
        (40.0, 0.0),
        (40.0, 50.0),
        (90.0, 50.0),
        (90.0, 0.0),
        (100.0, 0.0),
        (100.0, 100.0),
        (0.0, 100.0),
    ]
    placed = put(blank(bay), Thing(width=24, height=24, anchors=((60.0, 52.0),)))
    assert 40 < placed.box[0] < placed.box[2] < 90
    assert placed.box[3] < 50


def test_a_thing_that_has_no_room_gets_no_place() -> None:
    paper = blank(limit=(90.0, 66.0))
    assert paper.find(Thing(width=30, height=30, anchors=((40.0, 30.0),))) is None


def test_a_leader_starts_at_the_balloon_and_ends_short_of_the_ring() -> None:
    placed = put(
        blank(), Thing(width=7, height=7, anchors=((40.0, 30.0),), radius=3.5, short_of=2.0)
    )
    assert math.dist(placed.hub, placed.leader[0]) == pytest.approx(3.5)
    assert math.dist((40.0, 30.0), placed.leader[1]) == pytest.approx(2.0)


def test_a_leader_goes_round_a_ring() -> None:
    """Straight to the right lies another's ring, so the thing goes elsewhere."""
    free = put(blank(), Thing(width=8, height=8, anchors=((74.0, 30.0),)))
    assert free.box[0] > 80
    assert abs(free.centre[1] - 30) < 12
    paper = blank()
    paper.bar([Circle(centre=(83.0, y), radius=3.0, pen="leader") for y in range(14, 48, 3)])
    placed = put(paper, Thing(width=8, height=8, anchors=((74.0, 30.0),)))
    assert not placed.crosses
    line = LineString(placed.leader)
    assert all(line.distance(LineString([(83, y), (83, y + 0.1)])) > 3 for y in range(14, 48, 3))


def test_the_caption_is_on_the_far_side_of_the_window() -> None:
    paper = blank()
    below = put(paper, Thing(width=30, height=37, anchors=((40.0, 58.0),), hub=(0.0, 3.5)))
    assert below.centre[1] > 60
    assert below.hub[1] < below.centre[1]
    above = put(paper, Thing(width=30, height=37, anchors=((40.0, 2.0),), hub=(0.0, 3.5)))
    assert above.centre[1] < 0
    assert above.hub[1] > above.centre[1]


def test_the_same_wish_gives_the_same_place() -> None:
    things = [Thing(width=6, height=4, anchors=((n * 9.0, 30.0),)) for n in range(8)]
    one, other = blank(), blank()
    assert [put(one, t) for t in things] == [put(other, t) for t in things]


def test_wider_text_takes_more_room() -> None:
    assert text_width("8 ×", 3.5) < text_width("16 ×", 3.5)
