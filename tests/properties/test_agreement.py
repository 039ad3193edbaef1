"""A few of the products of ``tests/bench/agree.py``; the script compares thousands."""

from __future__ import annotations

from collections import Counter

import pytest

from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Plan
from tests.bench.agree import KINDS, can_be_built, disagreement, random_product
from tests.boxes import corner_ring, make, pinwheel

SEEDS = (*range(1, 81), 40252)  # the last: hardware of a part not there yet in the way


@pytest.mark.parametrize("seed", SEEDS)
def test_planner_verifier_replay_and_every_order_agree(seed: int) -> None:
    kind, made = random_product(seed)
    verdict, why = disagreement(made)
    assert why == "", f"{kind}: the planner says {verdict}"


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
