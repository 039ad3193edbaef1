"""Finished and cut sizes, areas, masses, and which parts share a letter."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import PRODUCT, Frame
from kdkit.joinery.placed import Bore, Groove, Joinery
from kdkit.model.resolved import Part, Resolved, RoundCutOut
from kdkit.parts.mass import part_mass
from kdkit.parts.size import face_area
from kdkit.schedule import make_schedules
from kdkit.schedule.cutting import cut_size
from kdkit.schedule.grouping import letters
from kdkit.schedule.schedules import Schedules
from tests import handmade
from tests.panels import panel, rectangle


def board(name: str = "shelf", length: float = 600.0, width: float = 300.0, **more: object) -> Part:
    settings: dict[str, object] = {
        "edge_sides": ("front", "right", "back", "left"),
        **more,
    }
    return panel(name, PRODUCT, (length, width), **settings)


def bore(part: str, x: float, y: float, surface: str = "face", depth: float = 12.0) -> Bore:
    z, into = (0.0, (0.0, 0.0, -1.0)) if surface == "face" else (-18.0, (0.0, 0.0, 1.0))
    return Bore(
        part=part,
        surface=surface,
        mouth=(x, y, z),
        into=into,
        diameter=5.0,
        depth=depth,
        through=depth >= 18.0,
        purpose="test",
        path=(),
    )


def schedules(
    *parts: Part, bores: tuple[Bore, ...] = (), grooves: tuple[Groove, ...] = ()
) -> Schedules:
    resolved = Resolved(
        said=handmade.product(),
        variant=None,
        parameters={},
        parts=parts,
        joints=(),
        fixtures=(),
        units=(),
        order=(),
    )
    joinery = Joinery(joints=(), fixtures=(), bores=bores, grooves=grooves, fasteners=())
    return make_schedules(resolved, handmade.assembly(), joinery, handmade.catalogue(), None)


@pytest.mark.parametrize(
    ("bands", "cut"),
    [
        # 600 finished with bands of 2 and 2 is cut 596: common practice.
        ((0.0, 2.0, 0.0, 2.0), (596.0, 300.0)),
        ((1.0, 0.0, 0.0, 0.0), (600.0, 299.0)),
        ((0.4, 0.4, 0.4, 0.4), (599.2, 299.2)),
        ((0.0, 0.0, 0.0, 0.0), (600.0, 300.0)),
    ],
)
def test_bands_come_off_the_cut_size(bands: tuple[float, ...], cut: tuple[float, float]) -> None:
    assert cut_size(board(bands=bands)) == pytest.approx(cut)


@pytest.mark.parametrize(
    ("bands", "cut"),
    [
        # 600 − 2 − 2 and 0.5 more for each banded edge: common practice.
        ((0.0, 2.0, 0.0, 2.0), (597.0, 300.0)),
        ((0.0, 2.0, 0.0, 0.0), (598.5, 300.0)),
        ((0.4, 0.4, 0.4, 0.4), (600.2, 300.2)),
        ((0.0, 0.0, 0.0, 0.0), (600.0, 300.0)),
    ],
)
def test_pre_milling_adds_to_banded_edges(
    bands: tuple[float, ...], cut: tuple[float, float]
) -> None:
    assert cut_size(board(bands=bands), 0.5) == pytest.approx(cut)


def test_a_shaped_panel_is_cut_from_its_bounding_rectangle() -> None:
    part = board(
        outline=((0.0, 0.0), (600.0, 0.0), (600.0, 200.0), (500.0, 300.0), (0.0, 300.0)),
        edge_sides=("front", "right", "", "back", "left"),
        bands=(1.0, 2.0, 3.0, 0.0, 0.0),
    )
    (line,) = schedules(part).cut
    assert line.shaped
    assert line.finished == (600.0, 300.0)
    assert line.cut == pytest.approx((598.0, 299.0))
    assert line.bands == {"front": 1.0, "right": 2.0, "other": 3.0}
    assert line.area == pytest.approx(600 * 300 - 100 * 100 / 2)


def test_openings_come_off_area_and_mass() -> None:
    part = board(
        cutouts=(((100.0, 100.0), (200.0, 100.0), (200.0, 150.0), (100.0, 150.0)),),
        round_cutouts=(RoundCutOut(centre=(400.0, 150.0), diameter=60.0),),
    )
    area = 600 * 300 - 100 * 50 - 3.14159265 / 4 * 60**2
    assert face_area(part) == pytest.approx(area)
    # 650 kg/m³ at 18: common practice, no source.
    assert part_mass(part, handmade.catalogue()) == pytest.approx(area * 18 * 650e-9)


def test_total_mass_adds_panels_and_hardware() -> None:
    made = handmade_schedules()
    by_hand = sum(line.mass_kg * line.quantity for line in made.cut)
    by_hand += sum(line.mass_g * line.quantity for line in made.hardware) / 1000
    assert made.mass_kg == pytest.approx(by_hand)
    # A side of 900 × 300 × 18 less two bores 5 × 11 and two 8 × 12 for the shelf, one 5 × 12.
    taken = (2 * 25 * 11 + 2 * 64 * 12 + 25 * 12) * math.pi / 4
    assert made.cut[0].mass_kg == pytest.approx((900 * 300 * 18 - taken) * 650e-9)


def handmade_schedules() -> Schedules:
    return make_schedules(
        handmade.resolved(),
        handmade.assembly(),
        handmade.joinery(),
        handmade.catalogue(),
        handmade.plan(),
    )


def test_letters_leave_out_i_and_o() -> None:
    names = letters()
    first = [next(names) for _ in range(50)]
    assert first[:9] == ["A", "B", "C", "D", "E", "F", "G", "H", "J"]
    assert first[23:26] == ["Z", "AA", "AB"]
    assert first[47:49] == ["AZ", "BA"]
    assert not any(set(name) & set("IO") for name in first)


def test_equal_panels_share_a_letter_and_mirror_images_are_neighbours() -> None:
    lines = handmade_schedules().cut
    assert [(line.letter, line.parts, line.pair) for line in lines] == [
        ("A", ("left_side",), "B"),
        ("B", ("right_side",), "A"),
        ("C", ("bottom", "top"), None),
        ("D", ("back",), None),
    ]
    assert lines[2].title == "Bottom / Top"
    assert lines[2].quantity == 2


def test_a_panel_turned_half_round_is_the_same() -> None:
    made = schedules(board("one"), board("two"), bores=(bore("one", 50, 40), bore("two", 550, 260)))
    assert [line.parts for line in made.cut] == [("one", "two")]


def test_one_bore_elsewhere_makes_a_mirror_pair() -> None:
    made = schedules(board("one"), board("two"), bores=(bore("one", 50, 40), bore("two", 550, 40)))
    assert [(line.parts, line.pair) for line in made.cut] == [(("one",), "B"), (("two",), "A")]


@pytest.mark.parametrize(
    "change",
    [
        {"depth": 13.0},
        {"diameter": 8.0},
        {"mouth": (50.0, 41.0, 0.0)},
    ],
)
def test_other_machining_makes_another_part(change: dict[str, object]) -> None:
    other = replace(bore("two", 50, 40), **change)  # type: ignore[arg-type]
    made = schedules(board("one"), board("two"), bores=(bore("one", 50, 40), other))
    assert [(line.parts, line.pair) for line in made.cut] == [(("one",), None), (("two",), None)]


def test_a_drilled_panel_turned_over_is_the_same_only_if_the_drilling_agrees() -> None:
    over = schedules(
        board("one"), board("two"), bores=(bore("one", 50, 40), bore("two", 550, 40, "back"))
    )
    assert [line.parts for line in over.cut] == [("one", "two")]
    apart = schedules(
        board("one"), board("two"), bores=(bore("one", 50, 40), bore("two", 50, 40, "back"))
    )
    assert [line.pair for line in apart.cut] == ["B", "A"]


def test_a_band_on_the_other_edge_is_another_part() -> None:
    made = schedules(
        board("one", bands=(1.0, 0, 0, 0)),
        board("two", bands=(0, 1.0, 0, 0)),
        board("three", bands=(0, 0, 1.0, 0)),
    )
    assert [line.parts for line in made.cut] == [("one", "three"), ("two",)]


def test_grooves_are_compared() -> None:
    def groove(part: str, y: float) -> Groove:
        return Groove(
            part=part,
            surface="face",
            polygon=((0.0, y), (600.0, y), (600.0, y + 4), (0.0, y + 4)),
            depth=8.0,
            path=(),
            joint="back",
        )

    made = schedules(
        board("one"),
        board("two"),
        board("three"),
        grooves=(groove("one", 10), groove("two", 286), groove("three", 20)),
    )
    assert [line.parts for line in made.cut] == [("one", "two"), ("three",)]


def test_a_square_board_may_be_turned_a_quarter_unless_it_has_grain() -> None:
    bores = (bore("one", 50, 40), bore("two", 260, 50))
    free = [board(n, 300.0, 300.0, grain_along_x=False) for n in ("one", "two")]
    assert [line.quantity for line in schedules(*free, bores=bores).cut] == [2]
    grained = [board(n, 300.0, 300.0) for n in ("one", "two")]
    assert [line.quantity for line in schedules(*grained, bores=bores).cut] == [1, 1]


def test_bought_parts_come_after_the_panels() -> None:
    rod = Part(
        name="rod",
        title="Hanging rod",
        kind="bought",
        path=(),
        frame=Frame((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)),
        outline=rectangle(25.0, 25.0),
        thickness=764.0,
        mass=0.6,
    )
    made = schedules(rod, replace(rod, name="rod_2"), board("one"))
    assert [line.letter for line in made.cut] == ["A"]
    (line,) = made.bought
    assert (line.letter, line.quantity, line.size) == ("B", 2, (25.0, 25.0, 764.0))
    assert made.letter_of("rod_2") == "B"
