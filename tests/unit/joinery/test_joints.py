"""Joints: fittings on contacts, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import Frame
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from tests.boxes import board
from tests.cabinets import (
    bores,
    built_in,
    carcass,
    carcass_joints,
    joint,
    mouths,
    place,
    resolved,
    try_to_place,
    use,
)

T = 18.0
SIDE = board("side", (0, 0, 0), (T, 300, 800))
SHELF = board("shelf", (T, 0, 400), (600, 300, 400 + T))


def test_cam_and_bolt_by_hand() -> None:
    joinery, assembly = place([SIDE, SHELF], [joint("shelf", "side", use("cam-and-bolt-34"))])
    # 300 deep, 64 from the ends: two. Housings 34 from the edge, open downwards.
    assert mouths(joinery, assembly, "shelf", "cam housing") == [(52, 64, 400), (52, 236, 400)]
    assert mouths(joinery, assembly, "shelf", "bolt channel") == [(18, 64, 409), (18, 236, 409)]
    assert mouths(joinery, assembly, "side", "bolt seat") == [(18, 64, 409), (18, 236, 409)]
    # half of 18 and 0.4 of the cam, which is 11 high
    (depth,) = {b.depth for b in bores(joinery, "shelf", "cam housing")}
    assert depth == pytest.approx(13.4)
    assert {b.surface for b in bores(joinery, "shelf", "cam housing")} == {"back"}
    assert {b.surface for b in bores(joinery, "shelf", "bolt channel")} == {"edge:3"}
    assert {b.surface for b in bores(joinery, "side", "bolt seat")} == {"face"}
    (placed,) = joinery.joints
    assert placed.fasteners == tuple(f.id for f in joinery.fasteners)
    assert len(set(placed.fasteners)) == 2
    first = joinery.fasteners[0]
    assert (first.butting, first.receiving) == ("shelf", "side")
    bolt, cam = first.items
    assert (bolt.item, bolt.carrier) == ("cam-bolt-34", "side")
    assert bolt.frame.origin == pytest.approx((18, 64, 409))
    assert bolt.frame.k == pytest.approx((1, 0, 0))
    assert (cam.item, cam.carrier) == ("cam-lock-15", "shelf")
    assert cam.frame.k == pytest.approx((0, 0, -1))
    assert cam.frame.origin == pytest.approx((52, 64, 402.4))  # 0.6 of 11 below the middle


@pytest.mark.parametrize(
    ("opens", "z"), [("face", 418), ("back", 400), ("+z", 418), ("-z", 400), (None, 400)]
)
def test_the_side_worked_from(opens: str | None, z: float) -> None:
    joinery, assembly = place(
        [SIDE, SHELF], [joint("shelf", "side", use("cam-and-bolt", opens=opens))]
    )
    assert {p[2] for p in mouths(joinery, assembly, "shelf", "cam housing")} == {z}


def test_a_side_that_the_part_does_not_have() -> None:
    joinery, problems, _ = try_to_place(
        [SIDE, SHELF], [joint("shelf", "side", use("cam-and-bolt", opens="+y"))]
    )
    assert joinery is None
    assert [p.code for p in problems] == ["fitting-opens"]
    assert problems[0].path[-1] == "opens"


def test_upright_parts_open_to_the_back_or_to_the_middle() -> None:
    bottom = board("bottom", (0, 0, 0), (600, 300, T))
    plinth = board("plinth", (0, 20, T), (600, 20 + T, 100))
    left = board("left", (0, 60, T), (T, 300, 800))
    right = board("right", (600 - T, 60, T), (600, 300, 800))
    joinery, assembly = place(
        [bottom, plinth, left, right],
        [joint(n, "bottom", use("cam-and-bolt")) for n in ("plinth", "left", "right")],
    )
    assert {p[1] for p in mouths(joinery, assembly, "plinth", "cam housing")} == {20 + T}
    assert {p[0] for p in mouths(joinery, assembly, "left", "cam housing")} == {T}
    assert {p[0] for p in mouths(joinery, assembly, "right", "cam housing")} == {600 - T}


def test_a_pair_of_sides_stays_a_mirror_pair() -> None:
    joints = [
        joint(lying, side, use("dowel-8x35", at=(20.0, 110.0, -50.0)))
        for lying in ("bottom", "top")
        for side in ("left", "right")
    ]
    joinery, assembly = place(carcass(), joints)
    left = mouths(joinery, assembly, "left", "dowel")
    right = mouths(joinery, assembly, "right", "dowel")
    assert left == sorted((600 - x, y, z) for x, y, z in right)
    assert [y for _, y, _ in left[::2]] == [20, 110, 250]


def test_across_moves_towards_the_side_worked_from() -> None:
    joinery, assembly = place(
        [SIDE, SHELF], [joint("shelf", "side", use("dowel-6x30", across=3.0))]
    )
    assert {p[2] for p in mouths(joinery, assembly, "side", "dowel")} == {406}


def test_a_dowel_stands_out_of_the_edge_before_mating() -> None:
    joinery, _ = place([SIDE, SHELF], [joint("shelf", "side", use("dowel-8x35", at=(50.0,)))])
    (dowel,) = joinery.fasteners[0].items
    assert dowel.carrier == "shelf"
    assert dowel.frame.k == pytest.approx((-1, 0, 0))
    assert dowel.frame.origin == pytest.approx((18, 50, 409))


@pytest.mark.parametrize("back_first", [True, False])
def test_a_back_is_screwed_on_whichever_way_it_is_written(back_first: bool) -> None:
    back = board("back", (0, 300, 0), (600, 303, 800))
    names = ("back", "side") if back_first else ("side", "back")
    joinery, assembly = place([SIDE, back], [joint(*names, use("back-screwed"))])
    clearance = bores(joinery, "back", "screw clearance")
    pilot = bores(joinery, "side", "screw pilot")
    assert len(clearance) == len(pilot) == 6
    assert all(b.through and b.depth == pytest.approx(3) for b in clearance)
    assert all(b.depth == pytest.approx(25 - 3 + 1) for b in pilot)
    assert {p[:2] for p in mouths(joinery, assembly, "back", "screw clearance")} == {(9, 303)}
    assert {p[:2] for p in mouths(joinery, assembly, "side", "screw pilot")} == {(9, 300)}
    (screw,) = joinery.fasteners[0].items
    assert screw.carrier is None
    assert screw.frame.k == pytest.approx((0, 1, 0))  # its head looks to the back


def test_a_screw_goes_through_the_face_member_into_the_edge() -> None:
    joinery, assembly = place([SIDE, SHELF], [joint("shelf", "side", use("screw-4x50"))])
    assert {p[0] for p in mouths(joinery, assembly, "side", "screw clearance")} == {0}
    assert {b.depth for b in bores(joinery, "side", "screw clearance")} == {18}
    assert {b.depth for b in bores(joinery, "shelf", "screw pilot")} == {33}


def test_post_and_rail() -> None:
    """A rail's end on a square post: the post is drilled in its edge."""
    post = board("post", (0, 0, 0), (40, 45, 400))
    rail = board("rail", (40, 10, 300), (500, 30, 380))
    joinery, assembly = place([post, rail], [joint("rail", "post", use("dowel-8x35", ends=20.0))])
    assert mouths(joinery, assembly, "rail", "dowel") == [(40, 20, 320), (40, 20, 360)]
    assert mouths(joinery, assembly, "post", "dowel") == [(40, 20, 320), (40, 20, 360)]
    surfaces = {b.surface for b in bores(joinery, "post", "dowel")}
    assert len(surfaces) == 1


