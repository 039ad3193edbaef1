"""Taking apart: every kind of hardware goes its own way."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.publish.manual.taking_apart import write_taking_apart
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.product_files import results_of

EXAMPLES = pathlib.Path(__file__).parent.parent.parent.parent.parent / "examples"


def lines_of(example: str) -> list[str]:
    results, messages = results_of(example), load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    return [str(line.striptags()) for line in write_taking_apart(results, names, messages)]


@pytest.fixture(scope="module")
def bookcase() -> list[str]:
    return lines_of("bookcase")


@pytest.fixture(scope="module")
def bench() -> list[str]:
    return lines_of("hall-bench")


def test_the_wall_lets_go_first_with_somebody_holding(bookcase: list[str]) -> None:
    first = next(line for line in bookcase if "from the wall" in line)
    assert "second person" in first
    before = bookcase[: bookcase.index(first)]
    assert all("adjustable shelf" in line or "support" in line for line in before)  # not moved
    assert "take off 1 × wall anchor" not in " ".join(bookcase)


def test_screws_of_a_fixture_go_before_what_they_hold(bookcase: list[str]) -> None:
    (line,) = (line for line in bookcase if "restraint strap" in line)
    assert line.index("Unscrew") < line.index("Take 1 ×") < line.index("restraint bracket")


def test_what_is_pressed_in_stays(bench: list[str]) -> None:
    (line,) = (line for line in bench if "levelling foot" in line)
    assert "Unscrew 4 × levelling foot" in line
    assert "Leave 4 × press-in insert" in line
    assert "insert" not in bench[-1]


def test_dowels_and_cams_come_out_of_the_parts_at_the_end(bench: list[str]) -> None:
    assert "32 × dowel" in bench[-1]
