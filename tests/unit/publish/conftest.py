"""The hand-built bookcase published once for all tests that only read."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.publish import publish
from tests import handmade


@pytest.fixture(scope="session")
def published(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    folder = tmp_path_factory.mktemp("publish") / "bookcase"
    files, problems = publish(handmade.results(), folder)
    assert files is not None
    assert problems == ()
    return folder


@pytest.fixture(scope="session")
def published_letter(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    folder = tmp_path_factory.mktemp("publish") / "letter"
    files, _ = publish(handmade.results(), folder, paper="letter")
    assert files is not None
    return folder
