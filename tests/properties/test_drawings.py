"""Laws of drawings, over boxes on a coarse grid: flush, touching and cut into each other.

Unions here are taken on a fine grid: in floating point the geometry library may lose
an area whose border runs within rounding of another's.
"""

from __future__ import annotations

import itertools
import math

import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kdkit.frames import Vec3
from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.bodies.parts import box_body
from kdkit.illustrate.hidden_lines.drawing import Drawing, draw_bodies
from kdkit.illustrate.hidden_lines.front_faces import find_front_faces
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View
from kdkit.illustrate.hidden_lines.visible_surfaces import find_visible_surfaces

GRID = 20.0


Box = tuple[tuple[int, int, int], tuple[int, int, int]]  # low corner and size, in GRID

corners = st.tuples(*[st.integers(0, 5)] * 3)
sizes = st.tuples(*[st.integers(1, 4)] * 3)
boxes = st.lists(st.tuples(corners, sizes), min_size=1, max_size=6)


def bodies_of(said: list[Box]) -> list[Body]:
    bodies = []
    for n, (low, size) in enumerate(said):
        start: Vec3 = (low[0] * GRID, low[1] * GRID, low[2] * GRID)
        far = (start[0] + size[0] * GRID, start[1] + size[1] * GRID, start[2] + size[2] * GRID)
        bodies.append(box_body(f"b{n}", start, far))
    return bodies


views = st.builds(View, viewpoint=st.sampled_from(list(VIEWPOINTS.values())))


def drawn_length(drawing: Drawing) -> float:
    total = 0.0
    for stroke in drawing.strokes:
        points = [*stroke.points, *([stroke.points[0]] if stroke.closed else [])]
        total += sum(math.dist(p, q) for p, q in itertools.pairwise(points))
    return total


@settings(max_examples=150, deadline=None)
@given(boxes, views)
def test_every_spot_of_the_silhouette_is_seen_exactly_once(said: list[Box], view: View) -> None:
    scene = find_front_faces(bodies_of(said), view)
    surfaces = find_visible_surfaces(scene).seen
    silhouette = shapely.union_all(list(scene.shapes), grid_size=1e-6)
    assert sum(s.area for s in surfaces) == pytest.approx(silhouette.area, rel=1e-6, abs=0.05)
    assert shapely.union_all(list(surfaces), grid_size=1e-6).area == pytest.approx(
        silhouette.area, rel=1e-6, abs=0.05
    )


@settings(max_examples=80, deadline=None)
@given(boxes, views, st.randoms(use_true_random=False))
def test_the_order_of_bodies_changes_no_line(said: list[Box], view: View, random: object) -> None:
    bodies = bodies_of(said)
    shuffled = sorted(bodies, key=lambda _: random.random())  # type: ignore[attr-defined]
    one, other = draw_bodies(bodies, view), draw_bodies(shuffled, view)
    assert drawn_length(one) == pytest.approx(drawn_length(other), abs=0.1)


@settings(max_examples=80, deadline=None)
@given(boxes, views, st.tuples(*[st.floats(-500, 500)] * 3))
@example(  # two flush boxes that overlap, their common face partly behind a third
    said=[((1, 0, 0), (4, 1, 3)), ((2, 2, 4), (1, 4, 1)), ((2, 4, 4), (1, 4, 1))],
    view=View(viewpoint=VIEWPOINTS["front-right-below"]),
    by=(0.0, 1.0, 0.0),
)
def test_moving_everything_changes_nothing(said: list[Box], view: View, by: Vec3) -> None:
    bodies = bodies_of(said)
    here = draw_bodies(bodies, view)
    there = draw_bodies([body.moved(by) for body in bodies], view)
    assert drawn_length(here) == pytest.approx(drawn_length(there), abs=0.1)


@settings(max_examples=80, deadline=None)
@given(boxes, views)
def test_no_line_is_drawn_twice(said: list[Box], view: View) -> None:
    drawing = draw_bodies(bodies_of(said), view)
    sides = []
    for stroke in drawing.strokes:
        points = [*stroke.points, *([stroke.points[0]] if stroke.closed else [])]
        sides += [shapely.LineString(pair) for pair in itertools.pairwise(points)]
    once = shapely.union_all(sides, grid_size=1e-3).length
    assert drawn_length(drawing) == pytest.approx(once, abs=0.1)


@settings(max_examples=80, deadline=None)
@given(boxes, views)
def test_the_border_of_the_silhouette_is_drawn(said: list[Box], view: View) -> None:
    scene = find_front_faces(bodies_of(said), view)
    # Closing by a hair removes the cracks that the union leaves between touching faces.
    silhouette = shapely.union_all(list(scene.shapes), grid_size=1e-6)
    closed = silhouette.buffer(1e-3, join_style="mitre").buffer(-1e-3, join_style="mitre")
    border = closed.boundary
    outline = [
        shapely.LinearRing(s.points) if s.closed else shapely.LineString(s.points)
        for s in draw_bodies(bodies_of(said), view).strokes
        if s.kind == "outline"
    ]
    drawn = shapely.union_all(outline).buffer(0.05)
    assert border.difference(drawn).length < 0.1
