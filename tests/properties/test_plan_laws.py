"""The planner against all orders, on small random products of boards."""

from __future__ import annotations

import itertools
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.geometry import contact_between
from kdkit.model.resolved import Part
from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Plan
from tests.bench.agree import least_unheld
from tests.boxes import Box, Made, board, corner_ring, make, pinwheel
from tests.replay import followed

STEP = 20
cell = st.integers(0, 5)
box = st.tuples(st.tuples(cell, cell, cell), st.tuples(*[st.integers(1, 5)] * 3))


def apart(a: Box, b: Box) -> bool:
    return any(a[1][n] <= b[0][n] or b[1][n] <= a[0][n] for n in range(3))


@st.composite
def boxes(draw: st.DrawFn) -> list[Box]:
    """Up to five disjoint boxes on a grid of 20 mm, no two sides of a box alike."""
    kept: list[Box] = []
    for low, size in draw(st.lists(box, min_size=4, max_size=9)):
        lows = tuple(float(STEP * v) for v in low)
        highs = tuple(w + STEP * s + n for n, (w, s) in enumerate(zip(lows, size, strict=True)))
        new: Box = (lows, highs)  # type: ignore[assignment]
        if all(apart(new, old) for old in kept):
            kept.append(new)
    return kept[:5]


def product(found: list[Box], choose: list[int]) -> Made:
    parts = [board(f"p{n}", *b) for n, b in enumerate(found)]
    loose = make(parts, {})
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for n, m in itertools.combinations(range(len(parts)), 2):
        if contact_between(loose[1], f"p{n}", f"p{m}"):
            joints[f"p{n}", f"p{m}"] = "pin" if choose[(n * 5 + m) % len(choose)] else "bare"
    return make(parts, joints)


def can_be_built(made: Made, found: list[Box]) -> bool:
    """Every split into two halves, every axis direction, all the way down."""
    names = [p.name for p in made[1].parts]
    number = {name: n for n, name in enumerate(names)}
    free: dict[tuple[int, int, int, int], bool] = {}
    for n, m in itertools.permutations(range(len(names)), 2):
        for axis, sign in itertools.product(range(3), (1, -1)):
            a, b = found[n], found[m]
            beside = any(a[1][o] <= b[0][o] or b[1][o] <= a[0][o] for o in range(3) if o != axis)
            behind = b[1][axis] <= a[0][axis] if sign > 0 else b[0][axis] >= a[1][axis]
            free[n, m, axis, sign] = beside or behind
    for joint in made[2].joints:
        if "pin" not in joint.fittings:
            continue
        k = joint.contact.frame.k
        for n, m, way in (
            (number[joint.butting], number[joint.receiving], 1.0),
            (number[joint.receiving], number[joint.butting], -1.0),
        ):
            for axis, sign in itertools.product(range(3), (1, -1)):
                if k[axis] * way * sign < 0.99:
                    free[n, m, axis, sign] = False

    @cache
    def solvable(parts: frozenset[int]) -> bool:
        if len(parts) == 1:
            return True
        for size in range(1, len(parts)):
            for some in itertools.combinations(sorted(parts), size):
                rest = parts - set(some)
                for axis, sign in itertools.product(range(3), (1, -1)):
                    if (
                        all(free[n, m, axis, sign] for n in some for m in rest)
                        and solvable(frozenset(some))
                        and solvable(rest)
                    ):
                        return True
        return False

    return solvable(frozenset(range(len(names))))


@given(boxes(), st.lists(st.integers(0, 1), min_size=11, max_size=11))
@settings(max_examples=80, deadline=None, derandomize=True)
def test_feasible_just_when_some_order_of_all_is(found: list[Box], choose: list[int]) -> None:
    made = product(found, choose)
    result, problems = make_plan(*made, detours=False)  # as the orders that are tried here
    if can_be_built(made, found):
        assert isinstance(result, Plan), problems
    else:
        assert isinstance(result, Impossible)
        for _, loop in result.loops:
            assert {b.part for b in loop} == set(result.parts)


@given(boxes(), st.lists(st.integers(0, 2), min_size=11, max_size=11))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_nothing_is_brought_to_what_neither_joins_nor_carries_it_without_need(
    found: list[Box], choose: list[int]
) -> None:
    """As seldom as in the best of all orders; some that touch are joined, others only lie."""
    parts = [board(f"p{n}", *b) for n, b in enumerate(found)]
    touching = itertools.combinations(range(len(parts)), 2)
    loose = make(parts, {})
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (f"p{n}", f"p{m}"): ("pin", "bare")[how - 1]
        for n, m in touching
        if (how := choose[(n * 5 + m) % len(choose)])
        and contact_between(loose[1], f"p{n}", f"p{m}")
    }
    made = make(parts, joints)
    plan, _ = make_plan(*made)
    if isinstance(plan, Plan):
        assert len(followed(made, plan).unheld) <= least_unheld(made)


@given(boxes())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_five_disjoint_boxes_are_never_stuck(found: list[Box]) -> None:
    # Source: Snoeyink and Stolfi, Objects that cannot be taken apart with two hands: sets
    # of up to five convex bodies come apart; boxes of one frame along an axis.
    parts = [board(f"p{n}", *b) for n, b in enumerate(found)]
    result, _ = make_plan(*make(parts, {}))
    assert isinstance(result, Plan)
    place = {o: n for n, o in enumerate(result.order)}
    assert all(place[p.before] < place[p.after] for p in result.precedences)


def extents(made: Made) -> list[Box]:
    found: list[Box] = []
    for part in made[1].parts:
        corners = [
            part.frame.point_to_outer((x, y, z))
            for x, y in part.outline
            for z in (0.0, -part.thickness)
        ]
        low, high = zip(*[(min(v), max(v)) for v in zip(*corners, strict=True)], strict=True)
        found.append((low, high))
    return found


def rings() -> list[tuple[list[Part], list[tuple[str, str]]]]:
    """Boards in rings: three in a corner, four as a pin-wheel, all with more beside them."""
    corner = corner_ring()
    three = list(corner[1].parts), [(j.butting, j.receiving) for j in corner[2].joints]
    wheel, joints = pinwheel(low=(0.0, 0.0, 18.0))
    floor = board("floor", (0, 0, 0), (600, 600, 18))
    lid = board("lid", (0, 18, 300), (300, 300, 318))
    side = board("side", (300, 0, 0), (318, 300, 300))
    more = [*three[1], ("lid", "left"), ("side", "floor"), ("side", "rear")]
    return [
        three,
        ([*three[0], lid, side], more),
        ([*three[0], lid], [*three[1], ("lid", "left")]),
        (wheel, list(joints)),
        ([*wheel, floor], [*joints, ("a", "floor"), ("c", "floor")]),
    ]


def test_rings_of_boards_in_every_way_of_pinning() -> None:
    counted = {Plan: 0, Impossible: 0}
    for parts, pairs in rings():
        for number in range(2 ** len(pairs)):
            how = {pair: "pin" if number >> n & 1 else "bare" for n, pair in enumerate(pairs)}
            made = make(parts, how)
            result, _ = make_plan(*made, detours=False)
            expected = Plan if can_be_built(made, extents(made)) else Impossible
            assert isinstance(result, expected), how
            counted[expected] += 1
    assert min(counted.values()) >= 10
