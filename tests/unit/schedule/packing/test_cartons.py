"""Products in their cartons: masses, groups, openings, who carries, what is divided."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.packing import find_cartons
from kdkit.pipeline import Outcome, Request, check
from kdkit.publish.packing.folder import heavy_cartons
from kdkit.publish.results import Results
from kdkit.schedule.packing import MOST_MASS, PackingRules, Piece, list_pieces, pack_product
from kdkit.schedule.packing.rules import persons_to_carry
from tests.carton_rules import broken_rules

EXAMPLES = pathlib.Path(__file__).parents[4] / "examples"
RULES = PackingRules()

BOX = """\
kdkit: 1
product: Stool box
boards: {ply: {material: particleboard-p2, thickness: 18}}
panels:
  left: {board: ply, x: {from: 0}, y: [0, 300], z: [0, 400], face: +x}
  right: {mirror: left, x: {to: 500}}
  top:
    board: ply
    x: [18, 482]
    y: [0, 300]
    z: {to: 400}
    face: -z
    cutouts: [{x: 250, y: 150, diameter: 90}]
  bottom:
    board: ply
    z: {from: 0}
    face: +z
    outline: [[18, 0], [482, 0], [482, 300], [100, 300], [18, 200]]
joints:
  - {join: [top, bottom], to: left, fittings: [dowel-8x35-glued], workshop: true}
  - {join: [top, bottom], to: right, fittings: [cam-and-bolt]}
safety: {wall_restraint: none}
"""


def pieces_of(results: Results, rules: PackingRules = RULES) -> tuple[Piece, ...]:
    return list_pieces(
        results.resolved,
        results.joinery,
        results.catalogue,
        results.plan,
        results.schedules,
        rules,
    )


def worked_out(file: pathlib.Path) -> Results:
    outcome = check(Request(file=file), risks=False)
    assert outcome.results is not None, outcome.problems
    return outcome.results


def test_a_carton_is_divided_where_two_persons_may_carry_it() -> None:
    # L23 from the knuckle to the middle of the lower leg: men 20, women 13; two of them 2/3.
    assert pytest.approx((20 + 13) / 2 * 2 * 2 / 3) == MOST_MASS


@pytest.mark.parametrize(
    ("mass", "persons"),
    # 600 wide, 100 high: half of it at the start of the tilt, below the middle of the lower
    # leg: 8.5 each, so up to 17 alone; lifted on its edge 16.5 each alone, two 22.
    [(16.5, 1), (16.6, 2), (22.0, 2), (22.1, 3), (25.4, 4), (34.1, 5)],
)
def test_who_carries_a_carton(mass: float, persons: int) -> None:
    assert persons_to_carry((1200, 600, 100), mass) == persons


def test_a_long_carton_takes_two_however_light() -> None:
    assert persons_to_carry((1500, 300, 100), 6.0) == 1
    assert persons_to_carry((1900, 300, 100), 6.0) == 2
    assert persons_to_carry((1900, 600, 100), 22.1) == 3


def spares_kg(results: Results) -> float:
    """The mass of the spares in the bags."""
    bags = results.schedules.bags
    return sum(one.spares * one.mass_g / 1000 for bag in bags for one in bag.items)


def test_the_bookcase_is_packed_by_the_rules(
    built_bookcase: tuple[Outcome, pathlib.Path],
) -> None:
    results = built_bookcase[0].results
    assert results is not None
    pieces = pieces_of(results)
    packing = find_cartons(results, RULES)
    assert broken_rules(packing, pieces_of(results)) == ["not every piece is packed once"]
    packing = pack_product(pieces, RULES)
    assert broken_rules(packing, pieces) == []
    unsupplied = sum(
        (line.quantity - line.workshop) * line.mass_g / 1000
        for line in results.schedules.hardware
        if not line.supplied
    )
    packed = sum(carton.contents_kg for carton in packing.cartons)
    spares = spares_kg(results)
    assert packed == pytest.approx(results.schedules.mass_kg - unsupplied + spares)
    parts = sorted(name for piece in pieces for name in piece.parts)
    assert parts == sorted(part.name for part in results.resolved.parts)


def test_parts_packed_as_one_lie_as_one_box(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "box.yaml"
    file.write_text(BOX, encoding="utf-8")
    results = worked_out(file)
    pieces = {piece.parts: piece for piece in pieces_of(results)}
    unit = pieces["bottom", "left", "top"]
    # Left, top and bottom as one: 482 long, 400 high and 300 deep; it lies on its largest side.
    assert unit.size == pytest.approx((482, 400, 300))
    assert unit.mark == "+".join(sorted(results.schedules.letter_of(p) for p in unit.parts))
    assert unit.wrapped is False
    whole = results.schedules.mass_kg + spares_kg(results)
    assert sum(p.mass_kg for p in pieces.values()) == pytest.approx(whole)
    assert broken_rules(pack_product(list(pieces.values()), RULES), list(pieces.values())) == []


def test_shaped_panels_keep_their_outline(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "box.yaml"
    file.write_text(BOX.replace(", workshop: true", ""), encoding="utf-8")
    pieces = {piece.parts: piece for piece in pieces_of(worked_out(file))}
    top, bottom = pieces[("top",)], pieces[("bottom",)]
    assert top.size == bottom.size == pytest.approx((464, 300, 18))
    assert len(bottom.outline) == 5
    assert len(top.openings) == 1
    xs, ys = zip(*top.openings[0], strict=True)
    assert ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2) == pytest.approx((232, 150))


def test_one_piece_too_heavy_is_told() -> None:
    slab = Piece(mark="A", title="slab", parts=("slab",), size=(1800, 900, 38), mass_kg=40, first=1)
    leg = Piece(mark="B", title="leg", parts=("leg",), size=(700, 70, 70), mass_kg=2.3, first=1)
    packing = pack_product([slab, leg], RULES)
    assert [len(c.placed) for c in packing.cartons] == [1, 1]
    (told,) = heavy_cartons(packing)
    assert told.code == "carton-heavy"
    assert "a trolley or straps carry it" in told.message


def test_more_mass_makes_fewer_cartons(built_bookcase: tuple[Outcome, pathlib.Path]) -> None:
    results = built_bookcase[0].results
    assert results is not None
    assert len(find_cartons(results, RULES).cartons) == 2
    assert len(find_cartons(results, PackingRules(most_mass=30)).cartons) == 1
    assert len(find_cartons(results, PackingRules(most_mass=9)).cartons) > 2
