"""What several test modules share."""

from __future__ import annotations

import math
import pathlib

import pytest

from kdkit.cli import definition_command
from kdkit.pipeline import Outcome
from tests.product_files import built


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the flag that rewrites what ``tests/golden`` expects; review the difference."""
    parser.addoption(
        "--rewrite-golden",
        action="store_true",
        help="write the expected files of tests/golden anew instead of comparing",
    )


@pytest.fixture(autouse=True)
def _quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no run tell of its progress, however slow the machine is."""
    monkeypatch.setattr(definition_command, "QUIET_SECONDS", math.inf)


@pytest.fixture(scope="session")
def built_bookcase(tmp_path_factory: pytest.TempPathFactory) -> tuple[Outcome, pathlib.Path]:
    """Return the bookcase's outcome and the folder with everything that was made of it."""
    folder = tmp_path_factory.mktemp("built") / "bookcase"
    return built("bookcase", folder), folder
