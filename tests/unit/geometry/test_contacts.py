"""Contacts between parts: kinds, frames, areas, sunk edges."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import Frame, Vec2, Vec3, cross, dot, sub
from kdkit.geometry import Assembly, Contact, ContactKind, assemble, contact_between
from kdkit.model.resolved import Part, Resolved, RoundCutOut

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def panel(
    name: str,
    low: Vec3,
    high: Vec3,
    face: str,
    *,
    outline: tuple[Vec2, ...] | None = None,
    cutouts: tuple[tuple[Vec2, ...], ...] = (),
    round_cutouts: tuple[RoundCutOut, ...] = (),
) -> Part:
    """Return a box-shaped panel whose face looks along ``face``; its length is the longer side."""
    axis, sign = "xyz".index(face[1]), 1.0 if face[0] == "+" else -1.0
    k = tuple(sign if n == axis else 0.0 for n in range(3))
    others = [n for n in range(3) if n != axis]
    size = [high[n] - low[n] for n in range(3)]
    others.sort(key=lambda n: -size[n])
    i = tuple(1.0 if n == others[0] else 0.0 for n in range(3))
    j = cross(k, i)  # type: ignore[arg-type]
    origin = [0.0, 0.0, 0.0]
    origin[axis] = high[axis] if sign > 0 else low[axis]
    origin[others[0]] = low[others[0]]
    origin[others[1]] = low[others[1]] if j[others[1]] > 0 else high[others[1]]
    length, width = size[others[0]], size[others[1]]
    ring = outline or ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    return Part(
        name=name,
        title=name,
        kind="panel",
        path=("panels", name),
        frame=Frame(tuple(origin), i, j, k),  # type: ignore[arg-type]
        outline=ring,
        thickness=size[axis],
        cutouts=cutouts,
        round_cutouts=round_cutouts,
    )


def product(*parts: Part) -> Resolved:
    return Resolved(
        said=None,
        variant=None,
        parameters={},
        parts=parts,
        joints=(),
        fixtures=(),
        units=(),
        order=(),
    )


def assembled(*parts: Part) -> Assembly:
    assembly, problems = assemble(product(*parts))
    assert problems == ()
    assert assembly is not None
    return assembly


SIDE = panel("side", (0, 0, 0), (18, 300, 800), "+x")


def only(found: tuple[Contact, ...]) -> Contact:
    assert len(found) == 1
    return found[0]


def test_shelf_end_meets_the_face_of_a_side() -> None:
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "+z")
    contact = only(assembled(SIDE, shelf).contacts)
    assert (contact.butting, contact.receiving) == ("shelf", "side")
    assert contact.kind is ContactKind.EDGE_FACE
    assert contact.receiving_surface == "face"
    assert contact.butting_surface == "edge:3"
    assert contact.area == pytest.approx(300 * 18)
    assert contact.frame.k == pytest.approx(X)
    assert contact.frame.i == pytest.approx(Y)
    assert contact.frame.origin == pytest.approx((18, 0, 409))
    assert contact.run == pytest.approx(300)
    corners = [(0, -9), (300, -9), (300, 9), (0, 9)]
    for found, expected in zip(contact.polygon, corners, strict=True):
        assert found == pytest.approx(expected)


def test_the_run_follows_the_butting_edge_even_where_the_contact_is_short() -> None:
    narrow = panel("narrow", (0, 0, 0), (18, 10, 800), "+x")
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "+z")
    contact = only(assembled(narrow, shelf).contacts)
    assert contact.frame.i == pytest.approx(Y)
    assert contact.run == pytest.approx(10)


def test_edges_meet_in_a_mitreless_corner_of_a_frame() -> None:
    left = panel("left", (0, 0, 0), (50, 20, 300), "-y")
    right = panel("right", (50, 0, 0), (100, 20, 300), "-y")
    assembly = assembled(left, right)
    contact = only(contact_between(assembly, "right", "left"))
    assert contact.kind is ContactKind.EDGE_EDGE
    assert contact.butting == "right"
    assert contact.frame.k == pytest.approx(X)
    assert contact.frame.i == pytest.approx(Z)
    other = only(contact_between(assembly, "left", "right"))
    assert other.butting == "left"
    assert other.frame.k == pytest.approx((-1, 0, 0))
    assert other.frame.origin == pytest.approx(contact.frame.origin)


def test_laid_on_back_meets_face_to_edge_and_the_edge_butts() -> None:
    back = panel("back", (0, 300, 0), (800, 303, 800), "-y")
    contact = only(contact_between(assembled(SIDE, back), "back", "side"))
    assert contact.kind is ContactKind.EDGE_FACE
    assert (contact.butting, contact.receiving) == ("side", "back")
    assert contact.frame.k == pytest.approx((0, -1, 0))
    assert contact.area == pytest.approx(18 * 800)


def test_faces_meet() -> None:
    doubled = panel("doubled", (18, 0, 0), (36, 300, 400), "-x")
    contact = only(assembled(SIDE, doubled).contacts)
    assert contact.kind is ContactKind.FACE_FACE
    assert contact.butting == "doubled"
    assert contact.area == pytest.approx(300 * 400)
    assert contact.frame.i == pytest.approx(Z)


@pytest.mark.parametrize(
    ("gap", "touches"), [(0.0, True), (0.01, True), (-0.01, True), (0.02, False)]
)
def test_how_near_is_touching(gap: float, touches: bool) -> None:
    shelf = panel("shelf", (18 + gap, 0, 400), (782, 300, 418), "+z")
    assert bool(assembled(SIDE, shelf).contacts) is touches


def test_meeting_along_a_line_is_no_contact() -> None:
    shelf = panel("shelf", (18, 300, 400), (782, 600, 418), "+z")
    assert assembled(SIDE, shelf).contacts == ()


def test_back_in_a_groove_is_sunk() -> None:
    back = panel("back", (10, 280, 0), (790, 283, 800), "-y")
    contact = only(assembled(SIDE, back).contacts)
    assert contact.kind is ContactKind.SUNK
    assert (contact.butting, contact.receiving) == ("back", "side")
    assert contact.sunk == pytest.approx(8)
    assert contact.receiving_surface == "face"
    assert contact.area == pytest.approx(3 * 800)
    assert contact.frame.origin == pytest.approx((18, 281.5, 0))
    assert contact.frame.k == pytest.approx(X)
    assert contact.frame.i == pytest.approx(Z)


def test_shelf_in_a_stopped_housing_is_sunk_and_its_shoulder_touches() -> None:
    # notched at the front by 6, so that only the rear 260 goes in
    shelf = panel(
        "shelf",
        (12, 0, 400),
        (782, 300, 418),
        "+z",
        outline=((6, 0), (770, 0), (770, 300), (0, 300), (0, 40), (6, 40)),
    )
    found = contact_between(assembled(SIDE, shelf), "shelf", "side")
    assert [c.kind for c in found] == [ContactKind.SUNK, ContactKind.EDGE_FACE]
    assert found[0].sunk == pytest.approx(6)
    assert found[0].run == pytest.approx(260)
    assert found[1].run == pytest.approx(40)


def test_a_plain_overlap_is_no_contact() -> None:
    post = panel("post", (-20, 100, -20), (60, 200, 900), "+x")
    assert assembled(SIDE, post).contacts == ()


def test_two_tenons_are_two_contacts() -> None:
    rail = panel(
        "rail",
        (8, 100, 400),
        (300, 180, 420),
        "+z",
        outline=((0, 0), (292, 0), (292, 80), (0, 80), (0, 60), (10, 60), (10, 20), (0, 20)),
    )
    sunk = [c for c in assembled(SIDE, rail).contacts if c.kind is ContactKind.SUNK]
    assert [c.run for c in sunk] == pytest.approx([20, 20])
    assert [c.sunk for c in sunk] == pytest.approx([10, 10])


def test_a_contact_round_an_opening_comes_in_pieces_without_holes() -> None:
    opening = ((100.0, 100.0), (200.0, 100.0), (200.0, 200.0), (100.0, 200.0))
    holed = panel("holed", (18, 0, 0), (36, 300, 800), "+x", cutouts=(opening,))
    found = assembled(SIDE, holed).contacts
    assert len(found) == 2
    assert sum(c.area for c in found) == pytest.approx(300 * 800 - 100 * 100)


def test_a_notch_parts_a_contact() -> None:
    shelf = panel(
        "shelf",
        (18, 0, 400),
        (782, 300, 418),
        "+z",
        outline=(
            (0, 0),
            (764, 0),
            (764, 300),
            (0, 300),
            (0, 200),
            (20, 200),
            (20, 100),
            (0, 100),
        ),
    )
    found = assembled(SIDE, shelf).contacts
    assert [c.run for c in found] == pytest.approx([100, 100])


def test_a_sloping_shelf_cut_square_rests_on_a_sloping_side() -> None:
    # the whole corner is turned 30° about the y axis; the contact turns with it
    turn = math.radians(30)
    c, s = math.cos(turn), math.sin(turn)
    turned = Frame((5, 7, 11), (c, 0.0, -s), Y, (s, 0.0, c))
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "+z")
    parts = [replace(p, frame=turned.frame_to_outer(p.frame)) for p in (SIDE, shelf)]
    contact = only(assembled(*parts).contacts)
    assert contact.area == pytest.approx(300 * 18)
    assert contact.frame.k == pytest.approx((c, 0, -s))
    assert contact.frame.i == pytest.approx(Y)


def test_a_square_end_against_a_sloping_face_is_no_contact() -> None:
    c, s = math.cos(0.01), math.sin(0.01)
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "+z")
    tilted = replace(SIDE, frame=Frame((18, 0, 0), (s, 0.0, c), Y, (-c, 0.0, s)))
    assert assembled(tilted, shelf).contacts == ()


def test_contacts_and_lookup_do_not_depend_on_the_order_of_parts() -> None:
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "+z")
    back = panel("back", (0, 300, 0), (800, 303, 800), "-y")
    forward, backward = assembled(SIDE, shelf, back), assembled(back, shelf, SIDE)
    assert forward.contacts == backward.contacts
    assert contact_between(forward, "shelf", "nothing") == ()


def test_an_outline_that_crosses_itself_is_reported() -> None:
    bow = panel(
        "bow", (0, 0, 0), (18, 300, 800), "+x", outline=((0, 0), (800, 300), (800, 0), (0, 300))
    )
    assembly, problems = assemble(product(SIDE, bow))
    assert assembly is None
    assert [(p.code, p.path) for p in problems] == [("outline-crosses-itself", ("panels", "bow"))]


def test_frames_are_right_handed_and_lie_in_the_receiving_surface() -> None:
    shelf = panel("shelf", (18, 0, 400), (782, 300, 418), "-z")
    back = panel("back", (10, 280, 0), (790, 283, 800), "+y")
    assembly = assembled(SIDE, shelf, back)
    for contact in assembly.contacts:
        frame, part = contact.frame, assembly.part(contact.receiving)
        assert dot(cross(frame.i, frame.j), frame.k) == pytest.approx(1)
        for x, y in contact.polygon:
            p = part.frame.point_to_inner(frame.point_to_outer((x, y, 0.0)))
            if contact.receiving_surface == "face":
                assert p[2] == pytest.approx(0)
        assert sub(frame.origin, frame.origin) == (0, 0, 0)


def test_the_edge_that_goes_in_whole_stands_in_the_other() -> None:
    """A thin panel between the edges of two posts stands in both, whatever their names."""
    thin = panel("thin", (32, 7, 0), (468, 13, 400), "+y")
    for name, x in (("left", 0), ("zright", 460)):
        post = panel(name, (x, 0, 0), (x + 40, 20, 400), "+y")
        (contact,) = contact_between(assembled(thin, post), "thin", name)
        assert (contact.butting, contact.receiving, contact.sunk) == ("thin", name, 8)
