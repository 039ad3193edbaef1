"""Convex pieces: they fill the region, do not overlap and are convex."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import union_all
from shapely.geometry import Polygon

from kdkit.frames import PRODUCT, Vec2
from kdkit.geometry import ConvexPiece, convex_pieces, part_pieces
from kdkit.model.resolved import Part, RoundCutOut

L_SHAPE = ((0.0, 0.0), (10.0, 0.0), (10.0, 4.0), (3.0, 4.0), (3.0, 8.0), (0.0, 8.0))


def areas(pieces: tuple[ConvexPiece, ...]) -> float:
    return sum(Polygon(p.polygon).area for p in pieces)


def assert_fill(pieces: tuple[ConvexPiece, ...], region: Polygon) -> None:
    polygons = [Polygon(p.polygon) for p in pieces]
    assert sum(p.area for p in polygons) == pytest.approx(region.area, rel=1e-9)
    assert union_all(polygons).symmetric_difference(region).area < 1e-6 * region.area
    for polygon in polygons:
        assert polygon.exterior.is_ccw
        assert polygon.convex_hull.area == pytest.approx(polygon.area, rel=1e-9)


def test_a_rectangle_stays_as_it_is() -> None:
    ring = ((0.0, 0.0), (700.0, 0.0), (700.0, 290.0), (0.0, 290.0))
    (piece,) = convex_pieces(ring, (), -18.0, 0.0)
    assert (piece.polygon, piece.z0, piece.z1) == (ring, -18.0, 0.0)
    assert convex_pieces(tuple(reversed(ring)))[0].polygon[0] in ring


def test_a_corner_in_the_middle_of_a_side_makes_no_piece() -> None:
    (piece,) = convex_pieces(((0, 0), (5, 0), (10, 0), (10, 4), (0, 4)))
    assert len(piece.polygon) == 4


def test_a_notched_board_is_two_exact_rectangles() -> None:
    pieces = convex_pieces(L_SHAPE)
    assert len(pieces) == 2
    assert areas(pieces) == 10 * 4 + 3 * 4


def test_an_opening_leaves_four_rectangles() -> None:
    ring = ((0, 0), (10, 0), (10, 8), (0, 8))
    pieces = convex_pieces(ring, (((2, 2), (4, 2), (4, 5), (2, 5)),))
    assert len(pieces) == 4
    assert areas(pieces) == 80 - 6


def test_an_opening_that_cuts_the_outline() -> None:
    ring = ((0, 0), (10, 0), (10, 8), (0, 8))
    pieces = convex_pieces(ring, (((-2, 2), (4, 2), (4, 5), (-2, 5)),))
    assert areas(pieces) == 80 - 12


def test_a_slanted_outline_with_a_slanted_opening() -> None:
    ring = ((0, 0), (100, 0), (120, 50), (100, 100), (50, 60), (0, 100))
    opening = ((40, 10), (60, 10), (50, 30))
    pieces = convex_pieces(ring, (opening,))
    assert_fill(pieces, Polygon(ring, [opening]))


def test_round_openings_never_hold_too_much_wood() -> None:
    part = Part(
        name="p", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
        outline=((0, 0), (200, 0), (200, 200), (0, 200)),
        round_cutouts=(RoundCutOut(centre=(100, 100), diameter=60),),
    )  # fmt: skip
    pieces = part_pieces(part)
    left = areas(pieces)
    assert left <= 200 * 200 - math.pi * 30**2
    assert left == pytest.approx(200 * 200 - math.pi * 30**2, rel=2e-3)
    assert {(p.z0, p.z1) for p in pieces} == {(-18.0, 0.0)}


@given(st.lists(st.tuples(st.floats(10, 100), st.floats(0, 0.9)), min_size=3, max_size=12))
def test_star_shaped_outlines_are_filled(spokes: list[tuple[float, float]]) -> None:
    n = len(spokes)
    ring: list[Vec2] = []
    for at, (radius, lead) in enumerate(spokes):
        angle = 2 * math.pi * (at + lead * 0.9) / n
        ring.append((radius * math.cos(angle), radius * math.sin(angle)))
    region = Polygon(ring)
    if not region.is_valid or region.area < 1:
        return
    assert_fill(convex_pieces(ring), region)
