from __future__ import annotations

import json
import pathlib
import re

import pytest

from kdkit.pipeline import Outcome, Request
from kdkit.plan_questions import take_apart

EXAMPLES = pathlib.Path(__file__).parents[3] / "examples"


@pytest.fixture(scope="module")
def replaced(tmp_path_factory: pytest.TempPathFactory) -> tuple[Outcome, pathlib.Path]:
    folder = tmp_path_factory.mktemp("apart") / "divider"
    outcome = take_apart(Request(file=EXAMPLES / "low-cabinet.yaml"), part="divider", folder=folder)
    assert outcome.complete, outcome.problems
    return outcome, folder


def test_the_folder_holds_the_manual_twice_and_both_plans(
    replaced: tuple[Outcome, pathlib.Path],
) -> None:
    outcome, folder = replaced
    names = {path.name for path in outcome.files}
    assert names == {"manual.html", "manual.pdf", "plan.json"}
    data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert data["replace"] == "divider"
    assert [s["number"] for s in data["out"]["steps"]] == [1, 2, 3, 4]
    assert data["back"]["steps"]


def test_steps_run_on_and_each_has_its_picture(replaced: tuple[Outcome, pathlib.Path]) -> None:
    outcome, folder = replaced
    html = (folder / "manual.html").read_text(encoding="utf-8")
    assert outcome.apart is not None
    count = len(outcome.apart.out.steps) + len(outcome.apart.back.steps)
    numbers = [int(n) for n in re.findall(r'<section class="step[^"]*" id="step-(\d+)"', html)]
    assert numbers == list(range(1, count + 1))
    for section in re.split(r'<section class="step[ "]', html)[1:]:
        assert re.search(r'<div class="drawing"[^>]*>(<label[^>]*>)?<svg', section)


def test_out_and_back_in_words(replaced: tuple[Outcome, pathlib.Path]) -> None:
    _, folder = replaced
    text = re.sub(r"<[^>]+>", "", (folder / "manual.html").read_text(encoding="utf-8"))
    out, back = text.split("Putting together again")
    assert "anticlockwise until the joint lets go" in out
    assert "Take off divider" in out
    assert "Right way round" not in out
    assert "move this hardware over from the old one" in back
    assert "Put on divider" in back
    assert "Right way round" in back


def test_the_same_question_gives_the_same_bytes(
    replaced: tuple[Outcome, pathlib.Path], tmp_path: pathlib.Path
) -> None:
    _, folder = replaced
    request = Request(file=EXAMPLES / "low-cabinet.yaml")
    again = take_apart(request, part="divider", folder=tmp_path / "again")
    for path in again.files:
        assert path.read_bytes() == (folder / path.name).read_bytes()


def test_what_need_not_come_apart_is_told(tmp_path: pathlib.Path) -> None:
    outcome = take_apart(
        Request(file=EXAMPLES / "hall-bench.yaml"),
        largest=(3000.0, 3000.0, 3000.0),
        folder=tmp_path / "whole",
    )
    assert outcome.complete
    html = (tmp_path / "whole" / "manual.html").read_text(encoding="utf-8")
    assert "small enough as it stands" in html
    assert 'class="step' not in html.split("</style>")[1]


def test_a_part_that_stays_writes_nothing(tmp_path: pathlib.Path) -> None:
    outcome = take_apart(
        Request(file=EXAMPLES / "bookcase.yaml"), part="left_side", folder=tmp_path / "no"
    )
    assert not outcome.complete
    assert [p.code for p in outcome.problems if p.severity.value == "error"] == ["part-stays"]
    assert not (tmp_path / "no").exists()
