"""A list starts a definition: what it says stands there, what it does not say is asked."""

from __future__ import annotations

import pathlib
import re
import unicodedata
from collections.abc import Callable, Sequence

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.diagnostics import Problem
from kdkit.imports.headings import words_of
from kdkit.imports.roles import free_name, role_of
from kdkit.imports.starting import Start
from kdkit.pipeline import Outcome, Request, check

MakeStart = Callable[..., Start]

CASE = """\
name;quantity;length;width;thickness;board;L1;note
Side;2;900;300;18;Particleboard white;1;
Top;1;764;300;18;Particleboard white;1;
Bottom;1;764;300;18;Particleboard white;x;
Shelf;1;764;280;18;Particleboard white;x;"fixed"
Plinth;1;764;80;18;Particleboard white;;
Back panel;1;896;796;3;Hardboard;;
"""

# What stands in an open question's value → its answer.
ANSWERS = {
    r'"\? \d+: left_side if mirrored"': "left_side",
    r'"\? \d+: thickness"': "1",
    r'(bottom:(?:\n    .*)*?\n    z: \{from: )"\? \d+: its underside"': r"\1plinth.z1",
    r'(shelf:(?:\n    .*)*?\n    z: \{from: )"\? \d+: its underside"': r"\g<1>480",
    r'(plinth:(?:\n    .*)*?\n    y: \{from: )"\? \d+: its front"': r"\g<1>20",
    r'(back_panel:(?:\n    .*)*?\n    y: \{from: )"\? \d+: its front"': r"\1left_side.y1",
    r'"\? \d+: where does back_panel begin[^"]*"': "2",
    r'\["\? \d+: what joins top, bottom, shelf"\]': "[cam-and-bolt]",
    r'\["\? \d+: what joins plinth"\]': "[{fitting: dowel-8x35, at: [22, -22]}]",
    r'\["\? \d+: what joins back_panel"\]': "[back-nailed]",
}


def checked(tmp_path: pathlib.Path, text: str) -> Outcome:
    file = tmp_path / "case.yaml"
    file.write_text(text, encoding="utf-8")
    return check(Request(file=file), risks=False)


def asked_for(problems: Sequence[Problem]) -> list[Problem]:
    return [p for p in problems if p.code == "open-question"]


def test_every_question_is_pointed_at_and_nothing_else_is_wrong(
    tmp_path: pathlib.Path, start: MakeStart
) -> None:
    made = start(CASE)
    outcome = checked(tmp_path, made.text)
    assert not outcome.complete
    assert {p.code for p in outcome.problems} == {"open-question"}
    numbers = {int(re.search(r"question: (\d+):", p.message)[1]) for p in outcome.problems}  # type: ignore[index]
    assert numbers == {q.number for q in made.questions}
    lines = made.text.split("\n")
    for question in made.questions:
        assert f"# QUESTION {question.number}: " in lines[question.line - 1]
    for problem in outcome.problems:
        assert problem.source is not None
        assert '"? ' in lines[problem.source.line - 1]


def test_answered_it_can_be_put_together_with_the_sizes_of_the_list(
    tmp_path: pathlib.Path, start: MakeStart
) -> None:
    text = start(CASE).text
    for question, answer in ANSWERS.items():
        text, count = re.subn(question, answer, text)
        assert count >= 1, question
    outcome = checked(tmp_path, text)
    assert outcome.complete, [p.message for p in outcome.problems]
    assert outcome.results is not None
    sizes = {
        (line.title, line.quantity, *sorted(line.finished[:2]), line.thickness)
        for line in outcome.results.schedules.cut
    }
    assert sizes == {
        ("Side", 1, 300, 900, 18),
        ("Bottom / Top", 2, 300, 764, 18),
        ("Shelf", 1, 280, 764, 18),
        ("Plinth", 1, 80, 764, 18),
        ("Back panel", 1, 796, 896, 3),
    }


def test_answering_some_leaves_the_others_open(tmp_path: pathlib.Path, start: MakeStart) -> None:
    text = start(CASE).text
    before = len(asked_for(checked(tmp_path, text).problems))
    for n, (question, answer) in enumerate(ANSWERS.items()):
        text, count = re.subn(question, answer, text)
        problems = checked(tmp_path, text).problems
        before -= count
        assert len(asked_for(problems)) == before
        if n < len(ANSWERS) - 1:
            assert {p.code for p in problems} == {"open-question"}


def test_what_is_inferred_is_said(start: MakeStart) -> None:
    text = start(CASE).text
    assert "x: {from: 0}   # INFERRED: the left end of the product" in text
    assert "x: [left_side.x1, left_side.x1 + 764]   # INFERRED: between the sides" in text
    assert "# INFERRED: particleboard-p2, from 'Particleboard white'" in text
    assert "# INFERRED: long edge 1 is front" in text
    assert "# The list notes: fixed" in text


