"""Boards, screw heads, drives and spreads of the catalogue against tables from outside."""

from __future__ import annotations

import math
import re

import pytest

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.catalogue.entries import Item


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    found, problems = load_catalogue()
    assert found is not None, problems
    return found


# Source: strengths from memory of EN 312:2010, table 3, type P2; density: common practice, no
# source.
P2 = [
    (10, 11, 1800, 0.40, 700),
    (12, 11, 1800, 0.40, 700),
    (15, 11, 1600, 0.35, 660),
    (16, 11, 1600, 0.35, 660),
    (18, 11, 1600, 0.35, 650),
    (19, 11, 1600, 0.35, 650),
    (22, 10.5, 1500, 0.30, 640),
    (25, 10.5, 1500, 0.30, 640),
    (28, 9.5, 1350, 0.25, 620),
]
# Source: from memory of EN 622-5:2009, table 3, general purpose boards; density 740 to 780:
# common practice, no source.
MDF = [
    (6, 23, 2700, 0.65),
    (9, 23, 2700, 0.65),
    (10, 22, 2500, 0.60),
    (12, 22, 2500, 0.60),
    (15, 20, 2200, 0.55),
    (18, 20, 2200, 0.55),
    (22, 18, 2100, 0.55),
    (30, 18, 2100, 0.55),
]


def strength(catalogue: Catalogue, key: str, t: float) -> tuple[float | None, ...]:
    """Bending strength, modulus, internal bond, density of the one row for a thickness."""
    rows = [s for s in catalogue.boards[key].strength if s.thickness[0] < t <= s.thickness[1]]
    (row,) = rows
    return row.mor, row.moe, row.internal_bond, row.density


@pytest.mark.parametrize(("t", "mor", "moe", "bond", "density"), P2)
def test_particleboard(
    catalogue: Catalogue, t: float, mor: float, moe: float, bond: float, density: float
) -> None:
    assert strength(catalogue, "particleboard-p2", t) == (mor, moe, bond, density)


@pytest.mark.parametrize(("t", "mor", "moe", "bond"), MDF)
def test_mdf(catalogue: Catalogue, t: float, mor: float, moe: float, bond: float) -> None:
    *found, density = strength(catalogue, "mdf", t)
    assert found == [mor, moe, bond]
    assert density is not None
    assert 740 <= density <= 780


def test_hardboard_sheets_and_tolerance(catalogue: Catalogue) -> None:
    # Source: hardboard about 900, sheets 2800 x 2070 and 2440 x 1220: common practice;
    # thickness to 0.3: common practice, no source.
    assert strength(catalogue, "hardboard", 3)[3] == 900
    for key in ("particleboard-p2", "mdf"):
        assert catalogue.boards[key].sheets == ((2800, 2070), (2440, 1220))
    assert catalogue.boards["particleboard-p2"].thickness_tolerance == 0.3


# Source: ISO 7380-1, general ISO tables as in the package bd-warehouse 0.4.0 (Apache-2.0): head,
# height, key.
BUTTON_HEADS = {
    "M4": (7.6, 2.2, 2.5),
    "M5": (9.5, 2.75, 3),
    "M6": (10.5, 3.3, 4),
    "M8": (14, 4.4, 5),
}


def heads(item: Item) -> tuple[float, float]:
    """Diameter and height of what stands above a screw's shank."""
    above = [p for p in item.pieces if p.z0 >= 0]
    return max(p.d0 for p in above), max(p.z1 for p in above)


def test_button_heads_are_those_of_the_standard(catalogue: Catalogue) -> None:
    found = 0
    for item in catalogue.items.values():
        if item.title == "Machine screw" and (item.drive or "").startswith("hexagon key"):
            diameter, height, key = BUTTON_HEADS[item.size.split(" ")[0]]
            assert heads(item) == (diameter, height)
            assert item.drive == f"hexagon key {key:g}"
            assert item.pieces[0].d0 == float(item.size[1])
            found += 1
    assert found >= 4


# Source: ISO 4762, general ISO tables as in the package bd-warehouse 0.4.0: head, key.
CAP_HEADS = {"M4": (7.22, 3), "M5": (8.72, 4), "M6": (10.22, 5), "M8": (13.27, 6)}


