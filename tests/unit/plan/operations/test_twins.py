from __future__ import annotations

import pathlib
from collections import Counter
from dataclasses import replace

from kdkit.parts.sameness import number_pieces
from kdkit.plan import make_plan
from kdkit.plan.operations.steps import group_steps
from kdkit.plan.operations.twins import find_twins
from kdkit.plan.plan import Operation, OperationKind, Plan, Precedence
from tests.boxes import Made
from tests.products import made
from tests.replay import replay

TRAYS = """\
kdkit: 1
product: Board with trays
boards:
  carcass: {material: particleboard-p2, thickness: 18}
unit_definitions:
  tray:
    product: Tray
    parameters: {wide: 300}
    boards:
      carcass: {material: particleboard-p2, thickness: 18}
    panels:
      left: {title: End, board: carcass, x: {from: 0}, y: [0, 200], z: [0, 100], face: +x}
      right: {title: End, board: carcass, x: {to: wide}, y: [0, 200], z: [0, 100], face: -x}
      near: {title: Near rail, board: carcass, x: [18, wide - 18], y: {from: 0}, z: [0, 100]}
      far: {title: Far rail, board: carcass, x: [18, wide - 18], y: {to: 200}, z: [0, 100]}
    joints:
      - {join: [near, far], to: [left, right], fittings: [dowel-8x35]}
panels:
  base: {title: Base, board: carcass, x: [0, 1300], y: [0, 300], z: {from: 0}}
units:
  one: {define: tray, at: [10, 50, 18]}
  two: {define: tray, at: [330, 50, 18]}
  wide: {define: tray, at: [650, 50, 18], parameters: {wide: 301}}
  three: {define: tray, at: [970, 50, 18]}
joints:
  - join: [one.left, one.right, two.left, two.right, wide.left, wide.right]
    to: base
    fittings: [dowel-8x35]
  - {join: [three.left, three.right], to: base, fittings: [dowel-8x35]}
"""


def planned(product: Made) -> Plan:
    plan, problems = make_plan(*product)
    assert isinstance(plan, Plan), problems
    return plan


def test_units_built_alike_share_their_steps(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, TRAYS)
    plan = planned(product)
    shared = [s for s in plan.steps if s.times > 1]
    assert {s.subassembly for s in shared} == {"Tray 1"}
    assert {s.times for s in shared} == {3}
    assert {p for s in shared for p in s.new} == {f"one.{n}" for n in product_parts()}
    others = {p for s in shared for p in s.others}
    assert others == {f"{unit}.{n}" for unit in ("two", "three") for n in product_parts()}
    alone = {s.subassembly for s in plan.steps if s.times == 1}
    assert any(s.startswith("Tray") for s in alone), "the wider tray is built by itself"


def product_parts() -> tuple[str, ...]:
    return ("left", "right", "near", "far")


def test_shared_steps_hold_all_operations_and_all_hardware(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, TRAYS)
    plan = planned(product)
    told = [id for step in plan.steps for id in step.operations]
    assert told == list(plan.order)
    assert sorted(told) == sorted(o.id for o in plan.operations)
    rank = {id: n for n, id in enumerate(plan.order)}
    assert all(rank[p.before] < rank[p.after] for p in plan.precedences)
    over_steps: Counter[str] = Counter()
    for step in plan.steps:
        over_steps.update(step.items)
        assert len(step.operations) == step.times * len(step.shown)
        parts = {p for id in step.shown for p in plan.operation(id).parts}
        assert step.times == 1 or {p.split(".")[0] for p in parts} == {"one"}
    placed = Counter(i.item for f in product[2].fasteners for i in f.items)
    assert over_steps == placed


def test_a_plan_with_shared_steps_replays(tmp_path: pathlib.Path) -> None:
    product = made(tmp_path, TRAYS)
    plan = planned(product)
    assert replay(product, plan) == sum(
        o.kind in (OperationKind.MATE, OperationKind.LOAD) for o in plan.operations
    )


def test_a_bore_more_makes_a_piece_another_one(tmp_path: pathlib.Path) -> None:
    _, assembly, joinery, _ = made(tmp_path, TRAYS)
    before = number_pieces(assembly.parts, joinery)
    assert before["one.near"] == before["three.near"]
    assert before["one.near"] != before["wide.near"]
    bore = next(b for b in joinery.bores if b.part == "one.near")
    more = replace(joinery, bores=(*joinery.bores, bore))
    after = number_pieces(assembly.parts, more)
    assert after["one.near"] != after["three.near"]
    assert after["one.far"] == after["three.far"]


def do(name: str, part: str, of: str) -> Operation:
    return Operation(
        id=name, kind=OperationKind.MATE, parts=(part,), items={"dowel": 2}, subassembly=of
    )


def test_twins_are_found_by_what_is_done_and_merged_at_the_first() -> None:
    details = {"a1": "side", "a2": "side", "b1": "side", "b2": "side", "c1": "side", "c2": "rail"}
    operations = [
        *(do(f"{n}/A", n, "A") for n in ("a1", "a2")),
        *(do(f"{n}/B", n, "B") for n in ("b1", "b2")),
        *(do(f"{n}/C", n, "C") for n in ("c1", "c2")),
    ]
    twins = find_twins(operations, details)
    assert twins == {"A": ("A", "B")}
    alike = {name: name for name in details}
    steps = group_steps(operations, [o.id for o in operations], alike, (), twins)
    assert [s.operations for s in steps] == [
        ("a1/A", "b1/B"),
        ("a2/A", "b2/B"),
        ("c1/C",),
        ("c2/C",),
    ]
    assert [s.times for s in steps] == [2, 2, 1, 1]
    assert steps[0].items == {"dowel": 4}
    assert (steps[0].new, steps[0].others) == (("a1",), ("b1",))


def test_twins_that_wait_for_each_other_are_not_merged() -> None:
    details = {"a1": "side", "a2": "side", "b1": "side", "b2": "side"}
    operations = [
        *(do(f"{n}/A", n, "A") for n in ("a1", "a2")),
        *(do(f"{n}/B", n, "B") for n in ("b1", "b2")),
    ]
    alike = {name: name for name in details}
    twins = find_twins(operations, details)
    edge = [
        Precedence(before="a1/A", after="a2/A", reason="because"),
        Precedence(before="a2/A", after="b1/B", reason="because"),
    ]
    order = [o.id for o in operations]
    steps = group_steps(operations, order, alike, (), twins, edge)
    assert [id for step in steps for id in step.operations] == order
    assert {s.times for s in steps} == {1}


def test_what_must_come_before_a_copy_comes_before_the_first() -> None:
    details = {"a1": "side", "b1": "side", "c": "rail"}
    operations = [do("a1/A", "a1", "A"), do("c/-", "c", ""), do("b1/B", "b1", "B")]
    alike = {name: name for name in details}
    edge = [Precedence(before="c/-", after="b1/B", reason="because")]
    twins = find_twins(operations, details)
    steps = group_steps(operations, [o.id for o in operations], alike, (), twins, edge)
    assert [s.operations for s in steps] == [("c/-",), ("a1/A", "b1/B")]
