"""What work a joint suits, worked out from its contact, boards and what is in it."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.catalogue import load_catalogue, works_of
from kdkit.catalogue.work import RULES
from tests.cabinets import built_in

# Judged by hand from the rules; each row differs from a neighbour by what its word says.
JOINTS = [
    ("dowel-8x35", "frame carcass"),  # nothing pulls it onto a face frame
    ("dowel-8x35-glued", "frame carcass panel-assembly face-frame"),
    ("dowel-6x30-glued", "carcass panel-assembly face-frame"),  # boards of 22 at most
    ("loose-tenon-9x30x60", "frame panel-assembly"),  # boards of 25 at least
    ("biscuit-20", "carcass panel-assembly face-frame"),  # 23 across
    ("biscuit-20-doubled", "panel-assembly"),  # members of 27 or more, 23 across
    ("stepped-dowel-8x60", "carcass"),  # its end shows outside, boards of 21 at most
    ("glued", "carcass panel-assembly face-frame"),  # end grain makes no frame
    ("bare", ""),  # nothing holds it
    ("flat-mitre-glued", "frame"),  # a band pulls a corner
    ("mitre-glued", "carcass"),
    ("housed", "carcass"),
    ("pocket-screw-4x32", "frame"),  # 25 deep into the edge of a rail
    ("pocket-screw-4x32-carcass", "frame carcass face-frame"),
    ("screw-4x50", "carcass"),  # heads in sight, through 22 at most
    ("screw-5x60", "frame carcass"),
    ("tee-nut-m6x30", "carcass"),  # face to face
    ("cup-hinge-overlay", "carcass"),
    ("leg-with-hanger-bolt-m8", "frame"),
    ("handle-128", ""),  # a fixture
]


@pytest.mark.parametrize(("key", "works"), JOINTS)
def test_what_a_joint_suits_follows_from_what_it_is(key: str, works: str) -> None:
    catalogue = built_in()
    assert works_of(catalogue.fittings[key], catalogue) == tuple(works.split())


def test_every_joint_that_holds_suits_something() -> None:
    catalogue = built_in()
    silent = [
        key
        for key, fitting in catalogue.fittings.items()
        if fitting.kind == "joint" and not works_of(fitting, catalogue)
    ]
    assert silent == ["bare"]


def test_every_rule_says_where_it_comes_from() -> None:
    for rule in RULES:
        assert "common practice, no source" in rule.because or "from memory of" in rule.because


def test_a_makers_own_joint_suits_what_its_sizes_make_it(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "own.yaml"
    limits = "limits: {butting_thickness: [30, 60]}"
    file.write_text(f"fittings:\n  own: {{like: dowel-8x35, {limits}}}\n", encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    assert catalogue is not None, problems
    assert works_of(catalogue.fittings["own"], catalogue) == ("frame",)


def test_a_list_written_by_hand_is_refused_in_its_place(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text("fittings:\n  own:\n    like: glued\n    suits: [frame]\n", encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    assert catalogue is None
    assert [(p.code, p.path) for p in problems] == [("catalogue-key", ("fittings", "own", "suits"))]
    assert problems[0].source is not None
    assert problems[0].source.line == 4
