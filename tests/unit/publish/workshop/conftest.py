"""The examples, worked out once for all tests of the workshop's files."""

from __future__ import annotations

import pathlib
from collections.abc import Callable
from functools import cache

import pytest

from kdkit.pipeline import Request, check
from kdkit.publish.results import Results

EXAMPLES = pathlib.Path(__file__).parents[4] / "examples"


@cache
def _results(name: str) -> Results:
    outcome = check(Request(file=EXAMPLES / f"{name}.yaml"))
    assert outcome.results is not None, outcome.problems
    return outcome.results


@pytest.fixture(scope="session")
def results_of() -> Callable[[str], Results]:
    """Return the function that works out an example by its name."""
    return _results
