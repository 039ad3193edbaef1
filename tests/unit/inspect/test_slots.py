"""Slots and slanted bores under inspection: what is wrong is told, what just fits is not."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.inspect.bores import check_bore_edges
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.slots import check_slot_crossings, check_slots_fit
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Bore, Groove, Joinery, Slot
from kdkit.model.resolved import Part
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

PANEL = board("panel", (0, 0, 0), (600, 300, 18))  # face up; x along 600, y along 300


def looked_at(
    *, slots: tuple[Slot, ...] = (), bores: tuple[Bore, ...] = (), grooves: tuple[Groove, ...] = ()
) -> Inspection:
    product = resolved([PANEL])
    joinery = Joinery(
        joints=(), fixtures=(), bores=bores, grooves=grooves, fasteners=(), slots=slots
    )
    assembly, _ = assemble(product)
    assert assembly is not None
    return Inspection(product, assembly, joinery, built_in())


def codes(problems: Iterable[Problem]) -> list[str]:
    return [p.code for p in problems]


def slot(x: float = 300.0, **changes: object) -> Slot:
    """A slot for a size 20 in the front edge."""
    plain = Slot(
        part="panel", surface="edge:0", mouth=(x, 0.0, -9.0), into=(0, 1, 0), along=(1, 0, 0),
        width=4, length=2 * math.sqrt(12.5 * 87.5), depth=12.5, disc=100,
        purpose="biscuit slot", path=("joints", 0),
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def routed(**changes: object) -> Slot:
    """A mortise in the front edge."""
    return slot(width=6, length=26, depth=28, disc=None, purpose="mortise", **changes)


def bore(mouth: tuple[float, float, float], into: tuple[float, float, float], d: float, deep: float,
         surface: str = "face", through: bool = False) -> Bore:  # fmt: skip
    return Bore(part="panel", surface=surface, mouth=mouth, into=into, diameter=d, depth=deep,
                through=through, purpose="bore", path=("joints", 1))  # fmt: skip


def test_a_slot_in_its_place_is_fine() -> None:
    inspection = looked_at(
        slots=(slot(), slot(400.0)), bores=(bore((300, 30, 0), (0, 0, -1), 15, 12),)
    )
    assert codes(check_slots_fit(inspection)) == []
    assert codes(check_slot_crossings(inspection)) == []


@pytest.mark.parametrize(("depth", "expected"), [
    (14.5, []), (16.0, ["slot-skin-thin"]), (18.0, ["slot-too-deep"]),
])  # fmt: skip
def test_a_slot_in_the_face_leaves_a_skin(depth: float, expected: list[str]) -> None:
    face = slot(surface="face", mouth=(300.0, 150.0, 0.0), into=(0, 0, -1), depth=depth)
    assert codes(check_slots_fit(looked_at(slots=(face,)))) == expected


@pytest.mark.parametrize(("x", "expected"), [(33.2, []), (32.0, ["slot-breaks-out"])])
def test_a_slot_at_the_end_of_an_edge(x: float, expected: list[str]) -> None:
    assert codes(check_slots_fit(looked_at(slots=(slot(x),)))) == expected


@pytest.mark.parametrize(("z", "expected"), [(-2.05, []), (-1.0, ["slot-breaks-out"])])
def test_a_slot_near_the_face(z: float, expected: list[str]) -> None:
    near = slot(mouth=(300.0, 0.0, z))
    assert codes(check_slots_fit(looked_at(slots=(near,)))) == expected


@pytest.mark.parametrize(("apart", "expected"), [(66.3, []), (65.9, ["slot-crosses"])])
def test_slots_end_to_end(apart: float, expected: list[str]) -> None:
    found = check_slot_crossings(looked_at(slots=(slot(300.0), slot(300.0 + apart))))
    assert codes(found) == expected


@pytest.mark.parametrize(("y", "expected"), [(20.1, []), (19.8, ["slot-crosses"])])
def test_a_bore_behind_the_deepest_place_of_a_slot(y: float, expected: list[str]) -> None:
    """12.5 deep in the middle, and a bore of 15 whose rim begins 7.5 before its axis."""
    found = check_slot_crossings(
        looked_at(slots=(slot(),), bores=(bore((300, y, 0), (0, 0, -1), 15, 12),))
    )
    assert codes(found) == expected


def test_a_bore_beside_the_shallow_end_of_an_arc_is_clear() -> None:
    """Two round things keep apart while their middles do: (y + 37.5)² + 30² > (50 + 7.5)²."""
    near = bore((330, 11.7, 0), (0, 0, -1), 15, 12)
    assert codes(check_slot_crossings(looked_at(slots=(slot(),), bores=(near,)))) == []
    nearer = bore((330, 11.4, 0), (0, 0, -1), 15, 12)
    found = check_slot_crossings(looked_at(slots=(slot(),), bores=(nearer,)))
    assert codes(found) == ["slot-crosses"]


def test_mortises_and_grooves() -> None:
    plan = ((0.0, 20.0), (600.0, 20.0), (600.0, 24.0), (0.0, 24.0))
    groove = Groove(part="panel", surface="face", polygon=plan, depth=8, path=(), joint="back")
    assert codes(check_slot_crossings(looked_at(slots=(routed(),), grooves=(groove,)))) == [
        "slot-crosses"
    ]
    shallow = replace(groove, depth=5.9)
    assert codes(check_slot_crossings(looked_at(slots=(routed(),), grooves=(shallow,)))) == []
    back = replace(groove, surface="back", depth=6.2)
    assert codes(check_slot_crossings(looked_at(slots=(routed(),), grooves=(back,)))) == [
        "slot-crosses"
    ]


LEAN = (0.0, -math.cos(math.radians(15)), -math.sin(math.radians(15)))


def test_a_pocket_breaks_out_only_where_its_rim_does() -> None:
    """Its bottom's rim reaches r·sin 15° = 1.23 past the axis, towards the edge."""
    setback = 18 / (2 * math.tan(math.radians(15)))
    for stop, expected in ((1.3, ["bore-near-edge"]), (1.1, ["bore-breaks-out"])):
        pocket = bore((300, setback, 0), LEAN, 9.5, (setback - stop) / math.cos(math.radians(15)))
        assert codes(check_bore_edges(looked_at(bores=(pocket,)))) == expected
    clear = bore((300, setback, 0), LEAN, 9.5, (setback - 8) / math.cos(math.radians(15)))
    assert codes(check_bore_edges(looked_at(bores=(clear,)))) == []
    through = bore((300, setback, 0), LEAN, 4, 9 / math.sin(math.radians(15)), through=True)
    assert codes(check_bore_edges(looked_at(bores=(through,)))) == []


