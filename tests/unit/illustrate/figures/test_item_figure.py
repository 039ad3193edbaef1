"""Hardware is drawn at its true size."""

from __future__ import annotations

import pytest

from kdkit.catalogue.entries import Item, Piece
from kdkit.illustrate.figures.item_figure import BETWEEN, MARGIN, draw_item
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line

SCREW = Item(
    title="Chipboard screw",
    size="4 × 40",
    mass=2.5,
    drive="cross recess Z2",
    recess_z=0.0,
    pieces=(
        Piece(kind="cone", z0=-2.4, z1=0.0, d0=4.0, d1=8.0),
        Piece(kind="cylinder", z0=-36.0, z1=-2.4, d0=4.0, surface="thread"),
        Piece(kind="cone", z0=-40.0, z1=-36.0, d0=0.5, d1=4.0),
    ),
    sources=("test",),
)
DOWEL = Item(
    title="Dowel",
    size="8 × 35",
    mass=1.3,
    pieces=(Piece(kind="cylinder", z0=-25.0, z1=10.0, d0=8.0, surface="flutes"),),
    sources=("test",),
)


def extent(figure: Figure, *, up_to: float | None = None) -> tuple[float, float]:
    xs: list[float] = []
    ys: list[float] = []
    for shape in figure.primitives:
        if isinstance(shape, Area):
            points = shape.outer
        elif isinstance(shape, Line):
            points = shape.points
        elif isinstance(shape, Circle):
            (x, y), r = shape.centre, shape.radius
            points = ((x - r, y - r), (x + r, y + r))
        else:
            continue
        if up_to is not None and max(p[0] for p in points) > up_to:
            continue
        xs += [p[0] for p in points]
        ys += [p[1] for p in points]
    return max(xs) - min(xs), max(ys) - min(ys)


def test_a_dowel_is_as_long_and_wide_as_the_real_one() -> None:
    length, width = extent(draw_item(DOWEL, turned=False))
    assert length == pytest.approx(35.0, abs=0.1)
    assert width == pytest.approx(8.0, abs=0.1)


def test_the_side_view_of_a_screw_has_its_size_and_the_end_view_its_head() -> None:
    figure = draw_item(SCREW, turned=False)
    length, width = extent(figure, up_to=MARGIN + 40.0 + 0.01)
    assert length == pytest.approx(40.0, abs=0.1)
    assert width == pytest.approx(8.0, abs=0.1)
    assert figure.width == pytest.approx(2 * MARGIN + 40.0 + BETWEEN + 8.0, abs=0.1)


def test_everything_lies_inside_the_figure() -> None:
    for item in (SCREW, DOWEL):
        figure = draw_item(item, turned=True)
        for shape in figure.primitives:
            if isinstance(shape, Line):
                assert all(
                    0 <= x <= figure.width and 0 <= y <= figure.height for x, y in shape.points
                )


def test_a_turned_item_has_an_arrow_more() -> None:
    assert len(draw_item(SCREW, turned=True).primitives) > len(
        draw_item(SCREW, turned=False).primitives
    )
