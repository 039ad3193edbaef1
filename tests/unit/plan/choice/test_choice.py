from __future__ import annotations

from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import Move
from kdkit.plan.choice.choosing import EXACT_PARTS, Stem, choose_order, guided_order
from kdkit.plan.choice.costs import Costs, PartFacts, turn_cost
from kdkit.plan.choice.facts import canonical_order, part_facts
from kdkit.plan.plan import Posture
from tests.boxes import Made, bookcase


def scene(made: Made) -> tuple[Blocking, tuple[PartFacts, ...]]:
    parts = canonical_order(made[1].parts)
    return (
        find_blocking([p.name for p in parts], *made[1:]),
        part_facts(parts, made[2], made[3], made[1]),
    )


def priced(
    blocking: Blocking, facts: tuple[PartFacts, ...], stem: Stem, finish: Posture = Posture.STANDING
) -> float:
    """Add up what a stem costs, step by step, without the search."""
    costs = Costs(blocking, facts)
    posture = stem.posture
    total = costs.base(stem.base.bit_length() - 1, POSTURES.index(posture))
    there = stem.base
    for arrival in stem.arrivals:
        total += turn_cost(posture, arrival.posture) * heavier(facts, there)
        move = Move(arrival.parts, arrival.direction ^ 1)
        total += costs.step(move, there, POSTURES.index(arrival.posture))
        there |= arrival.parts
        posture = arrival.posture
    return total + turn_cost(posture, finish) * heavier(facts, there)


def heavier(facts: tuple[PartFacts, ...], there: int) -> float:
    """Turning costs once more for every 15 kg over 15."""
    mass = sum(facts[part].poise.mass for part in members(there))
    return 1 + max(0.0, mass - 15.0) / 15.0


def test_stated_cost_is_the_sum_of_the_steps() -> None:
    for shelves in (1, 4):
        blocking, facts = scene(bookcase(shelves))
        stem = choose_order(blocking, facts, blocking.everything, Posture.STANDING)
        assert stem.search.startswith("exact")
        assert abs(priced(blocking, facts, stem) - stem.cost) < 1e-6


def test_guided_search_is_near_the_exact_one() -> None:
    for shelves in (1, 3, 6):
        blocking, facts = scene(bookcase(shelves))
        costs = Costs(blocking, facts)
        exact = choose_order(blocking, facts, blocking.everything, Posture.STANDING)
        guided = guided_order(costs, blocking.everything, Posture.STANDING, "asked for")
        assert guided.search == "guided: asked for"
        assert priced(blocking, facts, guided) <= priced(blocking, facts, exact) + 2.0


def test_large_products_say_that_the_search_wasguided_order() -> None:
    blocking, facts = scene(bookcase(EXACT_PARTS))
    stem = choose_order(blocking, facts, blocking.everything, Posture.STANDING)
    assert stem.search.startswith("guided")
    assert stem.parts == blocking.everything


def test_every_arrival_can_leave_again() -> None:
    blocking, facts = scene(bookcase(3))
    stem = choose_order(blocking, facts, blocking.everything, Posture.STANDING)
    there = stem.base
    for arrival in stem.arrivals:
        there |= arrival.parts
        for part in members(arrival.parts):
            held = blocking.blockers(arrival.direction ^ 1, part, there)
            assert not held & ~arrival.parts


def test_facts_know_the_back_and_the_loose_shelf() -> None:
    made = bookcase(1, loose=1)
    blocking, facts = scene(made)
    known = dict(zip(blocking.names, facts, strict=True))
    assert [n for n, f in known.items() if f.laid] == ["back"]
    assert [n for n, f in known.items() if f.loose] == ["loose_1"]
    assert known["back"].joined.bit_count() == 5
