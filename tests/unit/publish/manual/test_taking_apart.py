"""Taking apart: every kind of hardware goes its own way."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.illustrate.paper.style import load_style
from kdkit.pipeline import Request, check
from kdkit.publish.manual.content import write_manual
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


HUNG = """\
kdkit: 1
product: Hung box
kind: wall-hung
boards: {carcass: {material: particleboard-p2, thickness: 18}}
panels:
  left: {board: carcass, x: {from: 0}, y: [0, 250], z: [0, 400], face: +x}
  right: {mirror: left, x: {to: 600}}
  top: {board: carcass, x: [18, 582], y: [0, 250], z: {to: 400}, face: -z}
  bottom: {board: carcass, x: [18, 582], y: [0, 250], z: {from: 0}, face: +z}
  rail: {board: carcass, x: [18, 582], y: {to: 250}, z: [282, 382], face: -y}
joints:
  - {join: [top, bottom, rail], to: [left, right], fittings: [cam-and-bolt, dowel-8x35]}
fixtures:
  - {fitting: wall-screw-through-rail, on: rail}
"""


def test_what_hangs_is_held_up_until_it_is_free(tmp_path: pathlib.Path) -> None:
    """It has no restraint to be freed, and does not stand on a floor."""
    file = tmp_path / "hung.yaml"
    file.write_text(HUNG, encoding="utf-8")
    outcome = check(Request(file=file), risks=False)
    assert outcome.results is not None, outcome.problems
    results, messages = outcome.results, load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    lines = [str(line.striptags()) for line in write_taking_apart(results, names, messages)]
    (down,) = [line for line in lines if "wall" in line]
    assert "hold the product up, undo its fixings at the wall, and lift it down" in down
    style, _ = load_style()
    assert style is not None
    final = [str(line.striptags()) for line in write_manual(results, messages, style)[0].final]
    assert "The product hangs level, and every fixing at the wall is tight." in final
    assert not [line for line in final if "rock" in line]