def test_cap_screws_are_those_of_the_standard(catalogue: Catalogue) -> None:
    caps = [item for item in catalogue.items.values() if item.title == "Cap screw"]
    assert caps
    for item in caps:
        diameter, key = CAP_HEADS[item.size.split(" ")[0]]
        assert heads(item) == (diameter, float(item.size[1]))
        assert item.drive == f"hexagon key {key:g}"
    # Source: an M6 × 50 comes to about 13.2 g, computed from the same tables.
    mass = catalogue.items["cap-screw-m6x50"].mass
    assert mass == pytest.approx(13.2, rel=0.05)
    assert mass == pytest.approx(50 * 0.1765 + math.pi / 4 * 10.22**2 * 6 * 7.85e-3, abs=0.01)


def test_a_foot_is_turned_by_the_hexagon_of_its_thread(catalogue: Catalogue) -> None:
    # Source: M8 across flats 13: ISO 4017 as read in the package bd-warehouse 0.4.0.
    flats = [p.d0 for p in catalogue.items["levelling-foot"].pieces if p.kind == "hexagon"]
    assert flats == [13]


def test_drives_have_the_names_of_their_standards_and_a_tool(catalogue: Catalogue) -> None:
    # Source: cross recess H or Z, 0 to 4: ISO 4757; hexalobular: ISO 10664; hexagon: ISO 2936.
    name = re.compile(
        r"cross recess [HZ][0-4]|hexagon key \d+(\.\d)?|hexalobular socket \d+|slotted"
    )
    drives = {n: i.drive for n, i in catalogue.items.items() if i.drive is not None}
    assert [n for n, drive in drives.items() if not name.fullmatch(drive)] == []
    for fitting in catalogue.fittings.values():
        for action in fitting.actions:
            if action.item not in drives or action.tool is None:
                continue
            tool = catalogue.tools[action.tool]
            drive = drives[action.item]
            if drive.startswith("cross recess") and action.do in ("drive", "screw-in", "turn"):
                assert tool.size == drive, (fitting.title, action.item)
            if drive.startswith("hexagon key") and action.do in ("drive", "screw-in"):
                assert f"{tool.title.lower()} {tool.size}" == drive, (fitting.title, action.item)


@pytest.mark.parametrize(
    ("size", "least"), [("6x30", 12), ("8x30", 15), ("8x35", 15), ("10x40", 19)]
)
def test_dowels_are_spread_in_steps_of_32(catalogue: Catalogue, size: str, least: float) -> None:
    # Source: Ø6 in thin boards, Ø8 from 15, Ø10 from 19; end distance about 32, pitch 64 to
    # 160 in steps of 32: common practice, no source.
    for key in (f"dowel-{size}", f"dowel-{size}-glued"):
        fitting = catalogue.fittings[key]
        assert fitting.ends == 32
        assert fitting.pitch in (64, 96, 128, 160)
        low, _ = fitting.limits.butting_thickness or (0, 0)
        assert low == least


def test_cams_are_spread_clear_of_dowels_and_ends(catalogue: Catalogue) -> None:
    # Source: pitch up to 250 to 300, a cam 32 or more from a dowel: common practice; at 60 the
    # ends of faced particleboard no longer split: Simek, Haviarova and Eckelman, Wood and
    # Fiber Science.
    cams = [f for n, f in catalogue.fittings.items() if n.startswith("cam-and-bolt")]
    assert len(cams) == 6
    for fitting in cams:
        assert fitting.pitch is not None
        assert fitting.pitch <= 250
        assert (fitting.limits.pitch or (0, 0))[1] <= 300
        assert fitting.ends is not None
        assert fitting.ends >= 60
        assert fitting.ends - (catalogue.fittings["dowel-8x35"].ends or 0) >= 32


def test_what_holds_a_piece_to_the_wall_asks_for_a_board_of_15(catalogue: Catalogue) -> None:
    # Source: at the top rear, into a panel of 15 or more: common practice, no source.
    for key in ("tip-restraint", "tip-restraint-rear", "wall-angle-40", "wall-screw-through-rail"):
        low, _ = catalogue.fittings[key].limits.receiving_thickness or (0, 0)
        assert low >= 15
