"""The author's order: kept, or the first entry that fails and the nearest that works."""

from __future__ import annotations

import pathlib
from itertools import permutations

from kdkit.diagnostics import Problem
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, OrderRefused, Plan
from tests.products import CASE, made

WORKS = "[left, bottom, top, back, shelf, right]"


def judged(
    folder: pathlib.Path, order: str, text: str = CASE
) -> tuple[Plan | OrderRefused, tuple[Problem, ...]]:
    plan, problems = make_plan(*made(folder, f"{text}order: {order}\n"))
    assert isinstance(plan, Plan | OrderRefused)
    return plan, problems


def refused(folder: pathlib.Path, order: str) -> tuple[OrderRefused, Problem]:
    plan, (problem,) = judged(folder, order)
    assert isinstance(plan, OrderRefused)
    assert problem.code == "order-cannot-be-kept"
    assert problem.path == plan.path
    return plan, problem


def arrivals(plan: Plan) -> list[str]:
    """Every part in the order in which it comes to the product."""
    mates = [o for o in map(plan.operation, plan.order) if o.kind is OperationKind.MATE]
    return [part for mate in mates for part in mate.parts]


def test_a_whole_order_that_works_is_followed(tmp_path: pathlib.Path) -> None:
    plan, problems = judged(tmp_path, WORKS)
    assert isinstance(plan, Plan)
    assert problems == ()
    assert arrivals(plan) == ["bottom", "top", "back", "shelf", "right"]


def test_another_whole_order_gives_another_plan(tmp_path: pathlib.Path) -> None:
    plan, _ = judged(tmp_path, "[right, shelf, top, bottom, back, left]")
    assert isinstance(plan, Plan)
    assert arrivals(plan) == ["shelf", "top", "bottom", "back", "left"]


def test_a_bracket_is_put_together_first(tmp_path: pathlib.Path) -> None:
    plan, _ = judged(tmp_path, "[right, bottom, top, [back], [shelf, left]]")
    assert isinstance(plan, Plan)
    mates = [o for o in map(plan.operation, plan.order) if o.kind is OperationKind.MATE]
    assert mates[-1].parts == ("left", "shelf")
    assert mates[-1].subassembly == ""
    inner = [o for o in mates if o.subassembly]
    assert [set(o.parts) | set(o.onto) for o in inner] == [{"left", "shelf"}]


def test_first_entry_that_fails_is_named_with_every_way_it_could_come(
    tmp_path: pathlib.Path,
) -> None:
    no, problem = refused(tmp_path, "[left, bottom, right, top, shelf, back]")
    assert problem.path == ("order", 3)
    assert no.position == 3
    assert no.moving == ("top",)
    assert set(no.present) == {"left", "bottom", "right"}
    assert len(no.blocks) == 6
    assert {block.part for _, block in no.blocks} == {"top"}
    assert "top cannot be put on after" in problem.message
    for way in ("to the left", "to the right", "upwards", "downwards", "to the front"):
        assert way in problem.where
    assert "Left side" in problem.where


def test_nearest_order_moves_one_entry_and_works(tmp_path: pathlib.Path) -> None:
    no, problem = refused(tmp_path, "[left, bottom, right, top, shelf, back]")
    assert no.nearest is not None
    assert no.nearest.exact
    assert len(no.nearest.moved) == 1
    named = [name for entry in no.nearest.entries for name in entry]
    kept = [n for n in named if n not in no.nearest.moved]
    assert kept == [
        n for n in ("left", "bottom", "right", "top", "shelf", "back") if n not in no.nearest.moved
    ]
    said = problem.help.rpartition("order: ")[2]
    again, problems = judged(tmp_path, said)
    assert isinstance(again, Plan), problems


def test_bracket_of_parts_that_do_not_touch_is_refused(tmp_path: pathlib.Path) -> None:
    no, problem = refused(tmp_path, "[[bottom, top], left, back, shelf, right]")
    assert no.position == 0
    assert "joined to nothing" in problem.where
    assert "one by one" in problem.help


def test_part_named_twice_is_refused_at_the_second_place(tmp_path: pathlib.Path) -> None:
    _, problem = refused(tmp_path, "[shelf, left, shelf, bottom, top, back, right]")
    assert problem.path == ("order", 2)
    assert problem.related[0].path == ("order", 0)


def test_order_in_part_is_kept_or_refused_at_its_line(tmp_path: pathlib.Path) -> None:
    plan, _ = judged(tmp_path, "[right, back, left]")
    assert isinstance(plan, Plan)
    assert arrivals(plan).index("back") < arrivals(plan).index("left")
    no, problem = refused(
        tmp_path, "[left, {before: right, after: left}, {before: left, after: right}, shelf]"
    )
    assert problem.path == ("order", 2)
    assert no.position is None
    assert no.moving == ("right",)
    assert "the order says" in problem.where
    assert no.nearest is not None
    assert no.nearest.moved == ()


def test_verdict_on_every_order_is_what_the_words_of_the_case_say(
    tmp_path: pathlib.Path,
) -> None:
    """Only the two sides can close the case; the back comes before the last side."""
    for n, row in enumerate(permutations(("left", "right", "bottom", "top", "back"))):
        if n % 4:
            continue
        text = CASE.replace(
            "  shelf: {title: Shelf, board: carcass, x: [18, 582], y: [0, 280], z: {from: 300}}\n",
            "",
        ).replace("[bottom, top, shelf]", "[bottom, top]")
        plan, problems = judged(tmp_path, f"[{', '.join(row)}]", text)
        works = row[-1] in ("left", "right")
        assert isinstance(plan, Plan) == works, (row, problems)
        if isinstance(plan, OrderRefused):
            assert plan.nearest is not None
            assert plan.nearest.exact