def test_rail_screwed_through_the_edge_of_a_post() -> None:
    """Edge to edge: the screw goes through as much of the post as lies there."""
    post = board("post", (0, 0, 0), (30, 45, 400))  # its thickness lies along x
    rail = board("rail", (0, 45, 300), (20, 500, 380))
    joinery, _ = place([post, rail], [joint("rail", "post", use("screw-5x60", count=1))])
    (clearance,) = bores(joinery, "post", "screw clearance")
    assert clearance.depth == pytest.approx(45)
    (pilot,) = bores(joinery, "rail", "screw pilot")
    assert pilot.depth == pytest.approx(60 - 45 + 1)


def test_a_screw_too_short_for_the_post_is_a_problem() -> None:
    post = board("post", (0, 0, 0), (30, 70, 400))
    rail = board("rail", (0, 70, 300), (20, 500, 380))
    joinery, problems, _ = try_to_place(
        [post, rail], [joint("rail", "post", use("screw-4x50", count=1))]
    )
    assert joinery is None
    assert [p.code for p in problems] == ["fitting-number"]


def test_a_sloping_part() -> None:
    """The whole turned by 25 degrees about x: panel-frame bores stay as they were."""
    angle = math.radians(25)
    turned = Frame(
        (10.0, 20.0, 30.0),
        (1.0, 0.0, 0.0),
        (0.0, math.cos(angle), math.sin(angle)),
        (0.0, -math.sin(angle), math.cos(angle)),
    )
    straight, _ = place(carcass(), carcass_joints())
    sloping, _ = place(carcass(at=turned), carcass_joints())
    assert len(straight.bores) == len(sloping.bores)
    for a, b in zip(straight.bores, sloping.bores, strict=True):
        assert (a.part, a.surface, a.purpose) == (b.part, b.surface, b.purpose)
        assert a.mouth == pytest.approx(b.mouth, abs=1e-6)


