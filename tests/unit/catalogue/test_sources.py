"""Every figure says where it comes from, in a form that somebody can look up."""

from __future__ import annotations

import pathlib
import re

import pytest

from tests.cabinets import built_in

ROOT = pathlib.Path(__file__).parents[3]
STANDARD = r"\b(?:ISO|EN|IEC|ASTM|ANSI|NIST IR|FPL-GTR)[ -]?[A-Z]?\d[\d.-]*"
BOOK = r"[A-Z]\w+.{0,120}\b(?:18|19|20)\d\d\b"  # an author, a title, and the year
MEMORY = r"from memory of (?:the )?\w+ .{5,}|from memory of (?:the )?[A-Z]"
FORMS = re.compile(
    rf"common practice, no source|computed|(?:{MEMORY})|{STANDARD}|{BOOK}", re.DOTALL
)
VAGUE = re.compile(
    r"handbooks?\b|mill sheet|training manual|\bstudy of\b"
    r"|\b[\w-]+\.(?:eu|com|org|de|net)\b|https?:",
    re.IGNORECASE,
)
CITED = re.compile(r"Source: (.+?)(?:\"\"\"|\n\n|\n *(?=[^# ])(?=def |[a-z_]+ =))", re.DOTALL)


def without_wood_handbook(text: str) -> str:
    """The Wood Handbook is cited by its number; what is left must name no other handbook."""
    return re.sub(r"Wood\s+Handbook,\s+FPL-GTR-\d+, \d{4}", "", " ".join(text.split()))


def told_badly(text: str) -> bool:
    flat = without_wood_handbook(text)
    return bool(VAGUE.search(flat)) or not FORMS.search(" ".join(text.split()))


@pytest.mark.parametrize(
    ("text", "bad"),
    [
        ("pitch 32: common practice, no source", False),
        ("head: from memory of ISO 7045:2011, table 1", False),
        ("Simek and others, The effect of end distance, Wood and Fiber Science 42(1), 2010", False),
        ("from memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8", False),
        ("strengths from memory of plywood handbooks", True),
        ("density: mill sheet", True),
        ("guidance on screwing, panels-info.eu", True),
        ("two thirds in the second piece: training manual", True),
        ("pull-out: Erdil, study of dowel nuts", True),
        ("what a pair carries is its maker's word", True),
        ("12.5 to 13 a side", True),
    ],
)
def test_good_and_bad_sources_are_told_apart(text: str, bad: bool) -> None:
    assert told_badly(text) is bad


def test_every_entry_of_the_catalogue_names_its_source() -> None:
    catalogue = built_in()
    bad = [
        (name, source)
        for section in ("boards", "items", "tools", "fittings", "times", "loads", "kinds")
        for name, entry in getattr(catalogue, section).items()
        for source in entry.sources
        if told_badly(source)
    ]
    assert bad == []


def test_what_has_figures_has_a_source() -> None:
    catalogue = built_in()
    silent = [name for name, tool in catalogue.tools.items() if tool.room and not tool.sources]
    silent += [name for name, item in catalogue.items.items() if not item.sources]
    silent += [name for name, board in catalogue.boards.items() if not board.sources]
    silent += [name for name, fitting in catalogue.fittings.items() if not fitting.sources]
    silent += [name for name, time in catalogue.times.items() if not time.sources]
    assert silent == []


def test_a_time_to_wait_and_a_room_to_work_say_what_they_rest_on() -> None:
    """They stand in many fittings; their sources stand with the tool, once."""
    catalogue = built_in()
    for fitting in catalogue.fittings.values():
        for action in fitting.actions:
            if action.do == "wait":
                assert action.minutes == 60  # one time for all glues, said with the glue
            if action.free is not None and action.tool is not None:
                assert catalogue.tools[action.tool].sources, action.tool
    assert "an hour in the clamps" in catalogue.tools["wood-glue"].sources[0]


def test_the_checks_from_outside_name_their_sources() -> None:
    found = []
    for file in sorted((ROOT / "tests/outside").glob("*.py")):
        text = file.read_text(encoding="utf-8")
        passages = CITED.findall(text)
        found += [(file.name, p) for p in passages if VAGUE.search(without_wood_handbook(p))]
        if file.name == "test_strength.py":
            assert len(passages) == text.count("def test_")
            found += [(file.name, p) for p in passages if told_badly(p)]
    assert found == []


def test_no_check_rests_on_a_page_of_somebody() -> None:
    for folder in ("kdkit/inspect", "kdkit/plan", "kdkit/catalogue", "tests/unit", "tests/outside"):
        for file in sorted((ROOT / folder).rglob("*.py")):
            if file == pathlib.Path(__file__):
                continue
            text = file.read_text(encoding="utf-8")
            assert "mill sheet" not in text, file
            assert "training manual" not in text, file
            assert not re.search(r"\bmdf-info\b", text), file
