"""The bound under the costs, against orders that are known to be best."""

from __future__ import annotations

import pytest

from kdkit.plan.blocking import find_blocking
from kdkit.plan.choice.bound import least_cost
from kdkit.plan.choice.choosing import choose_order, guided_order
from kdkit.plan.choice.costs import RESTS, Costs
from kdkit.plan.choice.facts import canonical_order, part_facts
from kdkit.plan.plan import Posture
from tests.bench.large_products import heap, scattered, tower
from tests.boxes import Made, board, bookcase, cabinet_with_grooved_back, make, pinwheel

PRODUCTS: dict[str, Made] = {
    "bookcase": bookcase(2),
    "tall bookcase": bookcase(5),
    "low cabinet": cabinet_with_grooved_back(),
    "pin-wheel": make(*pinwheel()),
    "two pin-wheels": tower(2),
    "heap": heap(6),
    "scattered": scattered(7),
}


def scene_of(made: Made) -> Costs:
    _, assembly, joinery, catalogue = made
    parts = canonical_order(assembly.parts)
    blocking = find_blocking([p.name for p in parts], assembly, joinery, catalogue)
    return Costs(blocking, part_facts(parts, joinery, catalogue, assembly))


@pytest.mark.parametrize("finish", [None, Posture.STANDING])
@pytest.mark.parametrize("name", PRODUCTS)
def test_no_order_costs_less_than_the_bound(name: str, finish: Posture | None) -> None:
    scene = scene_of(PRODUCTS[name])
    everything = scene.blocking.everything
    best = choose_order(scene.blocking, scene.facts, everything, finish)
    guided = guided_order(scene, everything, finish, "asked for")
    assert best.search.startswith("exact")
    assert best.least == best.cost
    bound = least_cost(scene, everything, finish)
    assert 0 <= bound <= best.cost + 1e-6
    assert best.cost <= guided.cost + 1e-6


def test_the_bound_is_of_use_for_a_bookcase() -> None:
    scene = scene_of(bookcase(2))
    everything = scene.blocking.everything
    best = choose_order(scene.blocking, scene.facts, everything, None)
    assert least_cost(scene, everything, None) > best.cost / 4  # it knows of nothing that is held


def test_boards_joined_to_nothing_pay_for_each_but_one() -> None:
    parts = [board(f"b{n}", (0, 0, 18.0 * n), (300, 200, 18.0 * n + 18)) for n in range(5)]
    scene = scene_of(make(parts, {}))
    assert least_cost(scene, scene.blocking.everything, None) == pytest.approx(4 * RESTS)


def test_a_guided_plan_says_how_far_it_may_be_from_the_best() -> None:
    scene = scene_of(bookcase(14))
    stem = choose_order(scene.blocking, scene.facts, scene.blocking.everything, Posture.STANDING)
    assert stem.search.startswith("guided: 19 parts, exact up to 16; it costs ")
    assert f"within {stem.cost - stem.least:.1f} of the best" in stem.search
    assert 0 < stem.least < stem.cost


def test_twelve_parts_are_always_compared_in_full() -> None:
    """Of twelve boards that nothing holds every set can be left: the most there can be."""
    scene = scene_of(scattered(12))
    stem = choose_order(scene.blocking, scene.facts, scene.blocking.everything, None)
    assert stem.search.startswith("exact")
