"""What work a joint suits: every joint of the catalogue says it; a maker's own may."""

from __future__ import annotations

import pathlib

from kdkit.catalogue import load_catalogue
from tests.cabinets import built_in


def test_every_joint_says_what_work_it_suits() -> None:
    silent = [k for k, f in built_in().fittings.items() if f.kind == "joint" and not f.suits]
    assert silent == []


def test_an_unknown_word_is_refused_in_its_place(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text("fittings:\n  own:\n    like: glued\n    suits: [boat]\n", encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    assert catalogue is None
    assert [p.path for p in problems] == [("fittings", "own", "suits", 0)]
    assert problems[0].source is not None
    assert problems[0].source.line == 4


def test_a_makers_own_joint_may_leave_it_out(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "own.yaml"
    text = "title: Own\n    kind: joint\n    contact: [edge-face]\n    reversible: true"
    text += "\n    sources: [our own workshop]\n"
    file.write_text(f"fittings:\n  own:\n    {text}", encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    assert catalogue is not None, problems
    assert catalogue.fittings["own"].suits == ()
