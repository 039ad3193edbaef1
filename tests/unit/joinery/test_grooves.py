"""Grooves for parts that stand in others."""

from __future__ import annotations

import pytest

from kdkit.frames import Vec2
from tests.boxes import board
from tests.cabinets import joint, place, try_to_place, use

T = 18.0


def span(polygon: tuple[Vec2, ...], axis: int) -> tuple[float, float]:
    values = [p[axis] for p in polygon]
    return (round(min(values), 6), round(max(values), 6))


def test_a_groove_that_runs_out_and_one_that_stops() -> None:
    side = board("side", (0, 0, 0), (T, 300, 800))
    through = board("back", (T - 7, 280, 0), (300, 284, 800))
    joinery, _ = place([side, through], [joint("back", "side", use("back-in-groove"))])
    (groove,) = joinery.grooves
    # side: panel x runs back, y up
    assert groove.surface == "face"
    assert groove.depth == pytest.approx(8)
    assert span(groove.polygon, 0) == (282 - 2.15, 282 + 2.15)
    assert span(groove.polygon, 1) == (0, 800)

    stopped = board("back", (T - 7, 280, 100), (300, 284, 700))
    joinery, _ = place([side, stopped], [joint("back", "side", use("back-in-groove"))])
    assert span(joinery.grooves[0].polygon, 1) == (99, 701)

    nearly = board("back", (T - 7, 280, 0.5), (300, 284, 700))
    joinery, _ = place([side, nearly], [joint("back", "side", use("back-in-groove"))])
    assert span(joinery.grooves[0].polygon, 1)[0] == pytest.approx(0, abs=0.03)


def test_a_groove_runs_out_exactly_wherever_its_panel_stands() -> None:
    """Thirds and far places must not leave a skin of arithmetic at the groove's end."""
    for n in range(60):
        x = 700 + n * 100 / 3
        wide = 1100 / 3 - n / 7
        near = board("near", (x, 0, 0), (x + wide, 15, 160))
        base = board("base", (x - 5, 10, 12), (x + wide + 5, 400, 18))
        joinery, _ = place([near, base], [joint("base", "near", use("back-in-groove"))])
        (groove,) = joinery.grooves
        assert any(
            {p[axis] for p in groove.polygon} == {p[axis] for p in near.outline} for axis in (0, 1)
        )


def test_a_groove_has_no_fasteners_and_keeps_its_joint() -> None:
    side = board("side", (0, 0, 0), (T, 300, 800))
    back = board("back", (T - 7, 280, 0), (300, 284, 800))
    joinery, _ = place([side, back], [joint("back", "side", use("back-in-groove"))])
    assert joinery.fasteners == ()
    (placed,) = joinery.joints
    assert placed.fittings == ("back-in-groove",)
    assert joinery.grooves[0].joint == placed.name
    assert (placed.butting, placed.receiving) == ("back", "side")


def test_a_housed_shelf() -> None:
    # Source: housing 5 deep in 16: a shelf of 608 + 2 x 5 = 618, common practice.
    left = board("left", (0, 0, 0), (16, 300, 800))
    right = board("right", (624, 0, 0), (640, 300, 800))
    shelf = board("shelf", (11, 0, 400), (629, 300, 416))
    assert max(x for x, _ in shelf.outline) == 618
    joinery, _ = place(
        [left, right, shelf],
        [joint("shelf", "left", use("housed-glued")), joint("shelf", "right", use("housed-glued"))],
    )
    assert [g.depth for g in joinery.grooves] == pytest.approx([5, 5])
    assert {g.surface for g in joinery.grooves} == {"face", "back"}
    for groove in joinery.grooves:
        assert span(groove.polygon, 1) == (400 - 0.05, 416 + 0.05)
        assert span(groove.polygon, 0) == (0, 300)


def test_a_panel_in_the_edge_of_a_rail() -> None:
    """The groove lies in the edge: its plan is measured along the edge and from the face."""
    rail = board("rail", (0, 0, 0), (500, 20, 60))
    panel = board("panel", (50, 7, 52), (450, 13, 400))
    joinery, _ = place([rail, panel], [joint("panel", "rail", use("back-in-groove"))])
    (groove,) = joinery.grooves
    assert groove.surface.startswith("edge:")
    assert groove.depth == pytest.approx(9)
    low, high = span(groove.polygon, 0)
    assert high - low == pytest.approx(402)
    assert span(groove.polygon, 1) == (-10 - 3.15, -10 + 3.15)


def test_a_groove_deeper_than_the_board_is_a_problem() -> None:
    side = board("side", (0, 0, 0), (12, 300, 800))
    back = board("back", (0.5, 280, 0), (300, 284, 800))
    joinery, problems, _ = try_to_place(
        [side, back], [joint("back", "side", use("back-in-groove"))]
    )
    assert joinery is None
    assert [p.code for p in problems] == ["fitting-number"]


def test_a_rail_let_in_flat() -> None:
    """The face of a rail stands 5 in the back of a side: a pocket as wide as the rail."""
    side = board("side", (0, 0, 0), (T, 300, 800))
    rail = board("rail", (T - 5, 100, 300), (T + 13, 600, 360))
    joinery, problems, _ = try_to_place([side, rail], [joint("rail", "side", use("housed"))])
    assert joinery is not None, problems
    (groove,) = joinery.grooves
    assert groove.depth == pytest.approx(5)
    assert span(groove.polygon, 1) == pytest.approx((300 - 0.05, 360 + 0.05))
    assert span(groove.polygon, 0) == pytest.approx((100, 300))
