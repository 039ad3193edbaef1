"""One entry for all sizes of a thing, and masses that follow from shapes."""

from __future__ import annotations

import math
import pathlib

import pytest

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.catalogue.families import members
from kdkit.diagnostics import Problem
from tests.cabinets import built_in

FILE = """\
items:
  peg-{d}x{length}:
    sizes:
      - {d: 6, length: 40, wood: beech}
      - {d: 9.5, length: 50, wood: steel}
    title: Peg of {wood}
    size: "{d} × {length}"
    material: "{wood}"
    pieces:
      - {kind: cylinder, z0: =-length / 2, z1: =length / 2, d0: =d}
    sources: [our own]
fittings:
  peg-{d}:
    sizes: [{d: 6, length: 40}, {d: 9.5, length: 50}]
    like: dowel-8x35
    title: Peg {d}
    items: [{item: "peg-{d}x{length}", out: -k, carried_by: butting}]
    bores:
      - {member: butting, into: +k, diameter: =d, depth: =length / 2 + 1, purpose: peg, mate: peg}
      - {member: receiving, into: -k, diameter: =d, depth: "{length} / 2 + 1", purpose: peg,
         mate: peg}
    actions: [{do: insert, item: "peg-{d}x{length}"}, {do: mate}]
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


def test_a_family_gives_an_entry_for_each_row(tmp_path: pathlib.Path) -> None:
    catalogue, problems = load(tmp_path)
    assert catalogue is not None, problems
    thick = catalogue.items["peg-9.5x50"]
    assert (thick.title, thick.size) == ("Peg of steel", "9.5 × 50")
    assert [(p.z0, p.z1, p.d0) for p in thick.pieces] == [(-25, 25, 9.5)]
    fitting = catalogue.fittings["peg-6"]
    assert fitting.title == "Peg 6"
    assert [(b.diameter, b.depth) for b in fitting.bores] == [(6, 21), (6, "40 / 2 + 1")]
    assert fitting.ends == built_in().fittings["dowel-8x35"].ends
    assert "peg-{d}" not in catalogue.fittings


def test_an_item_without_a_mass_weighs_its_shape(tmp_path: pathlib.Path) -> None:
    catalogue, problems = load(tmp_path)
    assert catalogue is not None, problems
    # by hand: beech 0.72 and steel 7.85 g/cm³, 28.27 × 40 and 70.88 × 50 mm³
    assert catalogue.items["peg-6x40"].mass == pytest.approx(0.814, abs=0.001)
    assert catalogue.items["peg-9.5x50"].mass == pytest.approx(27.82, abs=0.01)


def test_a_piece_of_another_stuff_and_a_hole_count(tmp_path: pathlib.Path) -> None:
    piece = "{kind: box, z0: 30, z1: 40, d0: 10, d1: 10, material: plastic}"
    catalogue, problems = load(
        tmp_path,
        ("d0: =d}\n", f"d0: =d}}\n      - {piece}\n"),
        ("    sources: [our own]", "    holes: [[4, 20]]\n    sources: [our own]"),
    )
    assert catalogue is not None, problems
    hole = math.pi / 4 * 16 * 20 * 7.85e-3
    assert catalogue.items["peg-9.5x50"].mass == pytest.approx(27.82 + 1.1 - hole, abs=0.01)


def test_a_stuff_of_unknown_density_asks_for_a_mass(tmp_path: pathlib.Path) -> None:
    _, problems = load(tmp_path, ("wood: steel", "wood: cheese"))
    (problem,) = problems
    assert problem.code == "catalogue-value"
    assert "density of cheese" in problem.message
    assert "write the mass in g" in problem.help
    assert problem.source is not None
    assert problem.source.line == 2  # the family: what is missing has no line of its own


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("d0: =d}", "d0: =dd}", 10, "dd"),
        ("z1: =length / 2", "z1: =length / 0", 10, "zero"),
        ("z1: =length / 2", "z1: =(length / 2", 10, "never closed"),
        ("- {d: 6, length: 40, wood: beech}", "- [6, 40]", 4, "names with numbers"),
        ("- {d: 6, length: 40, wood: beech}", "- {d: 9.5, length: 50, wood: beech}", 5, "second"),
        ("sizes: [{d: 6, length: 40}, {d: 9.5, length: 50}]", "sizes: 3", 14, "a list of 1 to"),
    ],
)
def test_what_is_wrong_with_a_family_is_told_at_its_line(
    tmp_path: pathlib.Path, old: str, new: str, line: int, said: str
) -> None:
    _, problems = load(tmp_path, (old, new))
    assert problems
    first = problems[0]
    assert first.source is not None
    assert first.source.line == line, first
    assert said in first.message


def test_the_caret_stands_under_the_name_in_a_formula(tmp_path: pathlib.Path) -> None:
    _, problems = load(tmp_path, ("d0: =d}", "d0: =dd}"))
    place = problems[0].source
    assert place is not None
    line = (tmp_path / "own.yaml").read_text(encoding="utf-8").split("\n")[place.line - 1]
    assert line[place.column - 1 : place.end_column - 1] == "dd"


def test_braces_that_no_row_knows_stay() -> None:
    found = members("a", {"sizes": [{"d": 1}], "item": "plate-{high}-{d}"})
    assert found.entries == {"a": {"item": "plate-{high}-1"}}


def test_what_says_its_mass_follows_from_no_shape_says_so() -> None:
    """An item of one known stuff has no mass of its own but by its shape."""
    for name, item in built_in().items.items():
        if any("computed" in source and "mass" in source for source in item.sources):
            raise AssertionError(f"{name} says that its mass was computed; leave `mass` out")
