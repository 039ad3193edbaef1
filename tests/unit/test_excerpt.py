"""Of a long line only what is round the caret is shown."""

from __future__ import annotations

import pytest

from kdkit.diagnostics import Problem, Source, render_problem


@pytest.mark.parametrize("before", [0, 30, 500])
@pytest.mark.parametrize("after", [0, 60, 700])
@pytest.mark.parametrize("width", [1, 5, 400])
def test_the_caret_points_at_what_is_meant(before: int, after: int, width: int) -> None:
    text = "a" * before + "X" * width + "b" * after
    source = Source(
        file="x.yaml", line=3, column=before + 1, end_column=before + width + 1, text=text
    )
    problem = Problem(code="bad-text", message="no", source=source)
    _, shown, caret = render_problem(problem).split("\n")
    assert len(shown) <= 8 + 104
    assert len(caret) <= len(shown)
    first, last = caret.index("^"), caret.rindex("^")
    assert set(shown[first : last + 1]) == {"X"}
    assert "^" * min(width, 50) in caret
