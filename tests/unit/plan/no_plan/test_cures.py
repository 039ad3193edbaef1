"""Cures: small changes, each carried out and planned before it is offered."""

from __future__ import annotations

import pathlib
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.frames import Frame
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Resolved
from kdkit.plan import make_plan
from kdkit.plan.no_plan.change import Change, name_parts
from kdkit.plan.no_plan.changes import KINDS, list_changes
from kdkit.plan.no_plan.cures import Cures, find_cures
from kdkit.plan.no_plan.reshape import stretch_part
from kdkit.plan.plan import Block, Impossible, Plan
from kdkit.plan.verify import verify_impossible
from tests.boxes import Made, board
from tests.products import CASE, HOUSED, PACKED_CASE, PACKED_RING, RING, made

RIGHT, UP = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def proof(product: Made) -> Impossible:
    no, _ = make_plan(*product)
    assert isinstance(no, Impossible)
    return no


def cures_of(folder: pathlib.Path, text: str) -> tuple[Cures, Made]:
    product = made(folder, text)
    return find_cures(*product, proof(product)), product


def planned(product: Resolved, catalogue: object) -> Plan:
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, catalogue)  # type: ignore[arg-type]
    assert joinery is not None, problems
    plan, problems = make_plan(product, assembly, joinery, catalogue)  # type: ignore[arg-type]
    assert isinstance(plan, Plan), problems
    return plan


def test_every_cure_of_the_ring_has_a_plan_of_as_many_steps_as_it_says(
    tmp_path: pathlib.Path,
) -> None:
    cures, product = cures_of(tmp_path, RING)
    assert cures.size == 1
    assert {c.kind for cure in cures.cures for c in cure.changes} == {"swap", "fitting"}
    assert len(cures.cures) == 6
    for cure in cures.cures:
        (change,) = cure.changes
        assert len(planned(change.product, product[3]).steps) == cure.steps
        assert set(change.parts) <= {"floor", "left", "rear"}


def test_cures_are_ranked_and_offered_in_words(tmp_path: pathlib.Path) -> None:
    cures, _ = cures_of(tmp_path, RING)
    kinds = [cure.changes[0].kind for cure in cures.cures]
    assert kinds == sorted(kinds, key=KINDS.index)
    words = [cure.changes[0].words for cure in cures.cures]
    assert any("let Left side run over the end of Rear" in w for w in words)
    assert any("join Rear and Floor with " in w and "instead of dowel 8 × 30" in w for w in words)


def test_a_stopped_housing_is_cured_by_running_it_through(tmp_path: pathlib.Path) -> None:
    cures, product = cures_of(tmp_path, HOUSED)
    through = [c for cure in cures.cures for c in cure.changes if c.kind == "groove-through"]
    (change,) = through
    assert change.words == ("run the groove right through to both ends between Floor and Left side")
    planned(change.product, product[3])


def two_rings(folder: pathlib.Path) -> Made:
    """The ring twice, back to back: they touch, and share nothing."""
    panels, _, joints = RING.partition("joints:\n")
    second = """\
  floor_2: {title: Floor 2, board: carcass, x: [18, 300], y: [300, 600], z: {from: 0}}
  left_2: {title: Left 2, board: carcass, x: {from: 0}, y: [318, 600], z: [0, 300]}
  rear_2: {title: Rear 2, board: carcass, x: [0, 300], y: {from: 300}, z: [18, 300]}
"""
    again = re.sub(r"floor|left|rear", lambda name: f"{name[0]}_2", joints)
    return made(folder, f"{panels}{second}joints:\n{joints}{again}")


def test_two_rings_take_two_changes(tmp_path: pathlib.Path) -> None:
    product = two_rings(tmp_path)
    cures = find_cures(*product, proof(product))
    assert cures.size == 2
    for cure in cures.cures:
        first, second_change = cure.changes
        ends = {part.endswith("_2") for part in (*first.parts, *second_change.parts)}
        assert ends == {True, False}


