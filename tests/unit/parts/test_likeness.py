"""Which parts are the same piece, mirror images or of one size; sizes and words for sides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pytest

from kdkit.frames import PRODUCT, Vec3
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.cuts import Bore, Groove, Slot
from kdkit.parts.sameness import find_mirror, group_workpieces, number_pieces, of_one_size
from kdkit.parts.size import face_area, part_size, ring_area
from kdkit.parts.words import edge_side, edges_at, side_towards, surface_words


@dataclass(frozen=True)
class Worked:
    bores: tuple[Bore, ...] = ()
    grooves: tuple[Groove, ...] = ()
    slots: tuple[Slot, ...] = ()


def panel(name: str, length: float = 600, width: float = 300, **more: Any) -> Part:
    return Part(
        name=name, title="", kind="panel", path=(), frame=PRODUCT, thickness=18, board="thick",
        outline=((0, 0), (length, 0), (length, width), (0, width)), material="pine", **more,
    )  # fmt: skip


def bore(part: str, mouth: Vec3) -> Bore:
    surface, into = ("face", (0.0, 0.0, -1.0)) if mouth[2] == 0 else ("back", (0.0, 0.0, 1.0))
    return Bore(
        part=part, surface=surface, mouth=mouth, into=into, diameter=5, depth=12,
        through=False, purpose="pin", path=(),
    )  # fmt: skip


def test_a_bore_tells_the_same_from_the_turned_and_the_mirrored() -> None:
    parts = [panel(n) for n in ("as-it-lies", "half-round", "over", "mirrored", "plain")]
    cuts = Worked(
        bores=(
            bore("as-it-lies", (50, 40, 0)),
            bore("half-round", (550, 260, 0)),  # turned in its plane
            bore("over", (50, 260, -18)),  # face for back about its length
            bore("mirrored", (50, 260, 0)),
        )
    )
    number = number_pieces(parts, cuts)
    assert number["as-it-lies"] == number["half-round"] == number["over"]
    assert len(set(number.values())) == 3
    same, mirrored, plain = group_workpieces(parts, cuts)
    assert [piece.part.name for piece in same] == ["as-it-lies", "half-round", "over"]
    assert find_mirror(same[0], mirrored[0]) is not None
    assert find_mirror(same[0], plain[0]) is None
    assert len({of_one_size(part) for part in parts}) == 1


def test_one_size_is_told_by_size_openings_stuff_and_unit() -> None:
    others = [
        panel("a"),
        panel("longer", 601),
        panel("opened", round_cutouts=(RoundCutOut(centre=(300, 150), diameter=60),)),
        panel("of-a-unit", unit="drawer"),
    ]
    assert len({of_one_size(part) for part in others}) == 4
    assert of_one_size(panel("a", 300, 600)) == of_one_size(panel("b", 600, 300))


def test_area_and_size_by_hand() -> None:
    ring = ((10.0, 10.0), (10.0, 30.0), (30.0, 10.0))  # clockwise
    part = panel("p", cutouts=(ring,), round_cutouts=(RoundCutOut(centre=(300, 150), diameter=60),))
    assert part_size(part) == (600, 300)
    assert ring_area(ring) == 200
    assert face_area(part) == pytest.approx(180_000 - 200 - 900 * math.pi)


def test_words_for_sides_and_surfaces() -> None:
    part = panel("p", edge_sides=("front", "right", "", "left"))
    assert [surface_words(part, s) for s in ("face", "edge:0", "edge:2", "edge:7")] == [
        "face", "front edge", "edge 3", "edge 8",
    ]  # fmt: skip
    assert edge_side(part, 9) == ""
    assert [edges_at(part, axis, far) for axis in (0, 1) for far in (False, True)] == [
        (3,), (1,), (0,), (2,),
    ]  # fmt: skip
    assert side_towards((0.1, -0.9, 0.2)) == "front"
    assert side_towards((0.0, 0.0, -1.0)) == "bottom"
