from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import pytest

from kdkit.frames import scaled
from kdkit.model.resolved import Part
from kdkit.plan.blocking import Blocking, find_blocking
from kdkit.plan.plan import Operation, OperationKind, Plan
from kdkit.plan.taking_apart import TakenApart, divide_product, replace_part
from kdkit.plan.taking_apart.undoing import Undoing, fixed_groups
from tests.bench.agree import random_product
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    corner_ring,
    make,
    pinwheel,
)
from tests.replay import Replay


def lasting(made: Made, *fittings: str) -> Made:
    """The product with some fittings that do not come apart again."""
    resolved, assembly, joinery, stock = made
    changed = {
        key: f.model_copy(update={"reversible": key not in fittings})
        for key, f in joinery.fittings.items()
    }
    return resolved, assembly, replace(joinery, fittings=changed), stock


def taken(made: Made, part: str) -> TakenApart:
    found, problems = replace_part(*made, part)
    assert found is not None, problems
    return found


def removals(plan: Plan) -> list[Operation]:
    return [o for o in plan.operations if o.kind is OperationKind.REMOVE]


def check_ways(made: Made, found: TakenApart) -> None:
    """Every move out is free, seen backwards; every move back is, and leaves nothing open."""
    run = Replay(made, found.back)
    for piece in found.pieces:
        for name in piece:
            run.together[name] = frozenset(piece)
    for operation in reversed(removals(found.out)):
        assert operation.direction is not None
        run.move(replace(operation, direction=scaled(operation.direction, -1.0)))
    everything = {p.name for p in made[1].parts}
    assert all(group == everything for group in run.together.values())
    run = Replay(made, found.back)
    for piece in found.pieces:
        for name in piece:
            run.together[name] = frozenset(piece)
    for operation in map(found.back.operation, found.back.order):
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD):
            run.move(operation)
        elif operation.kind in (OperationKind.FASTEN, OperationKind.CAP):
            run.fasten(operation)
    assert all(group == everything for group in run.together.values())
    assert sorted(n for n, times in run.closed.items() if times) == sorted(found.undone)


def test_the_top_of_a_bookcase_needs_a_side_off() -> None:
    made = bookcase(2, back=False)
    found = taken(made, "top")
    assert len(removals(found.out)) == 2  # one side, then the top off the other
    assert {"left_side", "right_side"} & {p for o in removals(found.out) for p in o.parts}
    check_ways(made, found)


def test_a_side_comes_off_in_one_move() -> None:
    made = bookcase(2, back=False)
    found = taken(made, "right_side")
    (move,) = removals(found.out)
    assert move.parts == ("right_side",)
    assert move.direction == (1.0, 0.0, 0.0)
    assert sorted(found.undone) == sorted(j.name for j in made[2].joints if "right" in j.name)
    undo = [o for o in found.out.operations if o.kind is OperationKind.UNDO]
    assert [o.tool for o in undo] == ["screwdriver"]
    fits = [o for o in found.back.operations if o.kind is OperationKind.FIT]
    assert {p for o in fits for p in o.parts} == {"right_side"}  # only the new part is bare
    check_ways(made, found)


def test_screws_are_taken_out_and_driven_in_again() -> None:
    made = bookcase(2, back=False, how="capped-screws")
    found = taken(made, "shelf_1")
    check_ways(made, found)
    assert len(removals(found.out)) == 1  # to the front, once the screws are out
    assert found.out.steps[0].items == {"cap": 4, "screw": 4}
    order = [o.id.split("-")[-1] for o in found.out.operations if o.kind is OperationKind.UNDO]
    assert order == ["cap", "screw"]  # what covers them first
    used = {item for step in found.back.steps for item in step.items}
    assert used == {"cap", "screw"}


def test_loose_shelves_come_out_first_and_go_in_last() -> None:
    made = bookcase(1, back=False, loose=2)
    found = taken(made, "right_side")
    assert [o.parts for o in removals(found.out)][:2] == [("loose_2",), ("loose_1",)]
    loads = [o for o in found.back.order if o.startswith("load/")]
    assert found.back.order[-2:] == tuple(loads)
    check_ways(made, found)
    alone = taken(made, "loose_1")
    assert [o.parts for o in removals(alone.out)] == [("loose_1",)]


def test_a_grooved_back_needs_a_side_off() -> None:
    made = cabinet_with_grooved_back()
    found = taken(made, "back")
    assert len(removals(found.out)) == 2
    check_ways(made, found)


def test_what_is_glued_on_comes_with_it() -> None:
    made = lasting(make(*with_strip()), "glue")
    found = taken(made, "d")
    assert found.comes_with == ("strip",)
    assert ("d", "strip") in {tuple(sorted(p)) for p in found.pieces}
    check_ways(made, found)


def with_strip() -> tuple[list[Part], dict[tuple[str, str], str | tuple[str, ...]]]:
    parts, joints = pinwheel()
    parts.append(board("strip", (-18, 100, 50), (0, 200, 100)))
    return parts, {**joints, ("strip", "d"): "glue"}


