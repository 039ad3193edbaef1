"""Meetings without a touch: doors before sides and between them, drawers beside carcasses."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import Frame, Vec3, add, cross, dot, scaled
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.geometry.meetings import NoMeeting, facing_meeting, hung_meeting
from kdkit.model.resolved import Part
from tests.boxes import board

SIDE = board("side", (0, 0, 0), (18, 400, 900))
RIGHT = board("right", (582, 0, 0), (600, 400, 900))
DOOR = board("door", (1.5, -18, 2), (597, 0, 898))


def met(found: Contact | NoMeeting) -> Contact:
    assert isinstance(found, Contact), found
    return found


def missed(found: Contact | NoMeeting) -> NoMeeting:
    assert isinstance(found, NoMeeting), found
    return found


def turned(part: Part, frame: Frame) -> Part:
    return replace(part, frame=frame.frame_to_outer(part.frame))


FRONT = (0.0, -1.0, 0.0)
"""Where the front of a product looks."""
QUARTER = Frame((100.0, 50.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
S = math.sqrt(0.5)
ASKEW = Frame((10.0, 20.0, 30.0), (S, S, 0.0), (-S, S, 0.0), (0.0, 0.0, 1.0))
FLAP = Frame((0.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))


def near(a: Vec3, b: Vec3) -> bool:
    return math.dist(a, b) < 1e-6


@pytest.mark.parametrize("frame", [None, QUARTER, ASKEW, FLAP])
@pytest.mark.parametrize(
    ("side", "inwards", "overlay", "inner"), [(SIDE, 1.0, 16.5, 18.0), (RIGHT, -1.0, 15.0, 582.0)]
)
def test_a_door_before_a_side(
    frame: Frame | None, side: Part, inwards: float, overlay: float, inner: float
) -> None:
    place = frame or Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    contact = met(hung_meeting(turned(DOOR, place), turned(side, place)))
    assert contact.kind is ContactKind.HUNG
    assert (contact.butting, contact.receiving) == ("door", side.name)
    assert contact.gap == pytest.approx(0.0, abs=1e-6)
    assert contact.overlay == pytest.approx(overlay)
    assert contact.run == pytest.approx(896.0)
    assert near(contact.frame.k, place.vector_to_outer((inwards, 0.0, 0.0)))
    assert contact.worked is not None
    assert near(contact.worked, place.vector_to_outer((0.0, -1.0, 0.0)))
    ends = [contact.frame.point_to_outer((x, 0.0, 0.0)) for x in (0.0, contact.run)]
    lines = [place.point_to_outer((inner, 0.0, z)) for z in (2.0, 898.0)]
    assert any(near(ends[0], p) for p in lines)
    assert any(near(ends[1], p) for p in lines)
    i = cross(contact.worked, contact.frame.k)
    assert abs(dot(i, contact.frame.i)) == pytest.approx(1.0)


def test_a_gap_before_the_edge_is_measured() -> None:
    door = board("door", (1.5, -20, 2), (597, -2, 898))
    assert met(hung_meeting(door, SIDE)).gap == pytest.approx(2.0)


def test_an_inset_door_has_an_overlay_below_zero_and_no_gap() -> None:
    door = board("door", (21, 0, 3), (579, 18, 897))
    for side in (SIDE, RIGHT):
        contact = met(hung_meeting(door, side))
        assert contact.overlay == pytest.approx(-3.0)
        assert contact.gap == 0.0
        assert contact.frame.origin[1] == pytest.approx(18.0)


def test_the_run_is_what_door_and_side_have_in_common() -> None:
    door = board("door", (1.5, -18, 400), (597, 0, 1000))
    contact = met(hung_meeting(door, SIDE))
    assert contact.run == pytest.approx(500.0)
    assert contact.frame.origin == pytest.approx((18.0, 0.0, 400.0))


def test_a_pair_on_a_divider_hangs_on_both_sides_of_it() -> None:
    divider = board("divider", (291, 0, 0), (309, 400, 900))
    left = board("left", (1.5, -18, 2), (298.5, 0, 898))
    right = board("right", (301.5, -18, 2), (598.5, 0, 898))
    for door, inwards in ((left, -1.0), (right, 1.0)):
        contact = met(hung_meeting(door, divider))
        assert contact.overlay == pytest.approx(7.5)
        assert contact.frame.k[0] == pytest.approx(inwards)


@pytest.mark.parametrize(
    ("door", "words"),
    [
        (
            turned(
                DOOR, Frame((0.0, 0.0, 0.0), (0.8, 0.6, 0.0), (-0.6, 0.8, 0.0), (0.0, 0.0, 1.0))
            ),
            "53.1 degrees",
        ),
        (board("door", (118, -18, 2), (597, 0, 898)), "100 mm beside side"),
        (board("door", (1.5, -118, 2), (597, -100, 898)), "100 mm off the front edge"),
        (board("door", (5, 10, 2), (597, 28, 898)), "13 mm in side"),
        (board("door", (1.5, -18, 1000), (597, 0, 1500)), "100 mm beside side along"),
    ],
)
def test_a_door_that_is_not_before_the_side_is_told_in_numbers(door: Part, words: str) -> None:
    assert words in missed(hung_meeting(door, SIDE)).message


@pytest.mark.parametrize("frame", [None, QUARTER, ASKEW])
def test_a_drawer_side_faces_the_carcass(frame: Frame | None) -> None:
    place = frame or Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    opens = place.vector_to_outer(FRONT)
    for drawer, side, k in (
        (board("drawer", (31, 10, 100), (43, 360, 220)), SIDE, 1.0),
        (board("drawer", (557, 10, 100), (569, 360, 220)), RIGHT, -1.0),
    ):
        contact = met(facing_meeting(turned(drawer, place), turned(side, place), opens))
        assert contact.kind is ContactKind.FACING
        assert contact.gap == pytest.approx(13.0)
        assert contact.behind == pytest.approx(10.0)
        assert contact.run == pytest.approx(120.0)
        assert near(contact.frame.k, place.vector_to_outer((k, 0.0, 0.0)))
        assert contact.worked is not None
        assert near(contact.worked, opens)
        inner = 18.0 if side is SIDE else 582.0
        assert near(contact.frame.origin, place.point_to_outer((inner, 0.0, 100.0)))
        ys = [p[1] for p in contact.polygon]
        reach = sorted(dot(scaled(contact.frame.j, y), contact.worked) for y in (min(ys), max(ys)))
        assert reach == pytest.approx([-360.0, -10.0])


def test_a_drawer_may_open_another_way() -> None:
    drawer = board("drawer", (31, 10, 100), (43, 360, 220))
    contact = met(facing_meeting(drawer, SIDE, (0.0, 1.0, 0.0)))
    assert contact.frame.origin[1] == pytest.approx(400.0)
    assert contact.behind == pytest.approx(40.0)
    assert "`opens`" in missed(facing_meeting(drawer, SIDE, (1.0, 0.0, 0.0))).help


def test_parts_that_do_not_face_each_other_are_told_in_numbers() -> None:
    drawer = board("drawer", (31, 10, 100), (43, 360, 220))
    spin = math.radians(3.0)
    tilted = Frame(
        (0.0, 0.0, 0.0),
        (math.cos(spin), math.sin(spin), 0.0),
        (-math.sin(spin), math.cos(spin), 0.0),
        (0.0, 0.0, 1.0),
    )
    assert "3.00 degrees" in missed(facing_meeting(turned(drawer, tilted), SIDE, FRONT)).message
    above = replace(
        drawer, frame=replace(drawer.frame, origin=add(drawer.frame.origin, (0, 0, 900)))
    )
    assert "does not stand opposite" in missed(facing_meeting(above, SIDE, FRONT)).message
    close = board("drawer", (18, 10, 100), (30, 360, 220))
    assert "touches" in missed(facing_meeting(close, SIDE, FRONT)).message
