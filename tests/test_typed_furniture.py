"""What a maker types wrongly about doors, drawers, rails, glass and fixtures.

Each row changes a correct sideboard in one place. The message must stand at that place and
say what to do, and nothing that only follows from it may be told beside it.
"""

from __future__ import annotations

import pathlib
from collections.abc import Sequence

import pytest

from kdkit.diagnostics import Problem, Severity, render_problem
from kdkit.pipeline import Request, check

TYPED = pathlib.Path(__file__).parent / "typed"
SIDEBOARD = (TYPED / "sideboard.yaml").read_text(encoding="utf-8")
MITRED = (TYPED / "mitred-box.yaml").read_text(encoding="utf-8")
HINGE = "left_side, fittings: [{fitting: cup-hinge-overlay"
DOOR = "x: [2, 498.5], y: {to: -1}"
RUNNER = "right_side, fittings: [{fitting: side-runner, options: {length: 350"
SOCKET = "fittings: [rail-socket-closed-25"
CASTOR = "plate-castor-50-braked, on: bottom"

# what stands there, what is typed, all codes of errors and warnings, where the caret of the
# first stands (text on that line), words that must be in its message or its advice
MISTAKES = [
    (DOOR, DOOR.replace("-1", "-400"), "parts-apart", "cup-hinge", "400 mm off the front edge"),
    (DOOR, DOOR.replace("-1", "3"), "parts-apart", "cup-hinge", "neither before it nor beside"),
    (DOOR, DOOR.replace("2,", "8,"), "fitting-need", "cup-hinge", "half-overlay with plate 0"),
    (HINGE, HINGE.replace("overlay", "inset"), "fitting-need", "cup-", "overlay with plate 0 or 2"),
    ("left_door: {board: carcass", "left_door: {board: box", "fitting-thickness", "cup-hinge",
     "left_door a board of 16 to 26 mm"),
    (HINGE, HINGE.replace("-overlay", ""), "fitting-unknown", "cup-hinge}", "cup-hinge-"),
    (HINGE, HINGE.replace("cup-hinge-overlay", "handle-96"), "fitting-kind", "handle-96",
     "`fixtures`"),
    (HINGE, HINGE + ", options: {plate: 3}", "fitting-option", "3}", "0, 2, 4"),
    (HINGE, HINGE + ", options: {plate: low}", "fitting-option", "low", "0, 2, 4"),
    (HINGE, HINGE + ", opens: back", "fitting-opens", "back", "works towards -y"),
    ("to: left_side, fittings: [{fitting: cup", "to: left_door, fittings: [{fitting: cup",
     "join-itself", "left_door", "name the part"),
    (RUNNER, RUNNER.replace("350", "370"), "fitting-option", "370", "300, 350, 400"),
    (RUNNER, RUNNER.replace("350", "500"), "bore-off-part", "side-runner", "length 300 or 350"),
    (RUNNER, RUNNER.replace("right_side", "left_side"), "fitting-gap", "side-runner", "under `to`"),
    ("right_side.x0 - 12.5", "right_side.x0 - 20", "fitting-gap", "side-runner", "wider by 7 mm"),
    ("  - {join: box_right, to: " + RUNNER + "}}]}\n", "", "held-on-one-side", "{join: box_left",
     "one side only"),
    ("[left_side, divider], " + SOCKET, "left_side, " + SOCKET, "held-on-one-side", "{title: Hang",
     "one end only"),
    ("divider.x0 - 3]", "divider.x0 - 10]", "fitting-gap", "rail-socket", "rail longer by 5 mm"),
    ("[187.5, 212.5], z: [600, 625]", "[180, 210], z: [600, 630]", "rail-diameter", "{join: rail",
     "Ø25"),
    ("[600, 625]", "[600, 620]", "not-round", "[600", "runs along x"),
    (CASTOR, "plate-castor-50, on: back", "bore-off-part", "plate", "smaller fitting"),
    (CASTOR, "leg-on-plate-150, on: bottom, turn: lots", "formula-name", "lots", "parameter"),
    (CASTOR, "handle-96, on: left_door, at: [480, -19, 300]", "wrong-type", "[480",
     "[[480, -19, 300]]"),
    ("z: {from: 452}", "z: {from: 450}", "shelf-unsupported", "{board: pane", "at 452, 4 over"),
    ("z: {from: 452}", "z: {from: 457}", "shelf-unsupported", "{board: pane", "at 452, 4 over"),
    ("rows: {first: 352, last: 550}", "rows: {system: true}", "rows-empty", "{system",
     "under `system_rows`"),
]  # fmt: skip


