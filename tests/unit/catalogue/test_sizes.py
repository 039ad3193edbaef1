"""Options that come in sizes, items named after them, needs and counts of a fitting."""

from __future__ import annotations

import pathlib
import re

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.catalogue.formulas import item_names, with_items
from kdkit.diagnostics import Problem

FILE = """\
items:
  arm-2: {title: Arm, mass: 1, pieces: [{kind: box, z0: 0, z1: 2, d0: 5, d1: 5}], sources: [own]}
  arm-4: {title: Arm, mass: 2, pieces: [{kind: box, z0: 0, z1: 4, d0: 5, d1: 5}], sources: [own]}
fittings:
  hinge:
    title: Hinge
    kind: joint
    contact: [hung]
    ends: 100
    pitch: 500
    options: {size: 2}
    choices: {size: [2, 4]}
    items: [{item: "arm-{size}", out: -j, carried_by: butting}]
    actions: [{do: insert, item: "arm-{size}"}, {do: hang}]
    needs: [{what: the overlay, value: overlay, least: 1, most: "10 + size"}]
    counts: {run: [[900, 2], [1600, 3]]}
    reversible: true
    sources: [made up]
"""


def load(folder: pathlib.Path, *changes: tuple[str, str]) -> tuple[Catalogue | None, list[Problem]]:
    text = FILE
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    file = folder / "own.yaml"
    file.write_text(text, encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    return catalogue, list(problems)


def told(folder: pathlib.Path, *changes: tuple[str, str]) -> Problem:
    _, problems = load(folder, *changes)
    (problem,) = problems
    assert problem.source is not None
    return problem


def test_an_items_name_follows_its_option(tmp_path: pathlib.Path) -> None:
    catalogue, problems = load(tmp_path)
    assert catalogue is not None, problems
    hinge = catalogue.fittings["hinge"]
    assert item_names("arm-{size}", hinge) == ("arm-2", "arm-4")
    assert [rule.item for rule in with_items(hinge).items] == ["arm-2"]
    larger = hinge.model_copy(update={"options": {"size": 4.0}})
    assert [rule.item for rule in with_items(larger).items] == ["arm-4"]
    assert [action.item for action in with_items(larger).actions] == ["arm-4", None]


def test_every_size_needs_its_item(tmp_path: pathlib.Path) -> None:
    problem = told(tmp_path, ("[2, 4]", "[2, 4, 6]"))
    assert problem.code == "catalogue-name"
    assert "arm-6" in problem.message


def test_choices_are_of_options_and_hold_what_is_set(tmp_path: pathlib.Path) -> None:
    assert told(tmp_path, ("choices: {size: [2, 4]}", "choices: {size: [4]}")).path[-1] == "size"
    problem = told(tmp_path, ("choices: {size: [2, 4]}", "choices: {size: [2, 4], width: [1]}"))
    assert "width" in problem.message


def test_a_need_has_a_bound_and_its_formulas_are_checked(tmp_path: pathlib.Path) -> None:
    assert told(tmp_path, (', least: 1, most: "10 + size"', "")).code == "catalogue-value"
    problem = told(tmp_path, ('"10 + size"', '"10 + sise"'))
    assert problem.path[-3:] == ("needs", 0, "most")


def test_the_bounds_of_a_need_stand_the_right_way_round(tmp_path: pathlib.Path) -> None:
    problem = told(tmp_path, ('most: "10 + size"', "most: 0.5"))
    assert problem.message == "needs, number 1: least is larger than most"


def test_counts_rise(tmp_path: pathlib.Path) -> None:
    assert told(tmp_path, ("[[900, 2], [1600, 3]]", "[[1600, 3], [900, 2]]")).path[-1] == "run"


def test_what_a_joint_measures_is_no_option(tmp_path: pathlib.Path) -> None:
    problem = told(tmp_path, ("options: {size: 2}", "options: {size: 2, overlay: 3}"))
    assert problem.code == "catalogue-name"
    assert "measures" in problem.message


def test_wrong_kinds_of_values_are_told_in_plain_words(tmp_path: pathlib.Path) -> None:
    changes = [("reversible: true", "reversible: maybe"), ("pitch: 500", "pitch: [500]")]
    changes += [("choices: {size: [2, 4]}", "choices: {size: 2}"), ("[[900, 2]", "[[900, 2.5]")]
    changes += [("do: hang", "do: hung"), ("title: Hinge", "title: [Hinge]")]
    _, problems = load(tmp_path, *changes)
    told = sorted(p.message for p in problems)
    assert all(re.search("expected a |expected true|not possible", m) for m in told), told
    assert "reversible: expected true or false, found the text 'maybe'" in told
    assert "size: expected a list: [first, second, …], found the number 2" in told
    assert not any("input" in message for message in told)
