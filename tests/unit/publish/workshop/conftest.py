"""The examples, worked out once for all tests of the workshop's files."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kdkit.publish.results import Results
from tests.product_files import results_of


@pytest.fixture(scope="session", name="results_of")
def shared_results() -> Callable[[str], Results]:
    """Return the function that works out an example by its name."""
    return results_of