def test_two_rings_that_share_nothing_are_both_certified(tmp_path: pathlib.Path) -> None:
    product = two_rings(tmp_path)
    no, (problem,) = make_plan(*product)
    assert isinstance(no, Impossible)
    assert [set(one.parts) for one in no.reasons] in (
        [{"floor", "left", "rear"}, {"floor_2", "left_2", "rear_2"}],
        [{"floor_2", "left_2", "rear_2"}, {"floor", "left", "rear"}],
    )
    assert no.all_found
    assert problem.message.startswith("2 groups of parts hold each other")
    assert verify_impossible(no, *product[1:]) == ()
    forged = replace(no, more=(replace(no.more[0], loops=no.loops),))
    assert any(f.startswith("more[0]: ") for f in verify_impossible(forged, *product[1:]))
    twice = replace(no, more=(replace(no, more=()),))
    assert any("no reason by itself" in f for f in verify_impossible(twice, *product[1:]))


def test_bound_is_kept_and_said(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, RING)
    cures = find_cures(*product, proof(product), most_tried=2)
    assert cures.tried == 2
    assert cures.left_out > 0


def claimed(product: Made, part: str, by: str) -> Impossible:
    """A certificate that names one pair only, to see which changes it leads to."""
    no = Impossible(
        parts=(part, by),
        loops=((RIGHT, (Block(part=part, by=by, reason=""), Block(part=by, by=part, reason=""))),),
        motion_class="",
    )
    assert product
    return no


def changes_on(product: Made, part: str, by: str) -> dict[str, Change]:
    found = list_changes(*product, claimed(product, part, by)).changes
    return {change.kind: change for change in reversed(found)}


def test_a_back_comes_out_of_its_grooves_onto_the_edges(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, CASE)
    change = changes_on(product, "back", "left")["laid-on-back"]
    back = change.product.part("back")
    assert sorted(max(p[axis] for p in back.outline) for axis in (0, 1)) == [596, 596]
    ends = [back.frame.point_to_outer((0.0, 0.0, z))[1] for z in (0.0, -back.thickness)]
    assert sorted(ends) == pytest.approx([300, 303])
    assert "596 × 596" in change.means
    uses = {
        use.fitting
        for j in change.product.joints
        if "back" in (j.joined, j.to)
        for use in j.fittings
    }
    assert uses == {"back-nailed"}
    planned(change.product, product[3])


def test_a_groove_is_left_out_by_ending_the_back_before_it(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, CASE)
    change = changes_on(product, "back", "bottom")["no-groove"]
    back = change.product.part("back")
    low = min(back.frame.point_to_outer((x, y, 0.0))[2] for x, y in back.outline)
    assert low == pytest.approx(18)
    assert all({j.joined, j.to} != {"back", "bottom"} for j in change.product.joints)
    planned(change.product, product[3])


def test_changes_stay_with_the_pairs_of_the_certificate(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, CASE)
    for change in list_changes(*product, claimed(product, "top", "left")).changes:
        on_line = change.kind == "fitting" or change.kind == "release"
        line = {"bottom", "top", "shelf", "left", "right"} if on_line else {"top", "left"}
        assert set(change.parts) <= line
        assert {"top", "left"} & set(change.parts)
    apart = list_changes(*product, claimed(product, "top", "bottom")).changes
    assert {c.kind for c in apart} <= {"split", "moved", "shorter", "notched"}


def test_stretching_keeps_the_frame_at_the_corner_and_the_rest_in_place() -> None:
    part = board("shelf", (0, 0, 0), (300, 200, 18))
    longer = stretch_part(part, (-1.0, 0.0, 0.0), 20.0)
    assert longer is not None
    assert longer.frame.point_to_outer((0.0, 0.0, 0.0)) == (-20.0, 0.0, 18.0)
    assert max(p[0] for p in longer.outline) == 320
    assert min(p[0] for p in longer.outline) == 0
    assert stretch_part(part, (0.0, 0.0, 1.0), 20.0) is None
    assert stretch_part(part, RIGHT, -300.0) is None
    cut = replace(part, outline=((0.0, 0.0), (300.0, 0.0), (280.0, 200.0), (0.0, 200.0)))
    assert stretch_part(cut, RIGHT, 10.0) is None


