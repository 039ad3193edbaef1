from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Severity
from kdkit.frames import Frame, Vec3, dot
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import UnitUse
from kdkit.plan import make_plan
from kdkit.plan.motion.bodies import fitted_in_workshop
from kdkit.plan.plan import Impossible, OperationKind, OrderRefused, Plan, Posture, Step
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    corner_ring,
    make,
    pinwheel,
)


def planned(made: Made) -> Plan:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan


def step_of(plan: Plan, id: str) -> Step:
    return next(s for s in plan.steps if id in s.operations)


def used(joinery: Joinery) -> Counter[str]:
    return Counter(
        item.item
        for fastener in joinery.fasteners
        for item in fastener.items
        if not fitted_in_workshop(item.item, joinery.fittings[fastener.fitting])
    )


def check_laws(made: Made, plan: Plan) -> None:
    """Every step after its prerequisites; items over fasteners = over steps; all parts once."""
    place = {o: n for n, o in enumerate(plan.order)}
    assert sorted(place) == sorted(o.id for o in plan.operations)
    for p in plan.precedences:
        assert place[p.before] < place[p.after], p
        assert p.reason
    assert [o for s in plan.steps for o in s.operations] == list(plan.order)
    over_steps: Counter[str] = Counter()
    for step in plan.steps:
        over_steps.update(step.items)
    assert over_steps == used(made[2])
    arrived = Counter(p for s in plan.steps if not s.subassembly for p in s.new)
    assert arrived == Counter(p.name for p in made[1].parts)


def test_bookcase_goes_together_as_a_maker_would() -> None:
    made = bookcase(loose=2)
    plan = planned(made)
    check_laws(made, plan)
    assert plan.search.startswith("exact")
    assert "two hands" in plan.motion_class
    first, second, third = (step_of(plan, f"mate/{n}") for n in ("bottom", "right_side", "back"))
    assert {"left_side", "bottom", "shelf_1", "shelf_2"} <= set(first.new)
    assert first.posture is Posture.ON_LEFT
    assert second.posture in (Posture.ON_LEFT, Posture.ON_FRONT)
    assert third.posture is Posture.ON_FRONT
    assert "square/back" in third.operations
    assert plan.operation("mate/back").direction == (0.0, -1.0, 0.0)
    last = plan.steps[-1]
    assert last.new == ("loose_1", "loose_2")
    assert last.posture is Posture.STANDING
    supports = step_of(plan, "fixture/supports_1")
    assert supports.items == {"support": 8}
    assert supports.number < last.number
    fits = [s for s in plan.steps if not s.new and s.number < first.number]
    assert fits[0].items == {"bolt": 16}
    assert set(fits[0].present) == {"left_side", "right_side"}


def test_cams_are_locked_in_the_step_that_closes_them() -> None:
    plan = planned(bookcase())
    for operation in plan.operations:
        if operation.kind is OperationKind.FASTEN and operation.tool == "screwdriver":
            mates = [
                o
                for o in plan.operations
                if o.kind is OperationKind.MATE and set(operation.joints) & set(o.joints)
            ]
            assert len(mates) == 1
            assert step_of(plan, mates[0].id) == step_of(plan, operation.id)


def test_screwed_bookcase_lies_so_that_screws_are_level_and_caps_come_later() -> None:
    made = bookcase(how="capped-screws")
    plan = planned(made)
    check_laws(made, plan)
    caps = [s for s in plan.steps if s.items.get("cap")]
    assert len(caps) == 1
    assert caps[0].number == len(plan.steps)


def test_pinwheel_is_two_pairs_slid_together() -> None:
    parts, joints = pinwheel()
    made = make(parts, joints)
    plan = planned(made)
    check_laws(made, plan)
    last = next(o for o in reversed(plan.operations) if o.kind is OperationKind.MATE)
    assert len(last.parts) == len(last.onto) == 2
    assert any(s.subassembly for s in plan.steps)


