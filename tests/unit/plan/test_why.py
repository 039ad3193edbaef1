"""Why B comes before A: the chain of reasons, or what the other way costs."""

from __future__ import annotations

from kdkit.cli.show_why import why_data, why_text
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from kdkit.plan.why import Explanation, explain_order
from tests.boxes import Made, board, bookcase, cabinet_with_grooved_back, corner_ring, make


def explain(made: Made, first: str, later: str) -> Explanation:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    why, problems = explain_order(*made, plan, first, later)
    assert why is not None, problems
    return why


def stack() -> Made:
    """Two boards screwed on a wide one, with dowels: either may come first."""
    return make(
        [
            board("wide", (0, 0, 0), (600, 300, 18)),
            board("one", (50, 0, 18), (68, 300, 318)),
            board("two", (532, 0, 18), (550, 250, 318)),
        ],
        {("one", "wide"): "dowels", ("two", "wide"): "dowels"},
    )


def test_a_chain_of_reasons_leads_from_the_one_to_the_other() -> None:
    made = bookcase(2)
    why = explain(made, "shelf_1", "back")
    assert not why.asked_reversed
    assert why.chain[0].before == why.operations[0]
    assert why.chain[-1].after == why.operations[1]
    text = why_text(why)
    assert "shelf_1 comes before back." in text
    assert "In this plan it must:" in text


def test_the_question_may_be_the_wrong_way_round() -> None:
    why = explain(bookcase(2), "back", "shelf_1")
    assert why.asked_reversed
    assert (why.first, why.later) == ("shelf_1", "back")
    assert "It is the other way round" in why_text(why)


def test_no_other_order_exists_and_it_is_said_why() -> None:
    made = cabinet_with_grooved_back()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    last = [o for o in plan.order if o.startswith("mate/")][-1].removeprefix("mate/")
    side = "left_side" if last != "left_side" else "right_side"
    ordered = make(
        made[1].parts,
        {(j.butting, j.receiving): j.fittings for j in made[2].joints},
        order=[("back", last)],
    )
    why = explain(ordered, "back", last)
    assert why.other is None
    assert why.refused
    assert f"No order has {last} before back:" in why_text(why)
    assert side != last


def test_either_order_works_and_costs_the_same() -> None:
    made = stack()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    first = next(o for o in plan.order if o.startswith("mate/")).removeprefix("mate/")
    second = {"one": "two", "two": "one"}[first]
    why = explain(made, first, second)
    assert why.chain == ()
    assert why.other is not None
    assert abs(why.other.cost - why.other.here) < 1e-6
    assert "No reason: either order works, and both cost the same" in why_text(why)


def test_the_base_is_where_the_work_begins_and_the_other_way_costs_more() -> None:
    made = stack()
    why = explain(made, "wide", "one")
    assert why.operations[0] is None
    assert why.other is not None
    assert why.other.cost > why.other.here + 0.1
    text = why_text(why)
    assert "The work begins with wide" in text
    assert "It need not: one can come before wide; this one was preferred because" in text
    assert why.other.differences
    assert all(f"{d.what}: {d.here:g} here" in text for d in why.other.differences)


def test_operations_can_be_named() -> None:
    made = bookcase(2)
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    edge = plan.precedences[0]
    why, problems = explain_order(*made, plan, edge.before, edge.after)
    assert why is not None, problems
    assert len(why.chain) == 1
    assert why.chain[0].reason == edge.reason
    assert why_data(why)["chain"][0]["reason"] == edge.reason


def test_names_that_mean_nothing_are_problems() -> None:
    made = bookcase(1)
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    why, problems = explain_order(*made, plan, "roof", "cellar")
    assert why is None
    assert [p.code for p in problems] == ["unknown-part", "unknown-part"]
    why, problems = explain_order(*made, plan, "top", "top")
    assert why is None
    assert [p.code for p in problems] == ["same-part-twice"]


def test_an_impossible_product_never_gets_here() -> None:
    plan, _ = make_plan(*corner_ring())
    assert not isinstance(plan, Plan)
