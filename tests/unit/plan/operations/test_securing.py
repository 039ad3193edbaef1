"""The wall comes after the carcass and before what opens."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan, WhyTwo
from tests.boxes import Made
from tests.chests import CHEST
from tests.products import made
from tests.replay import replay

DOORS = pathlib.Path(__file__).parents[3] / "golden" / "two-doors" / "definition.yaml"
WITH_WALL = (
    "fixtures:\n  - {fitting: tip-restraint, on: top, at: [[300, 270, height]], face: top}\n"
)


def planned(folder: pathlib.Path, text: str) -> tuple[Made, Plan]:
    product = made(folder, text)
    plan, problems = make_plan(*product)
    assert isinstance(plan, Plan), problems
    return product, plan


@pytest.mark.parametrize(
    ("text", "opening"),
    [
        (CHEST, "drawer_"),
        (DOORS.read_text(encoding="utf-8").replace("fixtures:\n", WITH_WALL), "_door"),
    ],
    ids=["drawers", "doors"],
)
def test_it_is_fixed_to_the_wall_before_drawers_and_doors(
    tmp_path: pathlib.Path, text: str, opening: str
) -> None:
    product, plan = planned(tmp_path, text)
    rank = {id: n for n, id in enumerate(plan.order)}
    (secure,) = (o for o in plan.operations if o.kind is OperationKind.SECURE)
    (stand,) = (o for o in plan.operations if o.kind is OperationKind.STAND and not o.subassembly)
    mates = [o for o in plan.operations if o.kind is OperationKind.MATE and not o.subassembly]
    opened = [o for o in mates if any(opening in part for part in o.parts)]
    assert opened
    for operation in mates:
        after = rank[operation.id] > rank[secure.id]
        assert after is (operation in opened), operation.id
    assert rank[stand.id] + 1 == rank[secure.id]
    assert secure.persons == 2
    reasons = [p.reason for p in plan.precedences if p.before == secure.id]
    assert reasons
    assert all("tip it over" in reason for reason in reasons)
    assert replay(product, plan) > 0


def test_hinges_are_no_pins(tmp_path: pathlib.Path) -> None:
    _, plan = planned(tmp_path, DOORS.read_text(encoding="utf-8"))
    doors = [plan.operation(f"mate/{name}") for name in ("left_door", "right_door")]
    assert [door.pins for door in doors] == [0, 0]
    assert all(WhyTwo.PINS not in door.why_two for door in doors)


def test_a_product_of_one_part_is_in_the_picture_when_it_is_fixed_to_the_wall(
    tmp_path: pathlib.Path,
) -> None:
    text = """
kdkit: 1
product: Wall shelf
boards: {board: {material: particleboard-p2, thickness: 18}}
panels: {shelf: {board: board, x: [0, 300], y: [0, 200], z: {from: 0}, face: +z}}
fixtures: [{fitting: wall-angle-40, on: shelf, at: [[150, 175, 18]]}]
"""
    _, plan = planned(tmp_path, text)
    kinds = [plan.operation(step.operations[-1]).kind for step in plan.steps]
    assert kinds == [OperationKind.FIXTURE, OperationKind.SECURE]
    assert [step.present for step in plan.steps] == [("shelf",), ("shelf",)]