def test_two_boards_face_to_face() -> None:
    under = board("under", (0, 0, 0), (400, 100, T))
    over = board("over", (0, 0, T), (400, 100, 2 * T))
    joinery, _ = place([under, over], [joint("over", "under", use("glued"))])
    assert joinery.fasteners == ()
    assert joinery.joints[0].fittings == ("glued",)
    joinery, assembly = place(
        [under, over], [joint("over", "under", use("screw-3.5x35", count=2, ends=50.0))]
    )
    assert mouths(joinery, assembly, "under", "screw clearance") == [(50, 50, 0), (350, 50, 0)]
    assert mouths(joinery, assembly, "over", "screw pilot") == [(50, 50, 18), (350, 50, 18)]


def test_a_gap_is_measured() -> None:
    apart = board("shelf", (T + 3, 0, 400), (600, 300, 400 + T))
    joinery, problems, _ = try_to_place([SIDE, apart], [joint("shelf", "side", use("dowel-8x35"))])
    assert joinery is None
    (problem,) = problems
    assert problem.code == "parts-apart"
    assert "3 mm" in problem.message
    assert "side.x1 is 18" in problem.help


def test_parts_that_run_through_each_other() -> None:
    through = board("shelf", (5, -50, 400), (600, 250, 400 + T))
    joinery, problems, _ = try_to_place(
        [SIDE, through], [joint("shelf", "side", use("dowel-8x35"))]
    )
    assert joinery is None
    assert problems[0].code in ("parts-cross", "fitting-contact")


def test_a_fitting_that_does_not_suit_names_those_that_do() -> None:
    sunk = board("shelf", (T - 6, 0, 400), (600, 300, 400 + T))
    _, problems, _ = try_to_place([SIDE, sunk], [joint("shelf", "side", use("dowel-8x35"))])
    (problem,) = problems
    assert problem.code == "fitting-contact"
    assert "shelf stands 6 mm deep in side" in problem.message
    assert "only touch" in problem.help
    assert "housed-glued" in problem.help
    assert "dowel" not in problem.help


def test_unknown_names_and_options_get_the_near_one() -> None:
    _, problems, _ = try_to_place(
        [SIDE, SHELF],
        [
            joint(
                "shelf",
                "side",
                use("dowel-8x53"),
                use("shelf-support-5"),
                use("dowel-8x35", options={"face_dept": 10.0}),
                use("dowel-8x35", options={"face_depth": "deep"}),
            )
        ],
    )
    assert [p.code for p in problems] == [
        "fitting-unknown", "fitting-kind", "fitting-option", "fitting-option",
    ]  # fmt: skip
    assert "dowel-8x35" in problems[0].help
    assert "face_depth" in problems[2].help


def test_options_change_the_numbers_and_the_name() -> None:
    joinery, _ = place(
        [SIDE, SHELF],
        [
            joint(
                "shelf", "side", use("dowel-8x35", options={"face_depth": 10.0}), use("dowel-8x35")
            )
        ],
    )
    assert sorted(joinery.fittings) == ["dowel-8x35", "dowel-8x35[face_depth=10]"]
    assert {b.depth for b in bores(joinery, "side", "dowel")} == {10, 12}
    assert {f.fitting for f in joinery.fasteners} == set(joinery.fittings)
    assert len({f.id for f in joinery.fasteners}) == len(joinery.fasteners)


def test_a_bore_off_the_board_is_a_problem() -> None:
    """A strip of 24 has no room for a housing 34 from its edge."""
    wide = board("wide", (0, 0, 400), (16, 300, 700))
    narrow = board("narrow", (16, 40, 400), (40, 60, 700))
    joinery, problems, _ = try_to_place(
        [wide, narrow], [joint("narrow", "wide", use("cam-and-bolt-34", at=(50.0,)))]
    )
    assert joinery is None
    assert [p.code for p in problems] == ["bore-off-part"]
    assert "cam housing" in problems[0].message


def test_an_edge_whose_middle_misses_gets_the_number_to_set() -> None:
    side = board("side", (0, 0, 0), (18, 300, 800))
    back = board("back", (11, 300, 0), (600, 303, 800))  # covers 7 of 18
    joinery, problems, _ = try_to_place([side, back], [joint("back", "side", use("back-nailed"))])
    assert joinery is None
    (problem,) = problems
    assert problem.code == "fitting-position"
    across = float(problem.help.split("across: ")[1].split("`")[0])
    joinery, _assembly = place(
        [side, back], [joint("back", "side", use("back-nailed", across=across))]
    )
    assert {round(f.frame.origin[0], 3) for f in joinery.fasteners} == {14.5}