def test_parts_with_one_title_are_told_apart_by_name() -> None:
    frame = Frame((0.0, 0.0, 0.0), RIGHT, (0.0, 1.0, 0.0), UP)
    parts = [board(n, (0, 0, 0), (9, 90, 90), at=frame, title="Side") for n in ("a", "b")]
    parts.append(board("c", (0, 0, 0), (9, 90, 90), at=frame))
    assert name_parts(parts) == {"a": "Side (a)", "b": "Side (b)", "c": "C"}


def test_cams_behind_a_plinth_are_cured_by_opening_them_to_the_other_side(
    tmp_path: pathlib.Path,
) -> None:
    """Both sides close over bottom and plinth at once; the driver finds no room below."""
    text = """\
kdkit: 1
product: Low box
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  left: {title: Left, board: carcass, x: {from: 0}, y: [0, 400], z: [0, 400]}
  right: {title: Right, board: carcass, x: {to: 800}, y: [0, 400], z: [0, 400]}
  bottom: {title: Bottom, board: carcass, x: [18, 782], y: [0, 400], z: {from: 80}}
  plinth: {title: Plinth, board: carcass, x: [18, 782], y: {from: 40}, z: [0, 80]}
joints:
  - join: bottom
    to: [left, right]
    fittings: [{fitting: cam-and-bolt, ends: 60, pitch: 200, opens: -z}]
  - {join: plinth, to: [left, right], fittings: [{fitting: dowel-8x35, at: [22, -22]}]}
"""
    cures, product = cures_of(tmp_path, text)
    assert cures.size == 1
    first = cures.cures[0].changes[0]
    assert first.kind == "other-side"
    assert first.words.startswith("open the fittings between Bottom and ")
    planned(first.product, product[3])


def test_parts_packed_as_one_have_cures_as_others_have(tmp_path: pathlib.Path) -> None:
    """Rear is dowelled to the front of one packed board and down on the other."""
    cures, product = cures_of(tmp_path, PACKED_RING)
    assert cures.tried > len(cures.cures) >= 3
    assert cures.size == 1
    assert {c.kind for cure in cures.cures for c in cure.changes} == {"swap", "fitting"}
    for cure in cures.cures:
        (change,) = cure.changes
        assert set(change.parts) in ({"left", "rear"}, {"rear", "floor"})
        assert len(planned(change.product, product[3]).steps) == cure.steps


def test_what_was_packed_as_one_is_joined_at_home(tmp_path: pathlib.Path) -> None:
    cures, product = cures_of(tmp_path, PACKED_CASE)
    (cure,) = [c for c in cures.cures if c.changes[0].kind == "at-home"]
    assert cure.changes[0].words == (
        "join Bottom, Left side, Right side, Top and Shelf at home instead of in the workshop"
    )
    assert not planned(cure.changes[0].product, product[3]).workshop


def test_one_joint_at_home_may_be_enough(tmp_path: pathlib.Path) -> None:
    """Three joints hold the case together: without one of the bottom's, a side comes last.

    Without the top's the sides still stand fast, and the top is dowelled to both.
    """
    text = PACKED_CASE.replace("[bottom, top, shelf], to: [left, right],", "top, to: left,")
    text = "\n".join(line for line in text.splitlines() if not line.startswith("  shelf"))
    text += """
  - {join: bottom, to: [left, right], workshop: true, fittings: [dowel-8x30]}
  - {join: top, to: right, fittings: [dowel-8x30]}
"""
    cures, product = cures_of(tmp_path, text)
    home = [c.changes[0] for c in cures.cures if c.changes[0].kind == "at-home"]
    assert [set(change.parts) for change in home] == [
        {"bottom", "left"},
        {"bottom", "right"},
        {"bottom", "left", "top", "right"},
    ]
    for change in home:
        planned(change.product, product[3])