def test_two_pinwheels_dowelled_on_each_other() -> None:
    low, low_joints = pinwheel("l")
    high, high_joints = pinwheel("u", (0, 0, 200))
    made = make([*low, *high], {**low_joints, **high_joints, ("la", "ua"): "dowels"})
    plan = planned(made)
    check_laws(made, plan)


def test_screwed_pinwheel_needs_no_halves() -> None:
    parts, joints = pinwheel(how="capped-screws")
    plan = planned(make(parts, joints))
    assert not any(s.subassembly for s in plan.steps)


def test_corner_ring_is_impossible_with_a_loop_in_every_direction() -> None:
    result, problems = make_plan(*corner_ring())
    assert isinstance(result, Impossible)
    assert set(result.parts) == {"floor", "left", "rear"}
    assert len(result.loops) == 6
    for _, loop in result.loops:
        assert {b.part for b in loop} == set(result.parts)
        assert all(a.by == b.part for a, b in zip(loop, [*loop[1:], loop[0]], strict=True))
        assert all(b.reason for b in loop)
    (problem,) = problems
    assert problem.code == "no-assembly-order"
    assert problem.severity is Severity.ERROR
    assert "dowels" in problem.where
    assert "two hands" in problem.where
    for way in ("to the right", "to the left", "to the back", "to the front", "upwards"):
        assert way in problem.where


def test_corner_ring_with_one_screwed_joint_can_be_built() -> None:
    made = corner_ring(how="capped-screws")
    check_laws(made, planned(made))


def test_a_ring_among_free_parts_names_the_ring_only() -> None:
    _, assembly, joinery, _ = corner_ring()
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): "dowels" for j in joinery.joints
    }
    extra = board("lid", (0, 0, 300), (300, 18, 318))
    result, _ = make_plan(*make([*assembly.parts, extra], {**joints, ("lid", "rear"): "dowels"}))
    assert isinstance(result, Impossible)
    assert "lid" not in result.parts


def test_back_in_four_grooves_goes_in_before_the_last_board() -> None:
    made = cabinet_with_grooved_back()
    plan = planned(made)
    check_laws(made, plan)
    mates = [o.id for o in plan.operations if o.kind is OperationKind.MATE]
    assert mates[-1] != "mate/back"
    reasons = [p.reason for p in plan.precedences if p.before == "mate/back"]
    assert any("groove" in r for r in reasons)


def test_back_in_four_grooves_of_one_frame_is_impossible_without_its_frame_open() -> None:
    made = cabinet_with_grooved_back(("cams", "dowels"))
    plan = planned(made)
    place = {o: n for n, o in enumerate(plan.order)}
    boards = [
        place[f"mate/{n}"]
        for n in ("bottom", "top", "right_side", "left_side")
        if f"mate/{n}" in place
    ]
    assert place["mate/back"] < max(boards)


