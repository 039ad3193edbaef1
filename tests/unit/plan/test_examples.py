"""The workshop's range, from definition to plan."""

from __future__ import annotations

from collections import Counter

import pytest

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model import read_product, resolve
from kdkit.plan import make_plan
from kdkit.plan.motion.bodies import fitted_in_workshop
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture
from tests.product_files import made_of, product_file, results_of
from tests.replay import replay


def arrivals(plan: Plan) -> dict[str, Operation]:
    return {
        part: o
        for o in plan.operations
        if o.kind in (OperationKind.MATE, OperationKind.LOAD)
        for part in o.parts
    }


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
def test_hardware_over_fasteners_is_hardware_over_steps(name: str) -> None:
    made = made_of(name)
    plan = results_of(name).plan
    over_steps: Counter[str] = Counter()
    for step in plan.steps:
        over_steps.update(step.items)
    assert over_steps == Counter(
        item.item
        for fastener in made[2].fasteners
        for item in fastener.items
        if not fitted_in_workshop(item.item, made[2].fittings[fastener.fitting])
    )
    place = {o: n for n, o in enumerate(plan.order)}
    assert all(place[p.before] < place[p.after] for p in plan.precedences)
    assert {p for s in plan.steps for p in s.new} == {p.name for p in made[1].parts}


def test_bookcase() -> None:
    plan = results_of("bookcase").plan
    came = arrivals(plan)
    assert came["middle_shelf"].posture is Posture.ON_LEFT
    assert came["right_side"].direction == (-1.0, 0.0, 0.0)
    assert came["back"].posture is Posture.ON_FRONT
    assert came["lower_shelf"].kind is OperationKind.LOAD
    assert plan.order.index("secure/wall") < plan.order.index("load/lower_shelf")
    before = plan.operation(plan.order[plan.order.index("secure/wall") - 1])
    assert before.kind is OperationKind.STAND


def test_low_cabinet_slides_its_back_in_before_the_top() -> None:
    plan = results_of("low-cabinet").plan
    came = arrivals(plan)
    assert came["back"].direction == (0.0, 0.0, -1.0)
    assert plan.order.index(came["back"].id) < plan.order.index(came["top"].id)


def test_low_cabinet_is_built_low_and_wide_by_one_person() -> None:
    """The divider stands on the bottom, the rails lie on it upside down, and nothing towers."""
    made = made_of("low-cabinet")
    plan = results_of("low-cabinet").plan
    came = arrivals(plan)
    mates = [o for o in plan.operations if o.kind is OperationKind.MATE]
    assert [o.id for o in mates if o.held] == []
    assert [o.id for o in mates if o.persons > 1] == ["mate/top"]  # its many pins
    assert max(o.height for o in mates) < 650.0
    assert {came[rail].posture for rail in ("plinth", "rear_rail")} == {Posture.UPSIDE_DOWN}
    assert replay(made, plan) > 0


def test_hall_bench_is_two_frames_and_what_lies_between() -> None:
    plan = results_of("hall-bench").plan
    halves = [
        frozenset(o.parts)
        for o in plan.operations
        if o.kind is OperationKind.MATE and len(o.parts) > 1
    ]
    assert any(half & {"front_left_post", "back_left_post"} for half in halves)
    assert frozenset({"left_low_rail", "shoe_shelf", "right_low_rail"}) in halves
    feet = plan.order.index("fixture/feet")
    stand = next(o.id for o in plan.operations if o.kind is OperationKind.STAND)
    assert feet < plan.order.index(stand)


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
def test_order_of_keys_never_changes_the_plan(name: str) -> None:
    expected = results_of(name).plan
    definition, _ = load_definition(product_file(name))
    assert definition is not None
    product, _ = read_product(definition)
    assert product is not None
    turned = product.model_copy(
        update={
            "panels": dict(reversed(product.panels.items())),
            "boards": dict(reversed(product.boards.items())),
            "bought": dict(reversed(product.bought.items())),
        }
    )
    resolved, problems = resolve(turned)
    assert resolved is not None, problems
    assembly, _ = assemble(resolved)
    catalogue, _ = load_catalogue()
    assert assembly is not None
    assert catalogue is not None
    joinery, _ = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None
    assert make_plan(resolved, assembly, joinery, catalogue)[0] == expected
