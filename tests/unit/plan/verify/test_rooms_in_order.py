"""In every plan, each tool has room at the moment it is used: looked at by other code.

The order is gone through operation by operation; what is in one piece of work with the
joint at that moment is what may stand in the room, and nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan
from kdkit.plan.verify.meeting import part_solid
from kdkit.plan.verify.rooms import Rooms
from tests.boxes import Made, bookcase
from tests.product_files import made_of, results_of
from tests.unit.plan.blocking.test_reach import (
    covered_foot,
    lid_fastened_from_inside,
    shelf_and_cover,
    three_shelves,
    with_tools,
)


def together(plan: Plan) -> Mapping[str, frozenset[str]]:
    """For each operation, the parts that are in one piece with its first part just then."""
    piece: dict[str, frozenset[str]] = {}
    found = {}
    for id in plan.order:
        operation = plan.operation(id)
        parts = frozenset((*operation.parts, *operation.onto))
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD):
            for name in parts:
                piece[name] = parts
        found[id] = piece.get(operation.parts[0], frozenset(operation.parts[:1]))
    return found


def works_without_room(made: Made, plan: Plan) -> list[str]:
    _, assembly, joinery, stock = made
    wood = {part.name: part_solid(part, joinery.grooves) for part in assembly.parts}
    fasteners = {f.id: f for f in joinery.fasteners}
    shut = []
    for id, there in together(plan).items():
        operation = plan.operation(id)
        if len(there) < 2:
            continue  # a bare part lies as it has to
        rooms = Rooms({name: wood[name] for name in sorted(there)}, (), joinery, stock)
        used = [fasteners[f] for f in operation.fasteners]
        if operation.kind in (OperationKind.FASTEN, OperationKind.CAP):
            pairs = dict.fromkeys((f.butting, f.receiving) for f in used)
            shut += [id for a, b in pairs if a and {a, b} <= there and rooms.is_shut(a, b)]
        elif operation.kind in (OperationKind.FIT, OperationKind.FIXTURE):
            for fastener in used:
                part = operation.parts[0] if fastener.butting else fastener.receiving
                if part in there and rooms.is_too_late(fastener, None, part):
                    shut.append(id)
    return shut


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
def test_in_the_examples(name: str) -> None:
    assert works_without_room(made_of(name), results_of(name).plan) == []


@pytest.mark.parametrize(
    "made",
    [
        with_tools(bookcase(2)),
        with_tools(bookcase(3, how="capped-screws")),
        with_tools(three_shelves(150)),
        with_tools(shelf_and_cover()),
        lid_fastened_from_inside(300),
        covered_foot(),
    ],
    ids=["bookcase", "screwed", "150", "cover", "lid", "foot"],
)
def test_in_small_products(made: Made) -> None:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    assert works_without_room(made, plan) == []


def test_the_look_finds_what_is_done_too_late() -> None:
    """The same plan with the cams turned at the very end has no room for the driver."""
    made = with_tools(shelf_and_cover())
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    late = [id for id in plan.order if "turn-cam" in id]
    order = tuple(id for id in plan.order if id not in late) + tuple(late)
    shut = works_without_room(made, replace(plan, order=order))
    assert shut
    assert set(shut) <= set(late)