def test_feet_go_on_before_it_stands_and_the_wall_comes_last() -> None:
    _, assembly, joinery, _ = bookcase()
    down = Frame((0, 0, 0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
    up = Frame((400.0, 280.0, 1800.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    feet = [replace(down, origin=(x, y, 0.0)) for x in (9.0, 791.0) for y in (30.0, 270.0)]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): j.fittings for j in joinery.joints
    }
    made = make(
        assembly.parts,
        joints,
        fixtures=[
            ("feet", "feet", ("left_side", "left_side", "right_side", "right_side"), feet, ()),
            ("wall", "restraint", ("top",), [up], ()),
        ],
    )
    plan = planned(made)
    check_laws(made, plan)
    place = {o: n for n, o in enumerate(plan.order)}
    stand = next(o.id for o in plan.operations if o.kind is OperationKind.STAND)
    assert place["fixture/feet"] < place[stand]
    assert plan.order[-1] == "secure/wall"
    assert plan.steps[-1].items == {"anchor": 1}


def test_workshop_hardware_is_in_no_step() -> None:
    made = bookcase(how="shop-dowels", back=False)
    plan = planned(made)
    assert all("dowel" not in s.items for s in plan.steps)
    check_laws(made, plan)


def tray(how: str = "dowels") -> Made:
    """A tray slid along a base on to a board at the rear; then a stop in front of it."""
    return make(
        [
            board("base", (0, 0, 0), (400, 400, 18)),
            board("rear", (0, 382, 18), (400, 400, 218)),
            board("tray", (50, 100, 18), (350, 382, 36)),
            board("stop", (50, 40, 18), (350, 58, 218)),
        ],
        {("rear", "base"): "dowels", ("tray", "rear"): "dowels", ("stop", "base"): how},
    )


def test_home_hardware_that_would_hinder_is_fitted_later() -> None:
    made = tray()
    plan = planned(made)
    check_laws(made, plan)
    late = next(o for o in plan.operations if o.id == "fit/base/dowel/later")
    assert late.joints == ("stop to base",)
    assert plan.order.index("mate/tray") < plan.order.index(late.id)
    reason = next(p.reason for p in plan.precedences if p.after == late.id)
    assert "in the way" in reason


def test_workshop_hardware_cannot_be_fitted_later() -> None:
    made = tray("shop-dowels")
    plan = planned(made)
    check_laws(made, plan)
    assert not any(o.id.endswith("/later") for o in plan.operations)
    move = plan.operation("mate/tray") if "mate/tray" in plan.order else None
    assert move is None or "base" not in move.onto  # the dowels in the base would stop it


def test_glued_joint_waits() -> None:
    made = bookcase(how="glue", back=False)
    plan = planned(made)
    check_laws(made, plan)
    kinds = Counter(o.kind for o in plan.operations)
    assert kinds[OperationKind.GLUE] == 1


def test_what_is_glued_together_sets_together() -> None:
    """Four shelves between two sides are one glue-up, where nothing bounds the open time."""
    plan = planned(bookcase(how="glue", back=False))
    waits = [o for o in plan.operations if o.kind is OperationKind.WAIT]
    assert [o.minutes for o in waits if o.tool is None] == [60.0]
    clamps = [o for o in waits if o.tool == "clamps"]
    assert sum(len(o.joints) for o in clamps) == 8
    for wait in waits:
        step = next(s for s in plan.steps if wait.id in s.operations)
        mates = [id for id in step.operations if id.startswith("mate/")]
        assert all(plan.order.index(m) < plan.order.index(wait.id) for m in mates)
        assert {(m, wait.id) for m in mates} <= {(p.before, p.after) for p in plan.precedences}
    assert [s.wait_minutes for s in plan.steps if s.wait_minutes] == [60.0]
    # What is worked and what is waited are told apart, and nothing is counted twice.
    assert plan.wait_minutes == 60.0
    assert plan.minutes == pytest.approx(sum(s.minutes for s in plan.steps))
    every = sum(o.minutes for o in plan.operations)
    assert plan.minutes + plan.wait_minutes == pytest.approx(every)


def test_order_hint_is_kept() -> None:
    base = bookcase()
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): j.fittings for j in base[2].joints
    }
    made = make(base[1].parts, joints, order=[("top", "bottom"), ("right_side", "shelf_1")])
    plan = planned(made)
    check_laws(made, plan)
    place = {o: n for n, o in enumerate(plan.order)}
    arrivals = {
        part: place[o.id]
        for o in plan.operations
        if o.kind is OperationKind.MATE
        for part in o.parts
    }
    assert arrivals.get("top", -1) < arrivals["bottom"]
    assert arrivals.get("right_side", -1) < arrivals["shelf_1"]


def stool(order: list[tuple[str, str]]) -> Made:
    """Two sides, a rail dowelled between them, a seat dowelled on top of both."""
    return make(
        [
            board("left_side", (0, 0, 0), (18, 300, 400)),
            board("right_side", (382, 0, 0), (400, 300, 400)),
            board("rail", (18, 100, 100), (382, 118, 200)),
            board("seat", (0, 0, 400), (400, 300, 418)),
        ],
        {
            ("rail", "left_side"): "dowels",
            ("rail", "right_side"): "dowels",
            ("left_side", "seat"): "dowels",
            ("right_side", "seat"): "dowels",
        },
        order=order,
    )


