"""The author's order: kept, or the first entry that fails and the nearest that works."""

from __future__ import annotations

import pathlib
from itertools import permutations

from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.diagnostics import Problem
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, OrderRefused, Plan
from tests.products import CASE, made

WHEEL = """\
kdkit: 1
product: Pin-wheel
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  south: {title: South, board: carcass, x: [0, 382], y: {from: 0}, z: [0, 200]}
  east: {title: East, board: carcass, x: {from: 382}, y: [0, 382], z: [0, 200]}
  north: {title: North, board: carcass, x: [18, 400], y: {from: 382}, z: [0, 200]}
  west: {title: West, board: carcass, x: {from: 0}, y: [18, 400], z: [0, 200]}
joints:
  - {join: south, to: east, fittings: [dowel-8x30]}
  - {join: east, to: north, fittings: [dowel-8x30]}
  - {join: north, to: west, fittings: [dowel-8x30]}
  - {join: west, to: south, fittings: [dowel-8x30]}
"""
"""Each board's edge meets the next one's face: two pairs slide together."""

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
    no, problem = refused(tmp_path, "[left, shelf]\nput_before: {right: left, left: [right]}")
    assert problem.path == ("put_before", "right")
    assert no.position is None
    assert no.moving == ("left",)
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


def test_a_list_whose_parts_never_touch_is_refused_in_an_order_in_part(
    tmp_path: pathlib.Path,
) -> None:
    no, problem = refused(tmp_path, "[left, [bottom, top], right]")
    assert problem.path == ("order", 1)
    assert "cannot be put together first" in problem.message
    assert "joined to nothing" in problem.where
    assert no.position == 1


def test_an_order_in_part_that_is_kept_says_nothing(tmp_path: pathlib.Path) -> None:
    for order in ("[left, bottom, right]", "[right, back, left]", "[[bottom, left], right]"):
        plan, problems = judged(tmp_path, order)
        assert isinstance(plan, Plan)
        assert problems == (), order


def test_a_plan_that_departs_from_an_order_in_part_says_so_at_the_entry(
    tmp_path: pathlib.Path,
) -> None:
    """A ring that closes only by halves: what is named later cannot come by itself."""
    for order, entry in (("[south, north, east]", 1), ("[south, east, north]", 2)):
        plan, problems = judged(tmp_path, order, WHEEL)
        assert isinstance(plan, Plan)
        assert [(p.code, p.path) for p in problems] == [("order-kept-in-part", ("order", entry))]
        assert "does not come by itself" in problems[0].message
    _, problems = judged(tmp_path, "[south, east, [north, west]]", WHEEL)
    assert problems == ()


def test_a_departure_is_told_on_the_command_line(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "wheel.yaml"
    file.write_text(f"{WHEEL}order: [south, east, north]\n", encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(file)])
    assert done.exit_code == 0
    assert "[order-kept-in-part]" in done.stderr
    assert "wheel.yaml:" in done.stderr


PACKED_POST = """\
kdkit: 1
product: Packed case and a post
boards:
  b: {material: particleboard-p2, thickness: 18}
panels:
  left: {title: Left, board: b, x: {from: 0}, y: [0, 300], z: [0, 300]}
  right: {title: Right, board: b, x: {to: 500}, y: [0, 300], z: [0, 300]}
  bottom: {title: Bottom, board: b, x: [18, 482], y: [0, 300], z: {from: 0}}
  post: {title: Post, board: b, x: [200, 300], y: {from: 170}, z: [18, 140]}
joints:
  - {join: bottom, to: [left, right], workshop: true, fittings: [dowel-8x35]}
  - {join: post, to: bottom, fittings: [dowel-8x35]}
"""


def test_an_order_that_takes_apart_what_is_packed_as_one_fails_where_it_does(
    tmp_path: pathlib.Path,
) -> None:
    no, (problem,) = judged(tmp_path, "[bottom, post, left, right]", PACKED_POST)
    assert isinstance(no, OrderRefused)
    assert no.position == 2
    assert problem.path == ("order", 2)
    assert problem.message.startswith("entry 3 of the order: Left cannot be put on then")
    assert "packed as one: Left, Bottom, Right" in problem.where
    kept, _ = judged(tmp_path, "[left, bottom, right, post]", PACKED_POST)
    assert isinstance(kept, Plan)


def test_of_two_entries_that_fail_the_first_is_named(tmp_path: pathlib.Path) -> None:
    """Top cannot be put on after both sides; later a list names parts that never touch."""
    no, _ = refused(tmp_path, "[left, bottom, right, top, [shelf, back]]")
    assert no.position == 3
    assert no.moving == ("top",)
