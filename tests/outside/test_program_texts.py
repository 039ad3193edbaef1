"""No text changes what a drilling program does, however its control reads comments."""

from __future__ import annotations

import re
import string
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, example, given, settings

from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.program_blocks import list_setups
from kdkit.publish.workshop.programs.program_text import comment_lines, program_number
from kdkit.publish.workshop.programs.programs import render_programs
from kdkit.schedule.views import list_views
from tests.hostile_texts import ANY_TEXT, HOSTILE, NASTY, hostile_messages, with_text
from tests.outside.canned_cycles import Machine, Move
from tests.product_files import results_of

ALLOWED = frozenset(string.ascii_letters + string.digits + " .-()%\r\n")
LINE = re.compile(r"%|\([A-Za-z0-9 .-]+\)|[GMTSXYZIJRPQF][0-9GMTSXYZIJRPQF .-]*", re.ASCII)


def programs(results: Results, text: str | None) -> dict[str, str]:
    """Return every program of a product, by name; ``text`` fills every text there is."""
    messages = load_messages("en")
    if text is not None:
        results, messages = with_text(results, text), hostile_messages(messages, text)
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    machine = results.catalogue.machines["router"]
    job = WorkshopJob(
        results=results, panels=panels, messages=messages, paper="a4", machine=machine
    )
    setups = list_setups(panels, machine)
    return {name: text for s in setups for name, text in render_programs(s, job).items()}


def as_it_is_meant(program: str) -> list[Move]:
    """Comments in brackets are left out, ISO 6983-1."""
    return Machine(at=(0, 0, 40)).run(program)


def without_comments(program: str) -> list[Move]:
    """A control that skips what it does not know, brackets too, and reads on behind them."""
    words = re.compile(r"([A-Z]) *([+-]? *(?:[0-9]+\.?[0-9]*|\.[0-9]+))", re.ASCII)
    lines = [
        "%" if line.startswith("%") else " ".join(a + b for a, b in words.findall(line.upper()))
        for line in program.split("\r\n")
    ]
    return Machine(at=(0, 0, 40)).run("\n".join(lines))


def to_the_first_end(program: str) -> list[Move]:
    """A comment ends at the first closing bracket, at any line end, or after 80 characters;
    ``;`` begins another one, ``/`` lets a block be skipped, ``%`` ends the program."""
    lines, body = [], program.strip().removeprefix("%").removesuffix("%")
    for line in re.split("[\r\n]+", body.split("%")[0]):
        shown = re.sub(r"\([^)]*(\)|$)", "", line[:80].split(";")[0])
        if not shown.startswith("/"):
            lines.append(shown)
    return Machine(at=(0, 0, 40)).run("\n".join(lines))


READERS = (as_it_is_meant, without_comments, to_the_first_end)


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
@given(text=ANY_TEXT)
@example(text="\uff09G1 Z-50\uff08")
@example(text=")\r\nG1 Z-50\r\n(")
@example(text="\uff27\uff11 \uff3a\uff0d\uff15\uff10")
@example(text="".join(NASTY))
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_text_changes_a_move(name: str, text: str) -> None:
    results = results_of(name)
    plain, filled = programs(results, None), programs(results, text)
    assert filled.keys() == plain.keys()
    assert plain
    for key, program in filled.items():
        moves = as_it_is_meant(plain[key])
        assert any(move.kind == "feed" for move in moves)
        for reader in READERS:
            assert reader(program) == moves, reader.__name__
        assert set(program) <= ALLOWED, key
        lines = program.split("\r\n")
        assert lines.pop() == ""
        for line in lines:
            assert LINE.fullmatch(line), line
            assert len(line) <= 80


@pytest.mark.parametrize("name", HOSTILE)
def test_no_text_of_a_definition_is_in_a_program(name: str) -> None:
    """With kdkit's own words as they are, a program does not change by a byte."""
    results = results_of("bookcase")
    other = with_text(results, HOSTILE[name])
    panels = list_views(other.resolved, other.joinery, other.plan, other.schedules)
    machine = other.catalogue.machines["router"]
    job = WorkshopJob(
        results=other, panels=panels, messages=load_messages("en"), paper="a4", machine=machine
    )
    setups = list_setups(panels, machine)
    made = {name: text for s in setups for name, text in render_programs(s, job).items()}
    assert made == programs(results, None)


@given(words=ANY_TEXT)
def test_a_comment_holds_no_word_and_no_second_bracket(words: str) -> None:
    for line in comment_lines(words, 12.5):
        assert re.fullmatch(r"\([A-Za-z0-9 .-]+\)", line, re.ASCII)
        assert not re.search(r"[A-Za-z][ .-]*[0-9]", line)
        assert len(line) <= 80


def test_words_of_every_language_need_no_number() -> None:
    """A number among the words would be lost on the way into the program."""
    messages = load_messages("en")
    for key in messages.keys:
        if key.startswith("workshop.program_"):
            assert not re.search(r"\d", messages.unfilled(key)), key


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e6, -1e300])
def test_a_number_that_no_panel_has_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="in a program"):
        program_number(value)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1e-7, "0"), (-1e-7, "0"), (-0.0, "0"), (0.1 + 0.2, "0.3"), (1e5, "100000"), (-12.5, "-12.5")],
)
def test_a_number_has_no_exponent(value: float, text: str) -> None:
    assert program_number(value) == text


@pytest.mark.parametrize(
    "moved",
    [
        {"x": -1.0},
        {"x": 1e4},
        {"y": 1e4},
        {"floor": 0.0},
        {"floor": 5.0},
        {"floor": -50.0},
        {"x": float("nan")},
    ],
)
def test_a_bore_beside_its_surface_is_refused(moved: dict[str, float]) -> None:
    results = results_of("bookcase")
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    machine = results.catalogue.machines["router"]
    job = WorkshopJob(
        results=results, panels=panels, messages=load_messages("en"), paper="a4", machine=machine
    )
    setup = next(iter(list_setups(panels, machine)))
    tool, cycles = setup.runs[0]
    wrong = replace(setup, runs=((tool, (replace(cycles[0], **moved), *cycles[1:])),))
    with pytest.raises(ValueError, match="is not in the surface"):
        render_programs(wrong, job)


@pytest.mark.parametrize(
    ("reader", "told"),
    [
        (as_it_is_meant, "(a)G1 Z-50 F9(b)"),
        (without_comments, "(a G1 Z-50 F9)"),
        (to_the_first_end, "(a\r\nG1 Z-50 F9"),
    ],
)
def test_the_readers_see_what_a_text_can_do(reader: Callable[[str], list[Move]], told: str) -> None:
    moves = reader(f"%\r\nG90\r\n{told}\r\nM30\r\n%\r\n")
    assert [move.end[2] for move in moves] == [-50]
