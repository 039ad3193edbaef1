"""What the tests of imports share: writing a list, reading it, starting a definition."""

from __future__ import annotations

import pathlib
from collections.abc import Callable, Sequence

import pytest

from kdkit.catalogue import load_catalogue
from kdkit.diagnostics import Problem, render_problem
from kdkit.imports.panel_list import PanelList, load_panel_list
from kdkit.imports.starting import Start, render_start

ReadList = Callable[..., tuple[PanelList | None, Sequence[Problem]]]


@pytest.fixture
def read_list(tmp_path: pathlib.Path) -> ReadList:
    """Give a function that reads a text or bytes as a list."""

    def read(
        content: str | bytes, *, name: str = "panels.csv", unit: str | None = None
    ) -> tuple[PanelList | None, Sequence[Problem]]:
        file = tmp_path / name
        file.write_bytes(content.encode() if isinstance(content, str) else content)
        found, problems = load_panel_list(file, unit=unit)
        for problem in problems:
            assert problem.source is not None
            assert "Error" not in render_problem(problem)
        assert (found is None) is bool(problems)
        return found, problems

    return read


@pytest.fixture
def start(read_list: ReadList) -> Callable[..., Start]:
    """Give a function that starts a definition from a text."""

    def make(content: str | bytes, *, band: float | None = None) -> Start:
        found, problems = read_list(content)
        assert found is not None, [p.message for p in problems]
        catalogue, _ = load_catalogue()
        assert catalogue is not None
        return render_start(found, catalogue, product="Low case", band=band)

    return make
