"""Whatever a plan brings together is joined by that, or rests where it is put."""

from __future__ import annotations

import json
import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.diagnostics import Problem
from kdkit.plan import make_plan
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture
from tests.boxes import Made, board, make
from tests.replay import followed


def planned(made: Made) -> tuple[Plan, tuple[Problem, ...]]:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan, problems


def moves(plan: Plan) -> list[Operation]:
    kinds = (OperationKind.MATE, OperationKind.LOAD)
    return [o for o in map(plan.operation, plan.order) if o.kind in kinds]


def desk(*, drawer: bool = False) -> Made:
    """Two leg frames under a top, and beside one of them cheeks and a shelf hung under it."""
    parts = [board("top", (0, 0, 720), (1200, 600, 738))]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for name, x in (("left", 0.0), ("right", 1155.0)):
        front, rear, foot = f"{name}_front", f"{name}_rear", f"{name}_foot"
        parts += [
            board(front, (x, 40, 45), (x + 45, 85, 720)),
            board(rear, (x, 515, 45), (x + 45, 560, 720)),
            board(foot, (x, 40, 0), (x + 45, 560, 45)),
        ]
        joints |= {
            (front, foot): "dowels",
            (rear, foot): "dowels",
            (front, "top"): "capped-screws",
            (rear, "top"): "capped-screws",
        }
    parts += [
        board("cheek_left", (60, 60, 540), (78, 540, 720)),
        board("cheek_right", (460, 60, 540), (478, 540, 720)),
        board("shelf", (78, 60, 540), (460, 540, 558)),
    ]
    joints |= {
        ("shelf", "cheek_left"): "cams",
        ("shelf", "cheek_right"): "cams",
        ("cheek_left", "top"): "capped-screws",
        ("cheek_right", "top"): "capped-screws",
    }
    if drawer:
        parts += [
            board("d_front", (93, 62, 558), (445, 80, 700)),
            board("d_rear", (111, 482, 558), (427, 500, 700)),
            board("d_left", (93, 80, 558), (111, 500, 700)),
            board("d_right", (427, 80, 558), (445, 500, 700)),
            board("d_floor", (111, 80, 558), (427, 482, 567)),
        ]
        joints |= {
            ("d_front", "d_left"): "capped-screws",
            ("d_front", "d_right"): "capped-screws",
            ("d_rear", "d_left"): "capped-screws",
            ("d_rear", "d_right"): "capped-screws",
            ("d_floor", "d_left"): "capped-screws",
            ("d_floor", "d_right"): "capped-screws",
        }
    return make(parts, joints)


def walls_on_a_base() -> Made:
    """Four walls on a base; they meet only at their edges, and only the lid joins them."""
    parts = [
        board("base", (0, 0, 0), (400, 400, 18)),
        board("front", (0, 0, 18), (382, 18, 318)),
        board("right", (382, 0, 18), (400, 382, 318)),
        board("rear", (18, 382, 18), (400, 400, 318)),
        board("left", (0, 18, 18), (18, 400, 318)),
        board("lid", (0, 0, 318), (400, 400, 336)),
    ]
    return make(parts, {(wall, "lid"): "dowels" for wall in ("front", "right", "rear", "left")})


def test_what_hangs_under_a_top_comes_to_the_top() -> None:
    """Nothing is lowered onto a leg frame that it never touches."""
    for drawer in (False, True):
        made = desk(drawer=drawer)
        plan, problems = planned(made)
        assert followed(made, plan).unheld == []
        assert all(o.joints or o.rests for o in moves(plan) if o.kind is OperationKind.MATE)
        assert "not-joined-yet" not in {p.code for p in problems}


def test_walls_that_only_the_lid_joins_are_put_on_the_lid_and_then_on_the_base() -> None:
    made = walls_on_a_base()
    plan, _ = planned(made)
    assert followed(made, plan).unheld == []
    assert plan.operation(plan.order[-1]).kind is OperationKind.MATE
    last = moves(plan)[-1]
    assert last.onto == ("base",)
    assert last.rests
    assert last.posture is Posture.STANDING
    assert last.direction == (0.0, 0.0, -1.0)


