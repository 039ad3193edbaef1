"""Nothing lies over anything else in any figure of the examples and the starters."""

from __future__ import annotations

import pathlib

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from kdkit.illustrate import FigureBox, Sketches, sketch_figures
from kdkit.illustrate.composition.attempt import Attempt
from kdkit.illustrate.composition.compose import largest
from kdkit.illustrate.paper.figure import Area
from kdkit.pipeline import Request, check

ROOT = pathlib.Path(__file__).parents[4]
PRODUCTS = [
    ("examples/bookcase.yaml", None),
    ("examples/bookcase.yaml", "narrow"),
    ("examples/low-cabinet.yaml", None),
    ("examples/hall-bench.yaml", None),
    ("kdkit/cli/starters/cabinet.yaml", None),
    ("kdkit/cli/starters/frame.yaml", None),
]


@pytest.fixture(scope="module", params=PRODUCTS, ids=lambda p: f"{pathlib.Path(p[0]).stem}-{p[1]}")
def sketches(request: pytest.FixtureRequest) -> Sketches:
    file, variant = request.param
    r = check(Request(file=ROOT / file, variant=variant)).results
    assert r is not None
    return sketch_figures(r.resolved, r.assembly, r.joinery, r.catalogue, r.plan, r.schedules)


def composed(sketches: Sketches) -> list[tuple[str, Attempt]]:
    found = []
    for name, sketch in sketches.steps.items():
        if sketch.unplaced is None:
            continue
        wish = sketches.wishes[name]
        for height in (wish.least, wish.most):
            room = FigureBox(width=178.0, height=height)
            figure = largest(sketches.subject, sketch.unplaced, room, sketches.style.margin)
            found.append((f"{name} at {height:.0f} mm", figure))
    return found


def test_no_label_detail_arrow_or_leader_lies_on_another(sketches: Sketches) -> None:
    """Boxes are disjoint and off the arrows; leaders cross no box, ring or other leader."""
    for name, figure in composed(sketches):
        boxes = [box(*placed.box) for placed in figure.free.placed]
        lines = [
            LineString(placed.leader) if placed.leader else None for placed in figure.free.placed
        ]
        arrows = [Polygon(s.outer).buffer(0) for s in figure.over if isinstance(s, Area)]
        rings = [Point(at).buffer(radius) for at, radius in figure.spots]
        for n, (one, line) in enumerate(zip(boxes, lines, strict=True)):
            assert not any(one.intersects(other) for other in boxes[:n]), name
            assert not any(one.intersects(arrow) for arrow in arrows), name
            assert not any(one.intersects(ring) for ring in rings), name
            if line is None:
                continue
            for m, (other, leader) in enumerate(zip(boxes, lines, strict=True)):
                if m != n:
                    assert not line.intersects(other), name
                    assert leader is None or not line.crosses(leader), name
            own = figure.free.placed[n].anchor
            assert not any(
                line.intersects(ring.buffer(-0.5))
                for ring, (at, _) in zip(rings, figure.spots, strict=True)
                if at != own
            ), name


def test_no_letter_lies_on_the_drawing(sketches: Sketches) -> None:
    for name, figure in composed(sketches):
        areas = [
            Polygon(region.outer, region.holes).buffer(0)
            for drawing in figure.finish().drawings
            for region in drawing.regions
            if not region.is_mark
        ]
        for placed in figure.free.placed:
            label = box(*placed.box)
            assert not any(label.intersects(area) for area in areas), name
