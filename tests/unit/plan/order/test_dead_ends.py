"""Orders that look right and end stuck: counted against every order tried out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.choice.costs import PartFacts
from kdkit.plan.choice.facts import canonical_order, part_facts
from kdkit.plan.order.dead_ends import advise_dead_ends, count_dead_ends
from tests.boxes import Made, board, bookcase, cabinet_with_grooved_back, make, pinwheel


def case_of(made: Made) -> tuple[Blocking, tuple[PartFacts, ...], int]:
    parts = canonical_order(made[1].parts)
    facts = part_facts(parts, made[2], made[3])
    blocking = find_blocking([p.name for p in parts], *made[1:])
    return blocking, facts, sum(1 << n for n, f in enumerate(facts) if not f.loose)


def tried_out(
    blocking: Blocking, facts: tuple[PartFacts, ...], among: int, there: int
) -> tuple[int, int]:
    """Every order on from a set, one by one: (complete, stuck)."""
    complete = stuck = 0
    going_on = False
    for part in members(among & ~there):
        new = there | 1 << part
        meets = facts[part].joined & there or not facts[part].joined or not there
        free = any(not blocking.blockers(d, part, new) for d in range(len(blocking.directions)))
        if meets and free:
            going_on = True
            more = tried_out(blocking, facts, among, new)
            complete, stuck = complete + more[0], stuck + more[1]
    if going_on:
        return complete, stuck
    return (1, 0) if there == among else (0, 1)


def slab_and_posts() -> Made:
    """Three posts on a slab: nothing can go wrong."""
    parts = [board("slab", (0, 0, 0), (600, 300, 18))]
    posts = [board(f"post_{n}", (100.0 * n, 0, 18), (100.0 * n + 18, 300, 218)) for n in range(3)]
    return make([*parts, *posts], {(post.name, "slab"): "dowels" for post in posts})


PRODUCTS = {
    "bookcase": bookcase(1, loose=1),
    "cabinet": cabinet_with_grooved_back(),
    "pin-wheel": make(*pinwheel()),
    "posts": slab_and_posts(),
}


@pytest.mark.parametrize("name", PRODUCTS)
def test_the_count_is_that_of_trying_every_order(name: str) -> None:
    blocking, facts, among = case_of(PRODUCTS[name])
    found = count_dead_ends(blocking, facts, among)
    assert found is not None
    assert (found.complete, found.stuck) == tried_out(blocking, facts, among, 0)


def advised(made: Made) -> tuple[Problem, ...]:
    return advise_dead_ends(*made[1:])


def test_a_carcass_has_dead_ends_and_the_advice_names_a_trap() -> None:
    made = bookcase(2)
    blocking, facts, among = case_of(made)
    found = count_dead_ends(blocking, facts, among)
    assert found is not None
    assert 0 < found.share < 1
    assert found.trap is not None
    assert 0 < found.by_trap <= found.stuck
    (problem,) = advised(made)
    titles = {part.name: part.title for part in made[1].parts}
    late, first = (titles[blocking.names[p]] for p in found.trap)
    assert f"{late} is put on before {first}" in problem.where
    assert f"{100 * found.share:.0f} % end stuck" in problem.message
    assert f"mark {late} and {first} with the numbers of their steps" in problem.help


def test_after_the_trap_the_part_fits_no_more() -> None:
    """The pair that is named is a real one: with the late part there, no order is saved."""
    blocking, facts, among = case_of(bookcase(2))
    found = count_dead_ends(blocking, facts, among)
    assert found is not None
    assert found.trap is not None
    late, first = found.trap
    assert any(
        tried_out(blocking, facts, among, there)[0]
        and not tried_out(blocking, facts, among, there | 1 << late)[0]
        for there in range(1, among + 1)
        if not there & ~among and not there & (1 << late | 1 << first)
    )


def test_halves_that_must_come_first_are_told() -> None:
    (problem,) = advised(make(*pinwheel()))
    assert "100 % end stuck" in problem.message
    assert "halves must be put together first" in problem.where


def test_nothing_is_said_where_nothing_can_go_wrong() -> None:
    blocking, facts, among = case_of(slab_and_posts())
    found = count_dead_ends(blocking, facts, among)
    assert found is not None
    assert found.complete > 0
    assert found.stuck == 0
    assert advised(slab_and_posts()) == ()


def test_parts_packed_as_one_count_as_one() -> None:
    resolved, assembly, joinery, catalogue = make(*pinwheel())
    joints = tuple(
        replace(joint, workshop={joint.butting, joint.receiving} in ({"a", "b"}, {"c", "d"}))
        for joint in joinery.joints
    )
    assert advised((resolved, assembly, replace(joinery, joints=joints), catalogue)) == ()


def test_too_many_parts_are_not_counted() -> None:
    made = bookcase(9)
    assert count_dead_ends(*case_of(made)) is None
    assert advised(made) == ()
