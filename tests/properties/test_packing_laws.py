"""Laws of packing: random pieces, judged by code that packs nothing."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kdkit.schedule.packing import Packing, PackingRules, Piece, pack_product
from tests.carton_rules import broken_rules

_SIDES = st.floats(20, 1500).map(lambda v: round(v, 2))
_HEIGHTS = st.one_of(st.sampled_from([3.0, 16.0, 18.0, 22.0, 45.0]), st.floats(2, 160))


@st.composite
def pieces(draw: st.DrawFn) -> list[Piece]:
    """Panels, posts and units alike or not, and often a box with hardware."""
    found = []
    for n in range(draw(st.integers(1, 9))):
        sides = sorted((draw(_SIDES), draw(_SIDES)), reverse=True)
        height = min(draw(_HEIGHTS), sides[1])
        mass = sides[0] * sides[1] * height * 650e-9
        for m in range(draw(st.integers(1, 3))):
            found.append(
                Piece(
                    mark=f"A{n}",
                    title=f"piece {n}",
                    parts=(f"piece_{n}_{m}",),
                    size=(*sides, height),
                    mass_kg=mass,
                    first=draw(st.integers(1, 6)),
                )
            )
    if draw(st.booleans()):
        size = (160.0, draw(st.floats(60, 160)), 30.0)
        found.append(Piece(mark="", title="", parts=(), size=size, mass_kg=1.0, first=0))
    return found


NARROW = [  # the smaller lies below, needed later: the other bridges a gap that nothing fills
    Piece(mark="A0", title="", parts=("a",), size=(24.0, 20.0, 3.0), mass_kg=0.0009, first=1),
    Piece(mark="A1", title="", parts=("b",), size=(20.0, 20.0, 3.0), mass_kg=0.0008, first=2),
]

LIGHT = [  # large and thin: the carton weighs more than what is in it
    Piece(mark=mark, title="", parts=(part,), size=size, mass_kg=mass, first=1)
    for mark, part, size, mass in (
        ("A0", "a", (751.0, 90.0, 18.0), 0.790803),
        ("A0", "b", (751.0, 90.0, 18.0), 0.790803),
        ("A1", "c", (916.0, 853.0, 2.0), 1.0157524),
        ("A1", "d", (916.0, 853.0, 2.0), 1.0157524),
        ("A2", "e", (846.0, 417.0, 3.0), 0.6879249),
    )
]


@settings(max_examples=15, deadline=None)
@example(NARROW, 8.0, 0.0)
@example(LIGHT, 8.0, 0.0)
@given(pieces(), st.sampled_from([8.0, 22.0, 60.0]), st.sampled_from([0.0, 1.0, 4.0]))
def test_no_carton_breaks_a_rule(found: list[Piece], most: float, interleaf: float) -> None:
    rules = PackingRules(most_mass=most, interleaf=interleaf)
    packing = pack_product(found, rules)
    assert broken_rules(packing, found) == []
    assert packing.gross_kg == pytest.approx(
        sum(p.mass_kg for p in found) + sum(c.packing_kg for c in packing.cartons)
    )


def test_the_judge_sees_what_is_wrong() -> None:
    board = Piece(mark="A", title="", parts=("a",), size=(400.0, 300.0, 18.0), mass_kg=2.0, first=1)
    other = Piece(mark="B", title="", parts=("b",), size=(400.0, 300.0, 18.0), mass_kg=2.0, first=2)
    rules = PackingRules()
    packing = pack_product([board, other], rules)
    assert broken_rules(packing, [board, other]) == []
    (carton,) = packing.cartons
    swapped = Packing(
        cartons=(type(carton)(number=1, footprint=(390.0, 300.0), layers=carton.layers[::-1],
                              rules=rules),),
        rules=rules,
    )  # fmt: skip
    told = broken_rules(swapped, [board])
    assert any("reaches out" in said for said in told)
    assert any("needed before" in said for said in told)
    assert "not every piece is packed once" in told


def test_the_same_pieces_are_packed_the_same_way() -> None:
    found = [
        Piece(mark="A", title="", parts=(str(n),), size=(500.0, 200.0 + n % 3, 18.0),
              mass_kg=1.0, first=1)
        for n in range(9)
    ]  # fmt: skip
    assert pack_product(found, PackingRules()) == pack_product(found[::-1], PackingRules())
