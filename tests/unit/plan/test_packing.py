"""Parts packed as one: planned in the workshop, one part at home."""

from __future__ import annotations

import json
from dataclasses import replace

from kdkit.cli.show import plan_text
from kdkit.model.resolved import UnitUse
from kdkit.plan import make_plan
from kdkit.plan.plan import Block, Impossible, OperationKind, Plan
from kdkit.plan.verify import verify_impossible
from kdkit.publish.files.plan_json import plan_data
from tests.boxes import Made, board, make, pinwheel


def planned(made: Made) -> Plan:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan


def table(workshop: tuple[tuple[str, str], ...]) -> Made:
    """A frame of two legs and a rail, and a top that is fastened at home."""
    return make(
        [
            board("left_leg", (0, 0, 0), (40, 400, 700)),
            board("right_leg", (960, 0, 0), (1000, 400, 700)),
            board("rail", (40, 191, 300), (960, 209, 500)),
            board("top", (0, 0, 700), (1000, 400, 718)),
        ],
        {
            ("rail", "left_leg"): ("dowels", "glue"),
            ("rail", "right_leg"): ("dowels", "glue"),
            ("left_leg", "top"): "cams",
            ("right_leg", "top"): "cams",
        },
        workshop=workshop,
    )


BOTH = (("rail", "left_leg"), ("rail", "right_leg"))
FRAME = {"left_leg", "right_leg", "rail"}


def test_a_frame_made_in_the_workshop_arrives_as_one_part() -> None:
    plan = planned(table(BOTH))
    mates = [o for o in plan.operations if o.kind is OperationKind.MATE]
    assert len(mates) == 1
    assert {frozenset(mates[0].parts), frozenset(mates[0].onto)} == {
        frozenset(FRAME),
        frozenset({"top"}),
    }
    (shop,) = plan.workshop
    assert set(shop.parts) == FRAME
    assert sum(o.kind is OperationKind.MATE for o in shop.operations) == 2
    assert set(shop.order) == {o.id for o in shop.operations}
    place = {id: n for n, id in enumerate(shop.order)}
    assert all(place[p.before] < place[p.after] for p in shop.precedences)


def test_no_work_of_the_workshop_is_left_for_home() -> None:
    """Every fastener is worked in exactly one place; glue sets only in the workshop."""
    made = table(BOTH)
    plan = planned(made)
    home = {f for o in plan.operations for f in o.fasteners}
    shop = {f for w in plan.workshop for o in w.operations for f in o.fasteners}
    assert not home & shop
    assert home | shop == {f.id for f in made[2].fasteners}
    assert shop == {f for j in made[2].joints if j.workshop for f in j.fasteners}
    kinds = {o.kind for o in plan.operations}
    assert OperationKind.GLUE not in kinds
    assert OperationKind.WAIT not in kinds
    assert {o.kind for w in plan.workshop for o in w.operations} >= {
        OperationKind.GLUE,
        OperationKind.WAIT,
    }
    assert {p for s in plan.steps for p in s.new} == {p.name for p in made[1].parts}


def test_the_same_joints_at_home_are_steps() -> None:
    plan = planned(table(()))
    assert plan.workshop == ()
    assert sum(o.kind is OperationKind.MATE for o in plan.operations) == 3


def test_joints_between_parts_packed_as_one_are_made_there_too() -> None:
    """Two joints hold three boards together; the third closes in the workshop as well."""
    made = make(
        [
            board("a", (0, 0, 0), (18, 300, 300)),
            board("b", (18, 0, 0), (300, 300, 18)),
            board("c", (18, 0, 18), (36, 300, 300)),
            board("d", (300, 0, 0), (318, 300, 300)),
        ],
        {("b", "a"): "bare", ("c", "b"): "bare", ("a", "c"): "capped-screws", ("b", "d"): "cams"},
        workshop=(("b", "a"), ("c", "b")),
    )
    inside = {j.name: j.workshop for j in made[2].joints}
    assert sum(inside.values()) == 3
    plan = planned(made)
    assert set(plan.workshop[0].parts) == {"a", "b", "c"}
    assert not any("capped-screws" in o.id for o in plan.operations)


def test_a_ring_is_no_less_stuck_for_being_made_in_the_workshop() -> None:
    """Four boards in a ring come from two halves; with three of them as one they do not."""
    parts, joints = pinwheel()
    assert isinstance(make_plan(*make(parts, joints))[0], Plan)
    no, problems = make_plan(*make(parts, joints, workshop=(("a", "b"), ("b", "c"))))
    assert isinstance(no, Impossible)
    assert [p.code for p in problems] == ["no-assembly-order"]
    assert any(" + " in name for name in no.parts)
    packed = make(parts, joints, workshop=(("a", "b"), ("b", "c")))
    assert verify_impossible(no, *packed[1:]) == ()
    assert verify_impossible(no, *make(parts, joints)[1:])
    whole = make_plan(*make(parts, joints, workshop=(("a", "b"), ("b", "c"), ("c", "d"))))[0]
    assert isinstance(whole, Plan)  # all four in the workshop: two pairs slide together
    assert not any(o.kind is OperationKind.MATE for o in whole.operations)
    assert sum(o.kind is OperationKind.MATE for o in whole.workshop[0].operations) == 3


def test_the_check_takes_no_body_that_is_not_packed_so() -> None:
    """A part beside the body that it is packed in would hold itself."""
    parts, joints = pinwheel()
    packed = make(parts, joints, workshop=(("a", "b"), ("b", "c")))
    no, _ = make_plan(*packed)
    assert isinstance(no, Impossible)

    def called(names: dict[str, str]) -> Impossible:
        def named(name: str) -> str:
            return names.get(name, name)

        return replace(
            no,
            parts=tuple(named(name) for name in no.parts),
            loops=tuple(
                (v, tuple(Block(part=named(b.part), by=named(b.by), reason="") for b in walk))
                for v, walk in no.loops
            ),
        )

    (body,) = set(no.parts) - {"d"}
    assert sorted(no.bodies[body]) == ["a", "b", "c"]
    assert verify_impossible(called({body: "c + a + b"}), *packed[1:]) == ()
    assert verify_impossible(called({"d": "a"}), *packed[1:]) == ("a part is named twice",)
    for wrong in ("a + b", "a + b + c + c", "a + b + c + d", "a + b + ghost", " + "):
        assert verify_impossible(called({body: wrong}), *packed[1:])


def test_a_unit_that_arrives_whole_is_not_told_to_come_part_by_part() -> None:
    """Neither the unit that is packed as one, nor one within it."""
    resolved, *rest = table(BOTH)
    for inside in (FRAME, {"left_leg", "rail"}):
        unit = UnitUse(name="frame", title="Frame", parts=tuple(sorted(inside)))
        plan, problems = make_plan(replace(resolved, units=(unit,)), *rest)
        assert isinstance(plan, Plan)
        assert [p.code for p in problems] == []


def test_the_workshop_plan_is_shown_and_written() -> None:
    plan = planned(table(BOTH))
    text = plan_text(plan)
    assert "In the workshop: left_leg + rail + right_leg" in text
    data = json.loads(json.dumps(plan_data(plan)))
    assert data["workshop"][0]["parts"] == list(plan.workshop[0].parts)
    assert {o["kind"] for o in data["workshop"][0]["operations"]} >= {"glue", "mate", "wait"}
    assert not {o["id"] for o in data["operations"]} & {
        o["id"] for o in data["workshop"][0]["operations"]
    }
