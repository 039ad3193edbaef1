"""Steps that several units alike share, in the words of the manual."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.pipeline import Request, check
from kdkit.publish.manual.steps import StepContent, write_steps
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.unit.plan.operations.test_twins import TRAYS


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Results:
    file = tmp_path_factory.mktemp("trays") / "trays.yaml"
    file.write_text(TRAYS, encoding="utf-8")
    outcome = check(Request(file=pathlib.Path(file)), risks=False)
    assert outcome.results is not None, outcome.problems
    return outcome.results


def names_of(results: Results) -> Names:
    return Names(results.resolved, results.catalogue, results.schedules, load_messages("en"), {})


def steps_of(results: Results) -> tuple[StepContent, ...]:
    return write_steps(results, names_of(results), load_messages("en"), lambda key, text: None)


def test_a_unit_used_three_times_is_built_whole_and_then_again(results: Results) -> None:
    shared = [s for s in steps_of(results) if s.loop]
    assert {s.subassembly for s in shared} == {"Tray"}
    numbers = [s.number for s in shared]
    assert len(numbers) > 1
    said = str(shared[0].loop.striptags())
    assert said.startswith(f"Build 3 of these: do steps {numbers[0]} to {numbers[-1]} for one")
    assert [str(s.loop) for s in shared[1:]] == [f"One of 3: see step {numbers[0]}."] * (
        len(numbers) - 1
    )


def test_a_shared_step_tells_of_one_and_counts_hardware_for_one(results: Results) -> None:
    first = next(s for s in steps_of(results) if s.loop)
    (dowels,) = first.items
    (line,) = (str(line.striptags()) for line in first.lines if "dowel" in line)
    assert dowels.quantity == 4, "2 in each of 2 ends; the loop says for how many trays"
    assert "2 ×" in line
    assert "12" not in line


def test_whole_units_go_by_their_title_and_the_letters_that_tell_them_apart(
    results: Results,
) -> None:
    names = names_of(results)
    parts = {unit.name: list(unit.parts) for unit in results.resolved.units}
    assert names.is_units(parts["one"])
    assert not names.is_units(parts["one"][:-1])
    assert not names.is_units([*parts["one"], "base"])
    said = str(names.parts([*parts["one"], *parts["two"]]).striptags())
    rail = results.schedules.letter_of("one.near")
    assert said.replace("\u00a0", " ") == f"2 × tray {rail}"
    other = results.schedules.letter_of("wide.near")
    assert other != rail
    assert str(names.parts(parts["wide"]).striptags()).replace("\u00a0", " ") == f"tray {other}"
    with_base = str(names.parts([*parts["one"], "base"]).striptags())
    assert with_base.startswith("tray")
    assert "base" in with_base


def test_the_way_round_of_twins_is_told_once(results: Results) -> None:
    steps = steps_of(results)
    ends = results.schedules.letter_of("one.left")
    built = [s for s in steps if s.subassembly and any(ends in w.striptags() for w in s.ways)]
    brought_in = next(s for s in steps if "3" in s.title.striptags() and not s.subassembly)
    assert built
    assert not any(w.striptags().startswith(f"{ends}:") for w in brought_in.ways)
