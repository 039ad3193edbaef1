"""Surfaces and depths of a part as it is drilled."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kdkit.joinery.members import Member
from kdkit.model.resolved import RoundCutOut
from tests.boxes import board

# 400 x 300, 18 thick; lying, so that panel and product axes are the same.
PLATE = board("plate", (0, 0, -18), (400, 300, 0))
DOWN, UP = (0.0, 0.0, -1.0), (0.0, 0.0, 1.0)
RIGHT, LEFT = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)


def test_surfaces() -> None:
    member = Member.of(PLATE)
    assert member.surface_at((100, 100, 0), DOWN) == "face"
    assert member.surface_at((100, 100, -18), UP) == "back"
    assert member.surface_at((0, 100, -9), RIGHT) == "edge:3"
    assert member.surface_at((400, 100, -9), LEFT) == "edge:1"
    assert member.surface_at((100, 0, -9), (0.0, 1.0, 0.0)) == "edge:0"


@pytest.mark.parametrize(
    ("mouth", "into"),
    [
        ((100, 100, 0), UP),  # out of the board
        ((100, 100, -9), DOWN),  # inside it
        ((500, 100, 0), DOWN),  # beside it
        ((0, 100, -9), LEFT),
        ((0, 100, -30), RIGHT),
        ((0, 400, -9), RIGHT),
    ],
)
def test_a_mouth_on_no_surface(
    mouth: tuple[float, float, float], into: tuple[float, float, float]
) -> None:
    assert Member.of(PLATE).surface_at(mouth, into) is None


def test_an_opening_is_no_surface() -> None:
    square = ((50.0, 50.0), (150.0, 50.0), (150.0, 150.0), (50.0, 150.0))
    hole = RoundCutOut(centre=(300.0, 150.0), diameter=60.0)
    member = Member.of(replace(PLATE, cutouts=(square,), round_cutouts=(hole,)))
    assert member.surface_at((100, 100, 0), DOWN) is None
    assert member.surface_at((310, 150, 0), DOWN) is None
    assert member.surface_at((200, 100, 0), DOWN) == "face"
    # From the edge, the board ends where the opening begins.
    assert member.depth_through((0, 100, -9), RIGHT) == pytest.approx(50)
    assert member.depth_through((0, 150, -9), RIGHT) == pytest.approx(50)


def test_depth_through() -> None:
    member = Member.of(PLATE)
    assert member.depth_through((100, 100, 0), DOWN) == 18
    assert member.depth_through((0, 100, -9), RIGHT) == pytest.approx(400)
    slant = (0.6, 0.0, -0.8)
    assert member.depth_through((100, 100, 0), slant) == pytest.approx(18 / 0.8)
    assert member.depth_through((395, 100, 0), slant) == pytest.approx(5 / 0.6)


def test_depth_through_a_notched_board_ends_at_the_notch() -> None:
    outline = (
        (0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (200.0, 300.0), (200.0, 200.0), (0.0, 200.0),
    )  # fmt: skip
    member = Member.of(replace(PLATE, outline=outline))
    assert member.depth_through((400, 250, -9), LEFT) == pytest.approx(200)
    assert member.depth_through((400, 100, -9), LEFT) == pytest.approx(400)


def test_nearest_in() -> None:
    assert Member.of(PLATE).nearest_in((450, 120)) == (400, 120)
    assert Member.of(PLATE).nearest_in((450, 350)) == (400, 300)