def test_a_band_s_thickness_may_be_given(start: MakeStart) -> None:
    made = start(CASE, band=0.8)
    assert "bands: {front: 0.8}" in made.text
    assert not [q for q in made.questions if "thick" in q.text]


def test_without_a_shelf_it_is_asked_whether_the_top_lies_between(start: MakeStart) -> None:
    made = start("name;qty;length;width;board\nSide;2;900;300;MDF 18\nTop;1;764;300;MDF 18\n")
    assert "between the sides" not in made.text
    asked = " ".join(q.text for q in made.questions)
    assert "where does top begin, at its left end?" in asked
    assert "where does right_side stand?" in asked


def test_a_top_longer_by_both_sides_lies_over_them(start: MakeStart) -> None:
    rows = "Side;2;900;300;MDF 18\nShelf;1;764;280;MDF 18\nTop;1;800;300;MDF 18\n"
    text = start(f"name;qty;length;width;board\n{rows}").text
    assert "x: [0, 800]   # INFERRED: over both sides" in text
    assert "z: {from: left_side.z1}   # INFERRED: at the top of the sides" in text


def test_an_adjustable_shelf_is_loose_and_joined_by_nothing(start: MakeStart) -> None:
    rows = "Side;2;900;300;MDF 18\nTop;1;764;300;MDF 18\nAdjustable shelf;3;762;280;MDF 18\n"
    made = start(f"name;qty;length;width;board\n{rows}")
    assert made.text.count("loose: true") == 3
    assert made.text.count("[left_side.x1 + 1, left_side.x1 + 1 + 762]") == 3
    assert "what joins top" in made.text
    assert "what joins adjustable" not in made.text


def test_two_panels_of_a_kind_may_be_a_mirrored_pair(start: MakeStart) -> None:
    made = start("name;qty;length;width;board\nBracket;2;300;200;MDF 18\n")
    asked = [q.text for q in made.questions if "mirror image of bracket_1" in q.text]
    assert len(asked) == 1
    assert made.panels == 2


def test_an_unknown_board_or_thickness_is_asked(tmp_path: pathlib.Path, start: MakeStart) -> None:
    made = start("name;length;width;board\nTop;764;300;Slate\n")
    asked = " ".join(q.text for q in made.questions)
    assert "which board of the catalogue is 'Slate'" in asked
    assert "how thick is 'Slate'?" in asked
    assert {p.code for p in checked(tmp_path, made.text).problems} == {"open-question"}


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("Left side", "left"),
        ("Side, right", "right"),
        ("Seite links", "left"),
        ("Rückwand", "back"),
        ("Sockel", "plinth"),
        ("Bottom shelf", "shelf"),
        ("Adjustable shelf", "adjustable"),
        ("Drawer side", "drawer"),
        ("Back left post", "post"),
        ("Mittelwand", "divider"),
        ("Einlegeboden", "adjustable"),
        ("Widget", ""),
    ],
)
def test_roles_come_from_names(name: str, role: str) -> None:
    assert role_of(name) == role


def test_every_material_that_words_know_is_in_the_catalogue() -> None:
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    assert set(words_of("materials")) <= set(catalogue.boards)


def test_names_are_names_and_never_twice() -> None:
    taken: set[str] = set()
    for text in ("Left side", "left-side", "3 rails", "ß?", "…", "…", "boards", "a" * 200):
        name = free_name(text, taken, "panel")
        assert name.isidentifier()
        assert len(name) <= 40
        assert name not in taken
        taken.add(name)


NAMES = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=30)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None
)
@given(
    rows=st.lists(
        st.tuples(
            NAMES.filter(lambda name: name.strip().strip('#/"') != ""),
            st.integers(1, 3),
            st.sampled_from([120, 280, 764, 800, 900]),
            st.sampled_from([60, 280, 300, 796]),
            NAMES,
        ),
        min_size=1,
        max_size=6,
    )
)
def test_any_list_starts_a_definition_that_only_asks(
    rows: list[tuple[str, int, int, int, str]], tmp_path: pathlib.Path, start: MakeStart
) -> None:
    lines = ["name;qty;length (mm);width;thickness;board;L1"]
    kinds = ("Side", "Top", "Shelf", "Back", "")
    for n, (name, quantity, length, width, board) in enumerate(rows):
        cells = [f"{kinds[n % 5]} {name}", board]
        named, material = (cell.replace('"', '""') for cell in cells)
        lines.append(f'"{named}";{quantity};{length};{width};18;"{material}";1')
    text = start("\n".join(lines)).text
    file = tmp_path / "any.yaml"
    file.write_text(text, encoding="utf-8")
    definition, problems = load_definition(file)
    assert definition is not None, problems
    said = {panel["title"] for panel in definition.data["panels"].values()}
    named = (" ".join(f"{kinds[n % 5]} {row[0]}".split()) for n, row in enumerate(rows))
    assert said == {unicodedata.normalize("NFC", name) for name in named}
    assert {p.code for p in check(Request(file=file), risks=False).problems} == {"open-question"}
