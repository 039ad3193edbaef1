"""What is worked once the glue has set comes after the wait, and is told in that order."""

from __future__ import annotations

from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan
from tests.samples import make_sample


def planned(key: str) -> Plan:
    sample = make_sample(key, 18, 18)
    plan, problems = make_plan(sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
    assert isinstance(plan, Plan), problems
    return plan


def test_a_stepped_dowel_waits_for_the_glue() -> None:
    plan = planned("stepped-dowel-8x60")
    order = [plan.operation(id) for id in plan.order]
    done = [o.does for o in order if o.does]
    assert done == [("drill",), ("insert",), ("trim",)]
    wait = next(o for o in order if o.kind is OperationKind.WAIT and o.tool is None)
    assert (wait.minutes, wait.items) == (60, {})
    assert order.index(wait) < order.index(next(o for o in order if o.does == ("drill",)))
    insert = next(o for o in order if o.does == ("insert",))
    assert insert.items == {"stepped-dowel-8x60": 3}
    assert sum(o.kind is OperationKind.WAIT for o in order) == 2  # no second wait at the end


def test_a_glued_dowel_is_left_to_set_last() -> None:
    plan = planned("dowel-8x35-glued")
    assert plan.operation(plan.order[-1]).kind in (OperationKind.WAIT, OperationKind.STAND)
    assert all(o.does != ("wait",) for o in plan.operations)
