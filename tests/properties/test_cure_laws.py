"""Cures have a plan, and no smaller one of the kinds exists; a sample of the long comparison.

``python -m tests.bench.bench_cures`` runs more.
"""

from __future__ import annotations

import pathlib

import pytest

from tests.bench.bench_cures import check


@pytest.mark.parametrize("seed", [5, 9, 45])
def test_cures_are_the_smallest_and_have_plans(seed: int, tmp_path: pathlib.Path) -> None:
    assert check(seed, tmp_path) in ("cured by one change", "cured by 2", "no cure")
