"""Boards, joints and bags that cannot be meant as they are said."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.diagnostics import Problem, Severity
from kdkit.pipeline import Request, check

BOOKCASE = (pathlib.Path(__file__).parents[3] / "examples" / "bookcase.yaml").read_text(
    encoding="utf-8"
)


def found(tmp_path: pathlib.Path, old: str, new: str) -> list[Problem]:
    assert old in BOOKCASE
    file = tmp_path / "case.yaml"
    file.write_text(BOOKCASE.replace(old, new, 1), encoding="utf-8")
    return list(check(Request(file=file), risks=False).problems)


def bagged(tmp_path: pathlib.Path, names: str) -> list[Problem]:
    return found(tmp_path, "safety:\n", f"bags:\n  Carcass: {names}\nsafety:\n")


def test_bags_of_items_and_fittings_in_use(tmp_path: pathlib.Path) -> None:
    assert bagged(tmp_path, "[cam-bolt-34, dowel-8x35, cam-lock-15]") == []


def test_a_misspelt_item_in_a_bag(tmp_path: pathlib.Path) -> None:
    (problem,) = bagged(tmp_path, "[cam-bolt-34, cam-lok-15]")
    assert (problem.code, problem.severity) == ("bag-unknown", Severity.ERROR)
    assert problem.path == ("bags", "Carcass", 1)
    assert problem.source is not None
    assert "cam-lock-15" in problem.help


def test_an_item_in_a_bag_that_nothing_uses(tmp_path: pathlib.Path) -> None:
    (problem,) = bagged(tmp_path, "[cam-bolt-34, cam-lock-12]")
    assert (problem.code, problem.severity) == ("bag-not-used", Severity.WARNING)


@pytest.mark.parametrize(("thickness", "codes"), [("18.2", []), ("17", ["board-thickness"])])
def test_a_board_that_is_not_made(tmp_path: pathlib.Path, thickness: str, codes: list[str]) -> None:
    problems = found(tmp_path, "thickness: 18", f"thickness: {thickness}")
    assert [p.code for p in problems if p.code == "board-thickness"] == codes
    for problem in problems:
        if problem.code == "board-thickness":
            assert problem.severity is Severity.ADVICE
            assert problem.source is not None
            assert "18" in problem.help


def test_two_entries_for_one_joint(tmp_path: pathlib.Path) -> None:
    again = "  - {join: top, to: left_side, fittings: [{fitting: dowel-8x35, at: [148]}]}\n"
    problems = found(tmp_path, "fixtures:\n", f"{again}fixtures:\n")
    problem = next(p for p in problems if p.code == "joined-twice")
    assert problem.severity is Severity.WARNING
    assert problem.source is not None
    (first,) = problem.related
    assert first.source is not None
    assert first.source.line < problem.source.line
