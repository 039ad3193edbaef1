"""The wardrobe's manual: drawers, doors and a rail told in words that fit them."""

from __future__ import annotations

import pathlib
import re

import pytest

from kdkit.publish.manual.steps import StepContent, write_steps
from kdkit.publish.manual.taking_apart import tell_fixed_joints, write_taking_apart
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.product_files import results_of

FILE = pathlib.Path(__file__).parents[4] / "examples" / "wardrobe.yaml"
SAY = load_messages("en")


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("wardrobe")


@pytest.fixture(scope="module")
def names(results: Results) -> Names:
    return Names(results.resolved, results.catalogue, results.schedules, SAY, {})


@pytest.fixture(scope="module")
def steps(results: Results, names: Names) -> tuple[StepContent, ...]:
    return write_steps(results, names, SAY, lambda name, alternative: None, from_parts=True)


def words(text: object) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", str(text)).replace("\u202f", " ").split())


def test_drawers_of_a_bay_are_put_on_their_runners(steps: tuple[StepContent, ...]) -> None:
    titles = [words(step.title) for step in steps]
    assert (
        sum(t.startswith("Put 3 × drawer") and t.endswith("on their runners") for t in titles) == 3
    )
    assert not any("on its runners" in t for t in titles)


def test_it_is_said_how_the_first_part_lies(steps: tuple[StepContent, ...]) -> None:
    """Once for each thing that is built: the box, each drawer, the carcass."""
    laid = [words(line) for step in steps for line in step.lines if "on the floor" in words(line)]
    assert not [line for line in laid if "upside down" in line]
    assert sum("Lay drawer front" in line for line in laid) == 3
    assert sum("Lay drawer side" in line for line in laid) == 1
    assert len(laid) >= 4


def test_a_rail_in_its_socket_touches_along_no_joint(steps: tuple[StepContent, ...]) -> None:
    (rail,) = (step for step in steps if words(step.title).startswith("Put on hanging rail"))
    assert words(rail.result) == "It sits as far in as it goes."


def test_drawers_and_doors_come_out_before_the_wall_lets_go(results: Results, names: Names) -> None:
    told = [words(line) for line in write_taking_apart(results, names, SAY)]
    wall = next(n for n, line in enumerate(told) if "free its restraint from the wall" in line)
    assert "hold door" in told[0]
    (drawers,) = (n for n, line in enumerate(told) if "free their profiles" in line)
    assert 0 < drawers < wall
    assert "back: pull 3 × drawer G, 3 × drawer H and 3 × drawer F out" in told[drawers]


def test_steps_told_in_one_line_keep_their_order(results: Results, names: Names) -> None:
    """The numbers only fall."""
    told = [words(line) for line in write_taking_apart(results, names, SAY)]
    numbers = []
    for line in told:
        found = re.match(r"Steps? ([\d, and]+) back:", line)
        numbers += [int(n) for n in re.findall(r"\d+", found.group(1))] if found else []
    assert numbers == sorted(numbers, reverse=True)
    assert len(set(numbers)) > 20
    assert len(numbers) - len(set(numbers)) <= 1  # what is glued stays, in one step with screws
    assert any(line.startswith("Step 20 back: take off hanging rail") for line in told)


def test_two_persons_are_asked_for_once_a_step(steps: tuple[StepContent, ...]) -> None:
    asked = [
        sum(words(c.text).count("Two persons are needed") for c in step.cautions) for step in steps
    ]
    assert max(asked) == 1
    several = [c for step in steps for c in step.cautions if "; " in words(c.text)]
    assert several, "heavy and held, in one sentence"


def test_sides_follow_the_picture_where_the_work_lies(steps: tuple[StepContent, ...]) -> None:
    ways = [words(way) for step in steps for way in step.ways]
    assert any("facing up" in way or "facing down" in way for way in ways)


def test_drawers_are_built_whole_one_after_the_other(steps: tuple[StepContent, ...]) -> None:
    loops = [words(step.loop) for step in steps if step.loop]
    (begun,) = [loop for loop in loops if loop.startswith("Build 9 of these: do steps")]
    assert "for one, then again for the next" in begun
    assert not any(loop.startswith("Do this step 9 times") for loop in loops)


def test_what_does_not_come_apart_is_told_once_of_boxes_alike(
    results: Results, names: Names
) -> None:
    told = tell_fixed_joints(results, names, SAY).striptags()
    phrases = told.replace(" and drawer", ", drawer").split("), ")
    assert len(set(phrases)) == len(phrases) == 4  # two backs; inner front and rear of a box