def test_a_slanted_bore_that_comes_near_the_other_face() -> None:
    """An edge bore that dips towards the back: the rim at its bottom is what counts."""
    into = (0.0, math.cos(math.radians(20)), -math.sin(math.radians(20)))
    rim = 4 * math.cos(math.radians(20))
    # an edge bore typed by hand has no least distance, so only what breaks out is told
    for left, expected_codes in ((rim + 0.05, []), (rim - 0.05, ["bore-breaks-out"])):
        depth = (9 - left) / math.sin(math.radians(20))
        slanted = bore((300, 0, -9), into, 8, depth, surface="edge:0")
        assert codes(check_bore_edges(looked_at(bores=(slanted,)))) == expected_codes


def test_the_point_of_a_pocket_screw_stays_in() -> None:
    def found(width: float) -> list[str]:
        parts: list[Part] = [
            board("side", (0, 0, 0), (width, 18, 600)),
            board("shelf", (width, 0, 200), (500, 18, 340)),
        ]
        product = resolved(parts, [joint("shelf", "side", use("pocket-screw-4x32"))])
        assembly, _ = assemble(product)
        assert assembly is not None
        joinery, _ = place_fittings(product, assembly, built_in())
        assert joinery is not None
        return codes(inspect_product(product, assembly, joinery, built_in()))

    # 32 along the axis, 6 / cos 15° of it in the first member: 24.9 deep in the second
    assert "fastener-comes-out" in found(24.5)
    assert "fastener-comes-out" not in found(25.2)