def test_a_notch_leaves_two_contacts_in_one_line() -> None:
    """A side cut out in the middle of its lower edge stands on a bottom in two places."""
    bottom = board("bottom", (0, 0, 0), (600, 400, T))
    side = board("side", (0, 0, T), (T, 400, 800))
    # panel x runs back, y up: cut 100 to 300 along, 60 up
    outline = (
        (0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (300.0, 60.0), (300.0, 0.0), (400.0, 0.0),
        (400.0, 782.0), (0.0, 782.0),
    )  # fmt: skip
    side = replace(side, outline=outline, bands=(0.0,) * 8, edge_sides=("",) * 8)
    joinery, assembly = place(
        [bottom, side], [joint("side", "bottom", use("dowel-8x35", ends=25.0))]
    )
    assert [p[1] for p in mouths(joinery, assembly, "bottom", "dowel")] == [25, 75, 325, 375]
    assert [j.name for j in joinery.joints] == ["side-bottom", "side-bottom#2"]
    assert [len(j.fasteners) for j in joinery.joints] == [2, 2]
    joinery, assembly = place(
        [bottom, side], [joint("side", "bottom", use("dowel-8x35", at=(25.0, -25.0)))]
    )
    assert [p[1] for p in mouths(joinery, assembly, "bottom", "dowel")] == [25, 375]


def test_a_corner_notched_shelf_uses_the_larger_contact_and_says_so() -> None:
    post = board("post", (0, 0, 0), (40, 50, 800))
    shelf = board("shelf", (0, 0, 400), (400, 300, 418))
    outline = ((0.0, 50.0), (40.0, 50.0), (40.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    shelf = replace(shelf, outline=outline, bands=(0.0,) * 6, edge_sides=("",) * 6)
    joinery, problems, assembly = try_to_place(
        [post, shelf], [joint("shelf", "post", use("dowel-6x30", count=1))]
    )
    assert joinery is not None
    assert [p.code for p in problems] == ["joint-contacts"]
    assert [p.severity for p in problems] == ["advice"]
    assert mouths(joinery, assembly, "post", "dowel") == [(40, 25, 409)]


def test_the_same_joint_twice_keeps_its_names_apart() -> None:
    twice = joint("shelf", "side", use("dowel-8x35", at=(50.0,)))
    other = joint("shelf", "side", use("dowel-8x35", at=(150.0,)))
    joinery, _ = place([SIDE, SHELF], [twice, other])
    assert [j.name for j in joinery.joints] == ["shelf-side", "shelf-side#2"]
    assert len({f.id for f in joinery.fasteners}) == 2


def test_all_problems_come_at_once() -> None:
    apart = board("shelf", (T + 3, 0, 400), (600, 300, 400 + T))
    _, problems, _ = try_to_place(
        [SIDE, apart, board("lid", (0, 0, 800), (600, 300, 800 + T))],
        [
            joint("shelf", "side", use("dowel-8x35")),
            joint("side", "lid", use("no-such-thing"), use("cam-and-bolt", at=(999.0,))),
        ],
    )
    assert [p.code for p in problems] == ["parts-apart", "fitting-unknown", "fitting-position"]


def test_the_same_product_gives_the_same_joinery() -> None:
    first, _ = place(carcass(), carcass_joints())
    second, _ = place(carcass(), carcass_joints())
    assert repr(first) == repr(second)


def test_many_fasteners_at_once() -> None:
    """A thousand dowels in one joint come out, each with its two bores."""
    long_side = board("side", (0, 0, 0), (T, 33000, 800))
    long_shelf = board("shelf", (T, 0, 400), (600, 33000, 418))
    product = resolved(
        [long_side, long_shelf], [joint("shelf", "side", use("dowel-8x35", pitch=32.0))]
    )
    assembly, _ = assemble(product)
    assert assembly is not None
    joinery, _ = place_fittings(product, assembly, built_in())
    assert joinery is not None
    assert len(joinery.fasteners) == 1031
    assert len(joinery.bores) == 2062


def test_a_rule_leaves_out_what_an_earlier_fitting_has_taken() -> None:
    deep = carcass(depth=560)
    joinery, assembly = place(deep, [joint("top", "left", use("cam-and-bolt"), use("dowel-8x35"))])
    cams = [y for _, y, _ in mouths(joinery, assembly, "left", "bolt seat")]
    dowels = [y for _, y, _ in mouths(joinery, assembly, "left", "dowel")]
    assert cams == [64, 280, 496]
    assert dowels == [32, 156, 404, 528]
    # What is written exactly stays where it is written.
    exact = use("dowel-8x35", at=(70.0,))
    joinery, assembly = place(deep, [joint("top", "left", use("cam-and-bolt"), exact)])
    assert [y for _, y, _ in mouths(joinery, assembly, "left", "dowel")] == [70]
