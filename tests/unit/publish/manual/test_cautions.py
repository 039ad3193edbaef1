"""Cautions on the first pages and in the steps, by what the product is made of."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.illustrate.paper.style import load_style
from kdkit.pipeline import Request, check
from kdkit.publish.manual.cautions import write_cautions
from kdkit.publish.manual.content import write_manual
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.chests import chest

CASE = """\
kdkit: 1
product: Case
boards:
  carcass: {material: particleboard-p2, thickness: 18}
  pane: {material: glass, thickness: 8}
panels:
  left: {board: carcass, title: Left side, x: {from: 0}, y: [0, 300], z: [0, 500], face: +x}
  right: {mirror: left, title: Right side, x: {to: 600}}
  bottom: {board: carcass, title: Bottom, x: [18, 582], y: [0, 300], z: {from: 0}}
  top: {board: carcass, title: Top, x: [18, 582], y: [0, 300], z: {to: 500}}
  rail: {board: carcass, title: Rear rail, x: [18, 582], y: {to: 300}, z: [382, 482]}
  PANE
joints:
  - join: [top, bottom]
    to: [left, right]
    fittings: [{fitting: dowel-8x30, ends: 50, pitch: 200}]
  - {join: rail, to: [left, right], fittings: [{fitting: dowel-8x30, ends: 30}]}
fixtures: [FIXTURES]
safety: {wall_restraint: advised}
"""
PANE = "shelf: {board: pane, title: Pane, x: [20, 580], y: [5, 280], z: {from: 260}, loose: true}"
SUPPORTS = (
    "{fitting: glass-support-5, on: [left, right], rows: {first: 192, last: 320}, carries: shelf}"
)
CASTORS = "{fitting: plate-castor-50, on: bottom, at: [[60, 60, 0], [540, 60, 0]]}"
HUNG = "{fitting: wall-screw-through-rail, on: rail, at: [[100, 300, 432], [500, 300, 432]]}"


def case(fixtures: str, pane: str = "") -> str:
    return CASE.replace("FIXTURES", fixtures).replace("PANE", pane)


def results_of(folder: pathlib.Path, text: str) -> Results:
    file = folder / "definition.yaml"
    file.write_text(text, encoding="utf-8")
    outcome = check(Request(file=file), risks=False)
    assert outcome.results is not None, outcome.problems
    return outcome.results


def first_pages(folder: pathlib.Path, text: str) -> str:
    results, messages = results_of(folder, text), load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    return " ".join(str(c.text.striptags()) for c in write_cautions(results, names, messages))


@pytest.mark.parametrize(
    ("fixtures", "pane", "words"),
    [
        (CASTORS, "", "It rolls. Lock every brake"),
        (HUNG, "", "Let a qualified person judge the wall"),
        (SUPPORTS, PANE, "Glass can break and cut"),
    ],
)
def test_what_a_product_is_made_of_brings_its_caution(
    tmp_path: pathlib.Path, fixtures: str, pane: str, words: str
) -> None:
    assert words in first_pages(tmp_path, case(fixtures, pane))
    assert words not in first_pages(tmp_path, case(""))


def test_what_hangs_needs_no_word_on_tipping(tmp_path: pathlib.Path) -> None:
    assert "tips over" in first_pages(tmp_path, case(""))
    assert "tips over" not in first_pages(tmp_path, case(HUNG))


def test_storage_for_clothes_is_found_by_its_measures(tmp_path: pathlib.Path) -> None:
    words = "Do not let children climb or hang on it"
    large = (
        *(("height: 150", "height: 180"), ("- 75", "- 90")),
        *(("height: 120\n      f", "height: 170\n      f"), ("- 60]", "- 85]")),
    )
    unsaid, denied = (
        (", clothing_storage: true", ""),
        ("clothing_storage: true", "clothing_storage: false"),
    )
    assert words in first_pages(tmp_path, chest(*large, unsaid))
    assert words not in first_pages(tmp_path, chest(*large, denied))
    assert words not in first_pages(tmp_path, chest(unsaid))
    assert words in first_pages(tmp_path, chest())


def steps_of(folder: pathlib.Path, text: str) -> str:
    results = results_of(folder, text)
    style, _ = load_style()
    assert style is not None
    manual, _ = write_manual(results, load_messages("en"), style)
    told = []
    for step in manual.steps:
        told += [str(c.text.striptags()) for c in step.cautions]
        told += [str(line.striptags()) for line in step.lines]
    return " ".join(told)


def test_steps_tell_how_glass_is_laid_and_how_it_is_hung(tmp_path: pathlib.Path) -> None:
    assert "Take the glass with both hands" in steps_of(tmp_path, case(SUPPORTS, PANE))
    hung = steps_of(tmp_path, case(HUNG))
    assert "one holds it against the wall until every fixing is tight" in hung
    assert "ask a qualified person" in hung
    assert "mark the places of its bores on the wall" in hung
    assert "restraint" not in hung


def test_drawers_are_put_on_their_runners(tmp_path: pathlib.Path) -> None:
    told = steps_of(tmp_path, chest())
    assert "set the halves of its runners into each other" in told
    assert "until the gaps all round are even" in told