def test_first_order_hint_that_cannot_be_kept_is_named() -> None:
    planned(stool([("left_side", "rail"), ("rail", "seat")]))
    plan, (problem,) = make_plan(*stool([("left_side", "seat"), ("seat", "rail")]))
    assert isinstance(plan, OrderRefused)
    assert problem.code == "order-cannot-be-kept"
    assert problem.path == ("order", 1)
    assert "seat" in problem.message
    assert "dowels" in problem.where


def test_order_hints_in_a_loop_are_refused() -> None:
    base = bookcase()
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): j.fittings for j in base[2].joints
    }
    made = make(base[1].parts, joints, order=[("top", "bottom"), ("bottom", "top")])
    plan, (problem,) = make_plan(*made)
    assert isinstance(plan, OrderRefused)
    assert problem.path == ("order", 1)


def test_unit_is_built_first_and_mated_as_one() -> None:
    box, joints = pinwheel("drawer.", (100, 100, 18), how="capped-screws")
    box = [replace(p, unit="drawer") for p in box]
    parts = [*box, board("base", (0, 0, 0), (900, 900, 18))]
    joints["drawer.a", "base"] = "dowels"
    joints["drawer.c", "base"] = "dowels"
    made = make(
        parts,
        joints,
        units=[UnitUse(name="drawer", title="Drawer", parts=tuple(p.name for p in box))],
    )
    plan = planned(made)
    check_laws(made, plan)
    inner = [s for s in plan.steps if s.subassembly == "Drawer"]
    assert inner
    assert {p for s in inner for p in s.new} == {p.name for p in box}
    whole = [o for o in plan.operations if o.kind is OperationKind.MATE and not o.subassembly]
    assert len(whole) == 1
    assert {*whole[0].parts, *whole[0].onto} == {p.name for p in parts}


def test_units_alike_have_names_of_their_own_and_units_lie_in_units() -> None:
    parts, joints, units = [], {}, []
    for n in range(2):
        key = f"box_{n}"
        some, how = pinwheel(f"{key}.", (100, 100, 18 + 200.0 * n), how="capped-screws")
        parts += [replace(p, unit=key) for p in some]
        joints.update(how)
        units.append(UnitUse(name=key, title="Box", parts=tuple(p.name for p in some)))
    joints["box_0.a", "box_1.a"] = joints["box_0.c", "box_1.c"] = "dowels"
    tower = tuple(p.name for p in parts)
    units.append(UnitUse(name="tower", title="Tower", parts=tower))
    parts.append(board("base", (0, 0, 0), (900, 900, 18)))
    joints["box_0.a", "base"] = joints["box_0.c", "base"] = "dowels"
    made = make(parts, joints, units=units)
    plan = planned(made)
    check_laws(made, plan)
    assert {s.subassembly for s in plan.steps} == {"", "Tower", "Box 1", "Box 2"}
    for name in ("Box 1", "Box 2"):
        assert len({p for s in plan.steps if s.subassembly == name for p in s.new}) == 4


def test_a_unit_that_cannot_be_brought_in_whole_is_taken_apart_with_advice() -> None:
    """Two sides of a box as a "unit", with boards pinned between them that hold both."""
    parts, joints = pinwheel()
    made = make(parts, joints, units=[UnitUse(name="odd", title="Odd pair", parts=("a", "c"))])
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan)
    check_laws(made, plan)
    assert [(p.code, p.severity) for p in problems] == [("unit-not-whole", Severity.ADVICE)]
    assert not any(s.subassembly == "Odd pair" for s in plan.steps)


def test_disconnected_parts_do_not_crash() -> None:
    parts, joints = pinwheel()
    far = board("far", (2000, 0, 0), (2400, 300, 18))
    made = make([*parts, far], joints)
    check_laws(made, planned(made))