POST = """\
kdkit: 1
product: Post under a shelf
boards:
  b: {material: particleboard-p2, thickness: 18}
panels:
  left: {title: Left, board: b, x: {from: 0}, y: [0, 300], z: [0, 300]}
  right: {title: Right, board: b, x: {to: 500}, y: [0, 300], z: [0, 300]}
  bottom: {title: Bottom, board: b, x: [18, 482], y: [0, 300], z: {from: 0}}
  shelf: {title: Shelf, board: b, x: [18, 482], y: [0, 200], z: {from: 150}}
  post: {title: Post, board: b, x: [200, 300], y: {from: 170}, z: [18, 140]}
joints:
  - {join: [bottom, shelf], to: [left, right], workshop: true, fittings: [dowel-8x35]}
  - {join: post, to: bottom, fittings: [dowel-8x35]}
"""
"""What is packed as one has a shelf 30 mm over the post that is to come down into it."""


def test_a_part_is_moved_made_shorter_or_opened_by_the_millimetres_needed(
    tmp_path: pathlib.Path,
) -> None:
    """The shelf covers 30 of the post's 18 mm and what lies before it; 1 mm stays clear."""
    cures, product = cures_of(tmp_path, POST)
    assert cures.size == 1
    by_kind = {cure.changes[0].kind: cure.changes[0] for cure in cures.cures}
    assert by_kind["moved"].words == "move Shelf 31 mm to the front"
    assert by_kind["shorter"].words == "make Shelf 31 mm shorter at its back end"
    assert by_kind["shorter"].means == "so that Post passes it; it becomes 464 × 169 mm"
    assert by_kind["notched"].words == "cut an opening of 102 × 20 mm into Shelf"
    for kind in ("moved", "shorter", "notched"):
        planned(by_kind[kind].product, product[3])


def test_one_millimetre_less_than_a_move_offered_is_too_little(tmp_path: pathlib.Path) -> None:
    near = POST.replace("y: [0, 200], z: {from: 150}", "y: [-30, 170], z: {from: 150}")
    assert isinstance(make_plan(*made(tmp_path, near))[0], Plan)
    short = POST.replace("y: [0, 200], z: {from: 150}", "y: [-29, 171], z: {from: 150}")
    assert isinstance(make_plan(*made(tmp_path, short))[0], Impossible)


LID = """\
kdkit: 1
product: Lid pocket-screwed from inside
boards:
  b: {material: particleboard-p2, thickness: 18}
panels:
  left: {title: Left, board: b, x: {from: 0}, y: [0, 300], z: [0, 300]}
  right: {title: Right, board: b, x: {to: 500}, y: [0, 300], z: [0, 300]}
  front: {title: Front, board: b, x: [18, 482], y: {from: 0}, z: [0, 300]}
  rear: {title: Rear, board: b, x: [18, 482], y: {to: 300}, z: [0, 300]}
  floor: {title: Floor, board: b, x: [18, 482], y: [18, 282], z: {from: 0}}
  lid: {title: Lid, board: b, x: [0, 500], y: [0, 300], z: {from: 300}}
joints:
  - {join: [front, rear, floor], to: [left, right], fittings: [dowel-8x35]}
  - {join: left, to: lid, fittings: [{fitting: pocket-screw-4x32-carcass, opens: +x}]}
  - {join: right, to: lid, fittings: [{fitting: pocket-screw-4x32-carcass, opens: -x}]}
"""


def test_leaning_screws_are_driven_from_the_other_side_and_their_room_is_told(
    tmp_path: pathlib.Path,
) -> None:
    """One side with its pockets outside goes on last; two changes are not asked for."""
    file = tmp_path / "lid.yaml"
    file.write_text(LID, encoding="utf-8")
    shown = CliRunner().invoke(group, ["check", str(file)])
    said = " ".join(shown.output.split())
    assert "open the fittings between Left and Lid to the other side of Left: then" in said
    assert "the long screwdriver needs 16 mm beside its axis, and Rear leaves 7 mm" in said
    assert "its handle would be past Rear 299 mm out" in said