@pytest.mark.parametrize("gap", [2, 15])
def test_a_drawer_that_nothing_joins_goes_into_the_standing_carcass_last(gap: int) -> None:
    parts = [
        board("left", (0, 0, 0), (18, 400, 700)),
        board("right", (582, 0, 0), (600, 400, 700)),
        board("bottom", (18, 0, 60), (582, 400, 78)),
        board("top", (18, 0, 682), (582, 400, 700)),
        board("d_front", (18 + gap, 0, 90), (582 - gap, 18, 300)),
        board("d_rear", (36 + gap, 382, 90), (564 - gap, 400, 300)),
        board("d_left", (18 + gap, 18, 90), (36 + gap, 400, 300)),
        board("d_right", (564 - gap, 18, 90), (582 - gap, 400, 300)),
        board("d_floor", (36 + gap, 18, 100), (564 - gap, 382, 109)),
    ]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (a, b): "cams" for a in ("bottom", "top") for b in ("left", "right")
    }
    joints |= {("d_floor", f"d_{side}"): "capped-screws" for side in ("left", "right", "rear")}
    joints |= {(f"d_{a}", "d_front"): "dowels" for a in ("left", "right")}
    made = make(parts, joints)
    plan, _ = planned(made)
    last = moves(plan)[-1]
    assert last.kind is OperationKind.LOAD
    assert {name[:2] for name in last.parts} == {"d_"}
    assert last.posture is Posture.STANDING
    assert set(last.onto) == {"left", "right", "bottom", "top"}
    followed(made, plan)


def keyed_bar() -> Made:
    """A bar with a head, through a plate's window, and a key that is pinned to it behind.

    The key's dowels point across the window, and the head does not pass it: the plate is on
    the bar before the key is, which alone joins the two.
    """
    window = ((100.0, 100.0), (200.0, 100.0), (200.0, 200.0), (100.0, 200.0))
    bar = ((0, 0), (50, 0), (50, 110), (400, 110), (400, 190), (50, 190), (50, 300), (0, 300))
    return make(
        [
            board("plate", (0, 0, 0), (18, 300, 300), cutouts=(window,)),
            board(
                "bar",
                (-200, 0, 110),
                (200, 300, 190),
                outline=tuple((float(x), float(y)) for x, y in bar),
                edge_sides=("",) * 8,
                bands=(0.0,) * 8,
            ),
            board("key", (18, 190, 110), (60, 260, 190)),
        ],
        {("key", "bar"): "dowels", ("key", "plate"): "capped-screws"},
    )


def test_what_no_order_avoids_is_told() -> None:
    made = keyed_bar()
    plan, problems = planned(made)
    (alone,) = [o for o in moves(plan) if not o.joints and not o.rests]
    assert alone.held
    assert alone.persons == 2
    assert [(p.code, p.where) for p in problems] == [("not-joined-yet", alone.id)]
    first = {"bar": 0, "plate": 1}  # the joint of each that is said first
    assert problems[0].path == ("joints", first[alone.parts[0]])
    assert followed(made, plan).unheld == [alone.id]


WALLS = """\
kdkit: 1
product: Walls on a base
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  foot: {board: carcass, x: [0, 400], y: [0, 400], z: {from: 0}, face: +z}
  base: {board: carcass, x: [0, 400], y: [0, 400], z: {from: 18}, face: +z}
  lid: {board: carcass, x: [0, 400], y: [0, 400], z: {from: 336}, face: -z}
  front: {board: carcass, x: [0, 382], y: {from: 0}, z: [36, 336]}
  rear: {board: carcass, x: [18, 400], y: {from: 382}, z: [36, 336]}
  left: {board: carcass, x: {from: 0}, y: [18, 400], z: [36, 336]}
  right: {board: carcass, x: {from: 382}, y: [0, 382], z: [36, 336]}
joints:
  - {join: [front, rear, left, right], to: lid, fittings: [dowel-8x30]}
  - {join: foot, to: base, fittings: [glued]}
"""


def test_the_plan_of_a_definition_says_what_joins_or_carries(tmp_path: pathlib.Path) -> None:
    definition = tmp_path / "walls.yaml"
    definition.write_text(WALLS, encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(definition), "--json"])
    plan = json.loads(done.stdout)
    mates = [o for o in plan["operations"] if o["kind"] == "mate"]
    assert [o["id"] for o in mates if not o["joints"] and not o["rests"]] == []
    assert mates[-1]["rests"]
    assert sorted(mates[-1]["onto"]) == ["base", "foot"]


def test_no_turn_while_something_only_rests() -> None:
    """A slab on a box that is dowelled together lying: it is laid on when the box stands."""
    made = make(
        [
            board("left", (0, 0, 0), (18, 300, 400)),
            board("right", (382, 0, 0), (400, 300, 400)),
            board("floor", (18, 0, 0), (382, 300, 18)),
            board("slab", (0, 0, 400), (400, 300, 430)),
        ],
        {("floor", "left"): "dowels", ("floor", "right"): "dowels"},
    )
    plan, _ = planned(made)
    assert followed(made, plan).unheld == []
    last = moves(plan)[-1]
    assert (last.parts, last.rests, last.posture) == (("slab",), True, Posture.STANDING)
