"""Hardware is drawn at its true size."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from kdkit.catalogue.entries import Item, Piece
from kdkit.illustrate.figures.item_figure import BETWEEN, MARGIN, draw_hardware, draw_item
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line, Text
from kdkit.schedule.schedules import HardwareLine
from tests.cabinets import built_in

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


def lines_of(*items: str) -> dict[str, Figure]:
    catalogue = built_in()
    lines = [
        HardwareLine(
            number=n,
            item=key,
            title="",
            size="",
            quantity=1,
            per_step={},
            per_joint={},
            mass_g=1.0,
            workshop=0,
            supplied=True,
        )
        for n, key in enumerate(items, start=1)
    ]
    schedules = SimpleNamespace(hardware=tuple(lines))
    joinery = SimpleNamespace(fittings={})
    return dict(draw_hardware(catalogue, joinery, schedules))  # type: ignore[arg-type]


def told(figure: Figure) -> list[str]:
    return [p.text for p in figure.primitives if isinstance(p, Text)]


def test_items_that_look_alike_say_in_what_they_differ() -> None:
    figures = lines_of("screw-3.5x13-pan", "screw-3.5x10-pan", "dowel-8x35")
    lengths = {}
    for key in ("screw-3.5x13-pan", "screw-3.5x10-pan"):
        (length,) = told(figures[f"item-{key}"])
        pieces = built_in().items[key].pieces
        assert float(length) == max(p.z1 for p in pieces) - min(p.z0 for p in pieces)
        (line,) = [
            p
            for p in figures[f"item-{key}"].primitives
            if isinstance(p, Line)
            and p.pen == "dimension"
            and len({round(y, 6) for _, y in p.points}) == 1
        ]
        lengths[key] = abs(line.points[1][0] - line.points[0][0])
        assert lengths[key] == pytest.approx(float(length))
    assert told(figures["item-dowel-8x35"]) == []
    assert told(lines_of("screw-3.5x13-pan")["item-screw-3.5x13-pan"]) == []


def test_a_look_is_drawn_at_true_size_from_above() -> None:
    """The bracket's plate is 40 × 20; from its side view on it is seen smaller."""
    figure = draw_item(built_in().items["restraint-bracket"], turned=False)
    wide, high = extent(figure, up_to=MARGIN + 40.5)
    assert wide == pytest.approx(40.0, abs=0.1)
    assert high == pytest.approx(20.0 + BETWEEN + 2.0, abs=0.1)
