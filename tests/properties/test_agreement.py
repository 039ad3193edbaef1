"""A few of the products of ``tests/bench/agree.py``; the script compares thousands."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from kdkit.plan import make_plan
from kdkit.plan.no_plan import study_no_plan
from kdkit.plan.plan import Impossible, Plan
from kdkit.publish.no_plan import give_account, no_plan_text
from kdkit.publish.wording.messages import load_messages
from tests.bench.agree import KINDS, can_be_built, disagreement, random_product
from tests.boxes import corner_ring, make, pinwheel
from tests.replay import replay

SEEDS = (*range(1, 81), 40252)  # the last: hardware of a part not there yet in the way


@pytest.mark.parametrize("seed", SEEDS)
def test_planner_verifier_replay_and_every_order_agree(seed: int) -> None:
    kind, made = random_product(seed)
    verdict, why = disagreement(made)
    assert why == "", f"{kind}: the planner says {verdict}"


@pytest.mark.parametrize("seed", range(20_000, 20_040))
def test_with_joints_of_the_workshop_there_is_a_plan_or_a_proof(seed: int) -> None:
    """The plan is replayed with what is done before packing; the check confirms the proof."""
    _, made = random_product(seed)
    joints = {(j.butting, j.receiving): j.fittings for j in made[2].joints}
    some = random.Random(seed).sample(sorted(joints), min(len(joints), 1 + seed % 3))
    packed = make(list(made[1].parts), dict(joints), workshop=some)
    found, problems = make_plan(*packed)
    if isinstance(found, Plan):
        replay(packed, found)
        return
    assert isinstance(found, Impossible)
    no = study_no_plan(*packed, found, problems[0])
    assert no.faults == ()
    assert "packed as one" in no_plan_text(give_account(no, load_messages("en"))) or all(
        len(body) == 1 for body in found.bodies.values()
    )


def test_the_seeds_hold_every_kind_and_both_verdicts() -> None:
    kinds: Counter[str] = Counter()
    verdicts: Counter[type] = Counter()
    for seed in SEEDS:
        kind, made = random_product(seed)
        kinds[kind] += 1
        verdicts[type(make_plan(*made)[0])] += 1
    assert set(kinds) == set(KINDS)
    assert set(verdicts) == {Plan, Impossible}


def test_trying_every_order_knows_what_is_known() -> None:
    assert can_be_built(make(*pinwheel()))
    assert not can_be_built(corner_ring())
