"""Labels: their boxes are disjoint and off the drawing, whatever is asked for."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from kdkit.illustrate.labels import Label, place_labels, text_width

points = st.tuples(st.floats(0, 120), st.floats(0, 80))


@settings(deadline=None, max_examples=30, derandomize=True)
@given(anchors=st.lists(points, min_size=1, max_size=14), size=st.floats(3, 12))
def test_placed_boxes_are_disjoint_and_off_the_drawing(
    anchors: list[tuple[float, float]], size: float
) -> None:
    drawn = box(10, 10, 60, 50).union(box(70, 20, 100, 70))
    labels = [
        Label(key=f"{n:02}", anchors=(anchor,), width=size, height=5.0)
        for n, anchor in enumerate(anchors)
    ]
    placed = place_labels(labels, drawn, bounds=(-10, -10, 130, 90))
    assert [p.key for p in placed] == [label.key for label in labels]
    boxes = [box(*p.box) for p in placed]
    for n, one in enumerate(boxes):
        assert not one.intersects(drawn)
        assert not any(one.intersects(other) for other in boxes[:n])
    for n, label in enumerate(placed[:6] if len(placed) <= 6 else ()):
        line = LineString(label.leader)
        assert not any(line.intersects(other) for m, other in enumerate(boxes) if m != n)


def test_a_leader_ends_at_its_anchor() -> None:
    (placed,) = place_labels(
        [Label(key="A", anchors=((5.0, 5.0),), width=7, height=7, radius=3.5)], box(0, 0, 10, 10)
    )
    assert placed.leader[-1] == (5.0, 5.0)
    start, centre = placed.leader[0], placed.centre
    assert ((start[0] - centre[0]) ** 2 + (start[1] - centre[1]) ** 2) ** 0.5 == pytest.approx(3.5)


def test_the_same_wish_gives_the_same_place() -> None:
    labels = [Label(key=str(n), anchors=((n * 3.0, 4.0),), width=6, height=4) for n in range(8)]
    drawn = box(0, 0, 30, 8)
    assert place_labels(labels, drawn) == place_labels(labels, drawn)


def test_equal_keys_are_refused() -> None:
    label = Label(key="A", anchors=((0.0, 0.0),), width=1, height=1)
    with pytest.raises(ValueError, match="different keys"):
        place_labels([label, label], box(0, 0, 1, 1))


def test_wider_text_takes_more_room() -> None:
    assert text_width("8 ×", 3.5) < text_width("16 ×", 3.5)
