"""Every product of the gallery gets the verdict that follows from reasoning."""

from __future__ import annotations

import functools
import pathlib
import tomllib
from typing import Any

import pytest

from kdkit.diagnostics import Problem
from kdkit.plan import make_plan
from kdkit.plan.plan import (
    Impossible,
    Operation,
    OperationKind,
    OrderRefused,
    Plan,
    Posture,
    Slide,
)
from kdkit.plan.verify import verify_impossible
from tests.boxes import Made
from tests.gallery import products
from tests.gallery.glued import GLUED
from tests.gallery.leaning import LEANING
from tests.gallery.roundabout import ROUNDABOUT
from tests.gallery.tooled import TOOLED
from tests.replay import replay

PRODUCTS = {**products.PRODUCTS, **TOOLED, **GLUED, **LEANING, **ROUNDABOUT}
GALLERY: dict[str, dict[str, Any]] = tomllib.loads(
    pathlib.Path(__file__).with_name("gallery.toml").read_text(encoding="utf-8")
)


@functools.cache
def verdict_of(name: str) -> tuple[Made, Plan | Impossible | OrderRefused, tuple[Problem, ...]]:
    made = PRODUCTS[name]()
    return made, *make_plan(*made)


def moves(plan: Plan) -> list[Operation]:
    kinds = (OperationKind.MATE, OperationKind.LOAD)
    return [o for o in map(plan.operation, plan.order) if o.kind in kinds]


def arrival(plan: Plan, part: str) -> int:
    """When a part last comes to others; the base is there from the start."""
    return max((n for n, o in enumerate(moves(plan)) if part in o.parts), default=-1)


def planned(name: str) -> tuple[Made, Plan]:
    made, plan, problems = verdict_of(name)
    assert isinstance(plan, Plan), problems
    return made, plan


def saying(key: str) -> list[str]:
    return [name for name, said in GALLERY.items() if key in said]


def test_every_product_has_its_verdict_and_reason() -> None:
    assert sorted(GALLERY) == sorted(PRODUCTS)
    assert len(GALLERY) >= 30
    assert all(len(said["reason"]) > 20 for said in GALLERY.values())


@pytest.mark.parametrize("name", PRODUCTS)
def test_verdict(name: str) -> None:
    made, found, problems = verdict_of(name)
    expected = GALLERY[name]["verdict"]
    if expected == "plan":
        assert isinstance(found, Plan), problems
    elif expected == "impossible":
        assert isinstance(found, Impossible)
        assert verify_impossible(found, *made[1:]) == ()
        assert [p.code for p in problems] == ["no-assembly-order"]
    else:
        assert expected == "order-refused"
        assert isinstance(found, OrderRefused)
        assert found.reasons
        assert [p.code for p in problems] == ["order-cannot-be-kept"]


@pytest.mark.parametrize("name", [n for n, s in GALLERY.items() if s["verdict"] == "plan"])
def test_plans_replay(name: str) -> None:
    made, plan = planned(name)
    assert replay(made, plan) == len(made[1].parts) - 1


@pytest.mark.parametrize("name", saying("holds"))
def test_certificate_names_those_that_hold_each_other(name: str) -> None:
    _, found, _ = verdict_of(name)
    assert isinstance(found, Impossible)
    assert sorted(found.parts) == GALLERY[name]["holds"]


@pytest.mark.parametrize("name", saying("halves"))
def test_halves_only_where_they_are_needed(name: str) -> None:
    _, plan = planned(name)
    halves = any(len(o.parts) > 1 and len(o.onto) > 1 for o in moves(plan))
    assert halves is GALLERY[name]["halves"]


@pytest.mark.parametrize("name", saying("before"))
def test_what_must_come_first_does(name: str) -> None:
    _, plan = planned(name)
    for first, some in GALLERY[name]["before"]:
        last = max(arrival(plan, part) for part in some.split("|"))
        assert arrival(plan, first) <= last


@pytest.mark.parametrize("name", saying("last"))
def test_last_part_and_its_way(name: str) -> None:
    _, plan = planned(name)
    last = moves(plan)[-1]
    ((some, way),) = GALLERY[name]["last"].items()
    assert set(last.parts) & set(some.split("|"))
    if any(way):
        assert last.direction == pytest.approx(way, abs=1e-4)


@pytest.mark.parametrize("name", saying("told"))
def test_what_is_told_with_it(name: str) -> None:
    _, _, problems = verdict_of(name)
    assert [p.code for p in problems] == GALLERY[name]["told"]


@pytest.mark.parametrize("name", saying("glue_ups"))
def test_in_how_many_goes_it_is_glued(name: str) -> None:
    _, plan = planned(name)
    goes = {o.glue_up for o in plan.operations if o.glue_up}
    assert len(goes) == GALLERY[name]["glue_ups"]


@pytest.mark.parametrize("name", saying("tools"))
def test_the_tool_that_has_room(name: str) -> None:
    _, plan = planned(name)
    used = {o.tool for o in plan.operations if o.kind is OperationKind.FASTEN}
    assert set(GALLERY[name]["tools"]) <= used


@pytest.mark.parametrize("name", saying("lying"))
def test_what_is_reached_from_below_is_worked_lying(name: str) -> None:
    _, plan = planned(name)
    for operation in plan.operations:
        if operation.kind is OperationKind.FASTEN and set(GALLERY[name]["lying"]) & set(
            operation.parts
        ):
            assert operation.posture is not Posture.STANDING


@pytest.mark.parametrize("name", saying("moves"))
def test_what_goes_in_by_more_than_one_move(name: str) -> None:
    """And nothing else does."""
    _, plan = planned(name)
    winding = {
        "+".join(o.parts): " ".join("slide" if isinstance(m, Slide) else "tilt" for m in o.moves)
        for shop in (plan, *plan.workshop)
        for o in shop.operations
        if o.moves
    }
    assert winding == GALLERY[name]["moves"]


@pytest.mark.parametrize("name", [n for n, s in GALLERY.items() if s["verdict"] == "plan"])
def test_one_straight_move_where_that_does(name: str) -> None:
    _, plan = planned(name)
    assert any(o.moves for o in moves(plan)) is ("moves" in GALLERY[name])


@pytest.mark.parametrize("name", saying("tried"))
def test_a_no_says_what_else_was_tried(name: str) -> None:
    _, found, (problem,) = verdict_of(name)
    assert isinstance(found, Impossible)
    assert "two straight moves in a row" in found.tried
    assert "tilting about" in found.tried
    assert found.tried in problem.where
