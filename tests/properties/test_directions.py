"""A sample of the comparison with brute force; ``tests/bench/bench_directions.py`` runs more."""

from __future__ import annotations

import pytest

from tests.bench.bench_directions import compare
from tests.off_axis import leaning_product, slotted_product
from tests.off_axis_kinds import fastened_product, opened_product

RIGHT = ("impossible", "possible", "possible in another way")


@pytest.mark.parametrize("seed", [*range(6), 17, 55, 40104])
def test_verdicts_on_leaning_boxes_are_those_of_brute_force(seed: int) -> None:
    assert compare(leaning_product(seed), 300) in RIGHT


@pytest.mark.parametrize("seed", range(8))
def test_verdicts_on_slanted_slots_are_those_of_brute_force(seed: int) -> None:
    assert compare(slotted_product(seed), 300) in RIGHT


@pytest.mark.parametrize("seed", [*range(4), 20181])
def test_verdicts_on_openings_round_posts_are_those_of_brute_force(seed: int) -> None:
    assert compare(opened_product(seed), 200) in RIGHT


@pytest.mark.parametrize("seed", range(4))
def test_verdicts_with_fasteners_of_all_kinds_are_those_of_brute_force(seed: int) -> None:
    product = fastened_product(seed)
    if product is not None:
        assert compare(product, 200) in RIGHT