def test_single_part_and_no_part() -> None:
    assert planned(make([board("only", (0, 0, 0), (400, 300, 18))], {})).operations == ()
    plan, problems = make_plan(*make([], {}))
    assert problems == ()
    assert isinstance(plan, Plan)
    assert plan.steps == ()


def turned(made: Made, frame: Frame) -> Made:
    """The same boards and joints in a turned product."""
    parts = [replace(p, frame=frame.frame_to_outer(p.frame)) for p in made[1].parts]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): j.fittings for j in made[2].joints
    }
    return make(parts, joints)


def test_sloping_product_uses_its_joints_normals() -> None:
    c, s = 0.9396926207859084, 0.3420201433256687  # 20 degrees
    frame = Frame((0.0, 0.0, 0.0), (c, 0.0, -s), (0.0, 1.0, 0.0), (s, 0.0, c))
    made = turned(bookcase(back=False), frame)
    plan = planned(made)
    check_laws(made, plan)
    slant: Vec3 = (c, 0.0, -s)
    for operation in plan.operations:
        if operation.kind is OperationKind.MATE:
            assert operation.direction is not None
            assert abs(dot(operation.direction, slant)) == pytest.approx(1.0)


def test_sloping_shelves_between_upright_sides() -> None:
    """A shelf turned about its run still meets the sides square; a ledge lies in its way."""
    c, s = 0.9659258262890683, 0.25881904510252074  # 15 degrees
    slope = Frame((0.0, 40.0, 300.0), (1.0, 0.0, 0.0), (0.0, c, -s), (0.0, s, c))
    parts = [
        board("left_side", (0, 0, 0), (18, 320, 600)),
        board("right_side", (582, 0, 0), (600, 320, 600)),
        board("shelf", (18, 0, 0), (582, 220, 18), at=slope),
        board("ledge", (18, 0, 18), (582, 18, 60), at=slope),
        board("bottom", (18, 0, 0), (582, 320, 18)),
    ]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (n, side): "dowels" for n in ("shelf", "bottom") for side in ("left_side", "right_side")
    }
    joints["ledge", "shelf"] = "capped-screws"
    made = make(parts, joints)
    plan = planned(made)
    check_laws(made, plan)
    came = {part: o for o in plan.operations if o.kind is OperationKind.MATE for part in o.parts}
    assert came["shelf"].direction == (-1.0, 0.0, 0.0)
    assert came["right_side"].direction == (-1.0, 0.0, 0.0)
    # the ledge slides along the slope, so that its screws are driven level
    assert came["ledge"].direction is not None
    assert dot(came["ledge"].direction, slope.k) == pytest.approx(0.0)
    assert came["ledge"].posture is Posture.ON_LEFT


def test_order_of_parts_and_joints_never_changes_the_plan() -> None:
    resolved, assembly, joinery, stock = bookcase(loose=2)
    expected = planned((resolved, assembly, joinery, stock))
    rng = random.Random(7)
    for _ in range(4):
        parts = list(assembly.parts)
        joints = list(joinery.joints)
        fixtures = list(joinery.fixtures)
        fasteners = list(joinery.fasteners)
        for mixed in (parts, joints, fixtures, fasteners):
            rng.shuffle(mixed)
        again = planned(
            (
                replace(resolved, parts=tuple(parts)),
                replace(assembly, parts=tuple(parts)),
                replace(
                    joinery,
                    joints=tuple(joints),
                    fixtures=tuple(fixtures),
                    fasteners=tuple(fasteners),
                ),
                stock,
            )
        )
        assert again == expected


def test_catalogue_that_lacks_an_item_is_no_crash() -> None:
    resolved, assembly, joinery, _ = bookcase()
    bare = replace(
        joinery, fasteners=(), joints=tuple(replace(j, fasteners=()) for j in joinery.joints)
    )
    assert planned((resolved, assembly, bare, Catalogue())).steps