def problems_of(tmp_path: pathlib.Path, text: str) -> Sequence[Problem]:
    file = tmp_path / "typed.yaml"
    file.write_text(text, encoding="utf-8")
    return [p for p in check(Request(file=file)).problems if p.severity is not Severity.ADVICE]


def test_the_sideboard_is_right_before_it_is_spoilt(tmp_path: pathlib.Path) -> None:
    assert problems_of(tmp_path, SIDEBOARD) == []


@pytest.mark.parametrize(("stands", "typed", "code", "at", "says"), MISTAKES)
def test_a_mistake_is_told_where_it_stands_and_alone(
    tmp_path: pathlib.Path, stands: str, typed: str, code: str, at: str, says: str
) -> None:
    assert SIDEBOARD.count(stands) == 1
    text = SIDEBOARD.replace(stands, typed)
    found = problems_of(tmp_path, text)
    assert {p.code for p in found} == {code}
    problem = found[0]
    assert problem.source is not None
    line = text.split("\n")[problem.source.line - 1]
    assert line[problem.source.column - 1 :].removeprefix("{fitting: ").startswith(at), line
    assert says in f"{problem.message} {problem.help}"
    assert "Error" not in render_problem(problem)


def test_a_screw_in_glass_is_told_as_glass(tmp_path: pathlib.Path) -> None:
    text = SIDEBOARD.replace(
        "x: [divider.x1 + 1, right_side.x0 - 1], y: [30", "x: [divider.x1, 980], y: [30"
    )
    text = text.replace(
        "fixtures:\n", "  - {join: glass_shelf, to: divider, fittings: [screw-4x50]}\nfixtures:\n"
    )
    assert {p.code for p in problems_of(tmp_path, text)} == {"glass-cut"}


def test_places_of_one_fault_are_told_once(tmp_path: pathlib.Path) -> None:
    text = SIDEBOARD.replace(CASTOR, "plate-castor-50, on: back")
    (problem,) = problems_of(tmp_path, text)
    assert problem.where.startswith("plate-castor-50 on back, at (")
    assert problem.where.endswith("and 7 more like it")


def test_a_measure_of_ones_own_that_gives_no_number_is_told(tmp_path: pathlib.Path) -> None:
    (tmp_path / "own.yaml").write_text(
        "fittings:\n  own:\n    like: side-runner\n    options: {length: 350}\n"
        "    needs: [{what: room, value: 1 / (gap - 12.5), most: 3}]\n",
        encoding="utf-8",
    )
    text = SIDEBOARD.replace("kdkit: 1\n", "kdkit: 1\ncatalogues: [own.yaml]\n", 1)
    text = text.replace(RUNNER, "right_side, fittings: [{fitting: own, options: {length: 350")
    (problem,) = problems_of(tmp_path, text)
    assert problem.code == "fitting-number"
    assert "own, room: 1 / (gap - 12.5)" in problem.message


def test_a_notch_beside_a_mitred_edge_is_taken(tmp_path: pathlib.Path) -> None:
    assert problems_of(tmp_path, MITRED) == []
    notch = "z: [0, 400]\n    notches: [{at: [front, bottom], y: 20, z: 60}]\n"
    notched = MITRED.replace("z: [0, 400]\n", notch, 1)
    assert notched != MITRED
    assert problems_of(tmp_path, notched) == []
