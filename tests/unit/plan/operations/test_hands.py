"""What hands carry and how many persons that takes, against figures worked by hand."""

from __future__ import annotations

import math

import pytest

from kdkit.plan import make_plan
from kdkit.plan.choice.balance import depth_inside, hull_of, lean_deg, push_to_tip, stands
from kdkit.plan.operations.hands import (
    MOST,
    person_mass,
    persons_for,
    team_mass,
    tilting_mass,
    zones_between,
)
from kdkit.plan.plan import OperationKind, Plan
from tests.boxes import board, make


def test_an_even_carcass_tipped_up_by_its_far_end_takes_half() -> None:
    """By hand: 80 kg, centre in the middle, hands at the end: 40 kg; lifted clear all of it."""
    assert tilting_mass(80.0, 1000.0, 2000.0) == pytest.approx(40.0)
    assert tilting_mass(80.0, 500.0, 2000.0) == pytest.approx(20.0)
    assert tilting_mass(80.0, 0.0, 0.0) == 80.0


def test_the_filter_is_the_mean_of_its_two_columns_and_the_least_of_the_zones_passed() -> None:
    """By hand from the table: (25 + 16) / 2 from knuckle to elbow, (10 + 7) / 2 below."""
    close = [person_mass([zone], extended=False) for zone in range(5)]
    far = [person_mass([zone], extended=True) for zone in range(5)]
    assert close == [8.5, 16.5, 20.5, 16.5, 8.5]
    assert far == [4.0, 8.5, 12.5, 8.5, 4.0]
    assert list(zones_between(100, 900)) == [0, 1, 2]
    assert person_mass(zones_between(100, 900), extended=False) == 8.5
    assert list(zones_between(750, 1050)) == [1, 2]
    assert list(zones_between(751, 1401)) == [2, 3, 4]
    assert list(zones_between(250, 250)) == [0]


@pytest.mark.parametrize(
    ("mass", "persons"),
    [(12.0, 1), (12.1, 2), (16.0, 2), (16.1, 3), (18.0, 3), (18.1, 4), (24.0, 4), (24.1, 5)],
)
def test_team_rule(mass: float, persons: int) -> None:
    """By hand for 12 kg each: two carry 2/3 of 24, three half of 36, four half of 48."""
    assert persons_for(mass, 12.0) == persons
    assert team_mass(12.0, 2) == pytest.approx(16.0)
    assert MOST == 4


def test_leaning_and_the_push_that_tips() -> None:
    """By hand: 100 from under the centre to the edge, 567.1 high: 10 degrees; m·g·d = F·h."""
    height = 100.0 / math.tan(math.radians(10.0))
    assert lean_deg(100.0, height) == pytest.approx(10.0)
    assert lean_deg(-1.0, 500.0) < 0
    assert push_to_tip(20.0, 100.0, 392.4) == pytest.approx(50.0)
    assert stands(10.0, 50.0)
    assert not stands(9.99, 50.0)
    assert not stands(10.0, 49.9)


def test_the_nearest_tipping_line_counts() -> None:
    square = hull_of([(0, 0), (400, 0), (400, 300), (0, 300), (200, 150)])
    assert len(square) == 4
    assert depth_inside((350.0, 100.0), square) == pytest.approx(50.0)
    assert depth_inside((410.0, 100.0), square) == pytest.approx(-10.0)
    assert hull_of([(0, 0), (1, 0), (2, 0)]) == ()
    assert depth_inside((1.0, 0.0), ()) == -1.0


def test_the_height_of_the_room_is_the_diagonal() -> None:
    """By hand: a case 2131 high and 603 deep takes √(2131² + 603²) = 2215 when it is stood up."""
    made = make(
        [
            board("left", (0, 0, 0), (18, 603, 2131)),
            board("right", (1182, 0, 0), (1200, 603, 2131)),
            board("bottom", (18, 0, 0), (1182, 603, 18)),
            board("top", (18, 0, 2113), (1182, 603, 2131)),
            board("divider", (591, 0, 18), (609, 603, 2113)),
        ],
        {
            ("bottom", "left"): "cams",
            ("bottom", "right"): "cams",
            ("top", "left"): "cams",
            ("top", "right"): "cams",
            ("divider", "bottom"): "cams",
            ("divider", "top"): "cams",
        },
    )
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    (stand,) = (o for o in plan.operations if o.kind is OperationKind.STAND)
    assert stand.room == pytest.approx(2215, abs=0.5)
    assert stand.hands == pytest.approx(stand.mass / 2, rel=0.02)
    assert stand.persons > 1