def test_what_was_packed_as_one_stays_one() -> None:
    resolved, assembly, joinery, stock = bookcase(1, back=False)
    joints = tuple(
        replace(j, workshop={j.butting, j.receiving} == {"shelf_1", "left_side"})
        for j in joinery.joints
    )
    made = (resolved, assembly, replace(joinery, joints=joints), stock)
    found = taken(made, "left_side")
    assert found.comes_with == ("shelf_1",)
    assert len(found.fixed) == 1
    check_ways(made, found)


def test_what_is_glued_in_stays() -> None:
    made = lasting(bookcase(1, back=False, how="glue"), "glue")
    found, problems = replace_part(*made, "shelf_1")
    assert found is None
    (problem,) = problems
    assert problem.code == "part-stays"
    assert "in one piece with" in problem.where
    assert "do not come apart" in problem.help


def test_glue_elsewhere_can_hold_a_part() -> None:
    made = lasting(bookcase(2, back=True), "nails")
    found, problems = replace_part(*made, "shelf_1")
    assert found is None
    assert "Back" in problems[0].help


def test_no_such_part() -> None:
    found, problems = replace_part(*bookcase(1), "door")
    assert found is None
    assert [p.code for p in problems] == ["unknown-part"]


def test_all_apart() -> None:
    made = bookcase(2, loose=1)
    found, problems = divide_product(*made)
    assert found is not None
    assert problems == ()
    assert len(found.pieces) == len(made[1].parts)
    assert len(removals(found.out)) == len(made[1].parts) - 1
    check_ways(made, found)


def test_all_apart_but_what_is_nailed() -> None:
    made = lasting(bookcase(2, loose=1), "nails")
    found, _ = divide_product(*made)
    assert found is not None
    assert len(found.pieces) == 2
    assert found.fixed


def test_pieces_no_larger_than_asked() -> None:
    made = bookcase(2, back=False)
    found, problems = divide_product(*made, (1800.0, 310.0, 310.0))
    assert found is not None
    assert problems == ()
    # one side lies flat, 1800 × 300 × 18; the rest is 782 deep, so it comes apart further
    assert len(removals(found.out)) == 5
    whole, _ = divide_product(*made, (2000.0, 1000.0, 400.0))
    assert whole is not None
    assert whole.out.steps == ()
    check_ways(made, found)


def test_two_halves_are_enough() -> None:
    made = make(*pinwheel())
    found, problems = divide_product(*made, (600.0, 600.0, 599.0))
    assert found is not None
    assert problems == ()
    assert len(removals(found.out)) == 0  # it fits as it is, lying
    found, problems = divide_product(*made, (600.0, 583.0, 200.0))
    assert found is not None
    assert problems == ()
    assert len(removals(found.out)) == 1
    check_ways(made, found)


def test_a_piece_that_stays_too_large_is_told() -> None:
    made = make(*pinwheel())
    found, problems = divide_product(*made, (300.0, 300.0, 300.0))
    assert found is not None
    assert {p.code for p in problems} == {"piece-too-large"}
    assert len(found.pieces) == 4


def test_what_has_no_order_does_not_come_apart() -> None:
    found, problems = replace_part(*corner_ring(), "floor")
    assert found is None
    assert problems[0].code == "part-stays"
    assert "dowels" in problems[0].where


def all_ways(blocking: Blocking, target: int) -> int | None:
    """Fewest moves that leave a part alone, every split of every set tried."""
    count = len(blocking.names)
    ways = range(len(blocking.directions))

    @cache
    def parts_free(among: int, some: int) -> bool:
        return any(
            not any(blocking.blockers(d, p, among) & ~some for p in range(count) if some >> p & 1)
            for d in ways
        )

    @cache
    def least(among: int) -> int:
        if among == 1 << target:
            return 0
        best = 99
        inside = [p for p in range(count) if among >> p & 1]
        for size in range(1, len(inside)):
            for chosen in itertools.combinations(inside, size):
                some = sum(1 << p for p in chosen)
                if parts_free(among, some):
                    side = some if some >> target & 1 else among & ~some
                    best = min(best, 1 + least(side))
        return best

    found = least(blocking.everything)
    return found if found < 99 else None


@pytest.mark.parametrize("seed", range(1, 41))
def test_no_split_of_any_set_needs_fewer_moves(seed: int) -> None:
    made = random_product(seed)[1]
    names = [p.name for p in made[1].parts]
    if len(names) > 6:
        pytest.skip("too many sets to try")
    blocking = find_blocking(names, *made[1:])
    undoing = Undoing(
        blocking=blocking,
        groups=fixed_groups(names, made[2]),
        joined={},
        mass=[1.0] * len(names),
    )
    for target in range(len(names)):
        tree = undoing.set_free(target, blocking.everything)
        expected = all_ways(blocking, target)
        if expected is None or expected == 0:
            assert tree is None
            continue
        moves, split = 0, tree
        while split is not None:
            moves, split = moves + 1, (split.then[0] if split.then else None)
        assert moves == expected


@pytest.mark.parametrize("seed", range(100, 130))
def test_ways_out_and_back_are_free(seed: int) -> None:
    made = random_product(seed)[1]
    for part in made[1].parts[:3]:
        found, problems = replace_part(*made, part.name)
        if found is None:
            assert problems[0].code == "part-stays"
        else:
            check_ways(made, found)
