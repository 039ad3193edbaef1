"""What parts weigh, each worked out by hand; and that every output tells the same masses."""

from __future__ import annotations

import csv
import json
import math
import pathlib
import re
from collections.abc import Collection, Mapping
from typing import Any

import pytest
from click.testing import CliRunner

from kdkit.catalogue.entries import BoardMaterial
from kdkit.cli.commands import group
from kdkit.frames import PRODUCT, Vec3
from kdkit.joinery.masses import Masses
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.cuts import Bore, Groove, Slot
from kdkit.parts.mass import board_row, board_strength, items_mass, part_mass
from kdkit.pipeline import Request, check
from tests.cabinets import built_in

INTO = {"face": (0, 0, -1), "back": (0, 0, 1), "edge:0": (0, 1, 0), "edge:3": (1, 0, 0)}


def panel(length: float, width: float, t: float, material: str, **more: Any) -> Part:
    return Part(
        name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=t,
        outline=((0, 0), (length, 0), (length, width), (0, width)), material=material, **more,
    )  # fmt: skip


def bore(surface: str, mouth: Vec3, diameter: float, depth: float, through: bool = False) -> Bore:
    return Bore(
        part="panel", surface=surface, mouth=mouth, into=INTO[surface], diameter=diameter,
        depth=depth, through=through, purpose="bore", path=(),
    )  # fmt: skip


def rod(diameter: float, depth: float) -> float:
    """Return the mass of a cylinder of particleboard 18 thick, kg."""
    return math.pi / 4 * diameter**2 * depth * 650e-9


def test_a_back_with_a_large_opening() -> None:
    ring = ((200.0, 200.0), (1000.0, 200.0), (1000.0, 1000.0), (200.0, 1000.0))
    back = panel(1200, 1200, 18, "particleboard-p2", cutouts=(ring,))
    # (1.44 − 0.64) m² × 0.018 m × 650 kg/m³ = 9.36 kg
    assert part_mass(back, built_in()) == pytest.approx(9.36, abs=1e-12)
    holes = [bore("back", (x, 9, -18), 4.5, 18, True) for x in range(50, 1200, 100)]
    # twelve bores of 4.5 right through: 12 × 0.186 g
    bored = part_mass(back, built_in(), holes)
    assert bored == pytest.approx(9.36 - 12 * rod(4.5, 18), abs=1e-12)
    assert bored == pytest.approx(9.35777, abs=1e-5)


def test_a_drilled_side() -> None:
    side = panel(600, 300, 18, "particleboard-p2", round_cutouts=(RoundCutOut(
        centre=(300, 150), diameter=60),))  # fmt: skip
    cuts = [
        bore("face", (9, 37, 0), 5, 12),
        bore("face", (9, 69, 0), 5, 12),
        bore("edge:0", (50, 0, -9), 8, 24),
        bore("back", (500, 100, -18), 10, 7),
        bore("back", (500, 100, -18), 4.5, 18, True),  # its first 7 mm are in the counterbore
    ]
    taken = 2 * rod(5, 12) + rod(8, 24) + rod(10, 7) + rod(4.5, 11) + rod(60, 18)
    assert part_mass(side, built_in(), cuts) == pytest.approx(2.106 - taken, abs=1e-9)


def test_a_housing_and_its_edge_bore_are_counted_once() -> None:
    side = panel(600, 300, 18, "particleboard-p2")
    cam, bolt = bore("face", (34, 50, 0), 15, 12.5), bore("edge:3", (0, 50, -9), 8, 34)
    apart = bore("edge:3", (0, 50, -9), 8, 26.5)
    left = part_mass(side, built_in(), [cam, bolt])
    # The bolt's bore ends in the housing: less than both, more than the bore up to its wall.
    assert 2.106 - rod(15, 12.5) - rod(8, 34) < left < 2.106 - rod(15, 12.5) - rod(8, 26)
    # The same pair in another panel, at its other end, takes out the same.
    other = panel(900, 400, 18, "particleboard-p2")
    there = [bore("face", (34, 350, 0), 15, 12.5), bore("edge:3", (0, 350, -9), 8, 34)]
    assert 900 * 400 * 18 * 650e-9 - part_mass(other, built_in(), there) == pytest.approx(
        2.106 - left, abs=1e-12
    )
    assert part_mass(side, built_in(), [apart]) == pytest.approx(2.106 - rod(8, 26.5), abs=1e-12)


def test_a_bevelled_panel_weighs_what_its_mean_length_does() -> None:
    mitred = panel(600, 300, 19, "particleboard-p2", bevels=(0.0, 45.0, 0.0, 45.0))
    # 600 at the long points, 562 at the short ones
    assert part_mass(mitred, built_in()) == pytest.approx(581 * 300 * 19 * 650e-9, abs=1e-9)


def test_a_panel_with_grooves_and_slots() -> None:
    side = panel(600, 300, 18, "particleboard-p2")
    long = Groove(
        part="panel", surface="face", depth=8, path=(), joint="",
        polygon=((0, 280), (600, 280), (600, 284), (0, 284)),
    )  # fmt: skip
    edge = Groove(
        part="panel", surface="edge:0", depth=6, path=(), joint="",
        polygon=((100, -11), (500, -11), (500, -7), (100, -7)),
    )  # fmt: skip
    mortise = Slot(
        part="panel", surface="edge:3", mouth=(0, 100, -9), into=(1, 0, 0), along=(0, 1, 0),
        width=8, length=40, depth=25, disc=None, purpose="", path=(),
    )  # fmt: skip
    taken = 600 * 4 * 8 + 400 * 4 * 6 + (32 * 8 + math.pi * 16) * 25
    found = part_mass(side, built_in(), (), (long, edge), (mortise,))
    assert found == pytest.approx(2.106 - taken * 650e-9, rel=1e-8)


def test_a_groove_that_runs_out_and_through_an_opening_takes_only_board() -> None:
    ring = ((100.0, 250.0), (200.0, 250.0), (200.0, 290.0), (100.0, 290.0))
    side = panel(600, 300, 18, "particleboard-p2", cutouts=(ring,))
    out = Groove(
        part="panel", surface="back", depth=8, path=(), joint="",
        polygon=((-5, 280), (605, 280), (605, 284), (-5, 284)),
    )  # fmt: skip
    whole = 2.106 - 100 * 40 * 18 * 650e-9
    assert part_mass(side, built_in(), (), (out,)) == pytest.approx(
        whole - 500 * 4 * 8 * 650e-9, abs=1e-12
    )


def test_bands_are_part_of_the_finished_size() -> None:
    bare = panel(600, 300, 18, "particleboard-p2")
    banded = panel(600, 300, 18, "particleboard-p2", bands=(2.0, 2.0, 2.0, 2.0))
    assert part_mass(banded, built_in()) == part_mass(bare, built_in()) == pytest.approx(2.106)


@pytest.mark.parametrize(
    ("material", "length", "width", "t", "mass"),
    [
        ("glass", 600, 300, 6, 2.7),  # 1.08 dm³ × 2.5
        ("pine", 700, 45, 45, 0.7371),  # 1.4175 dm³ × 0.52
        ("hardboard", 1000, 500, 3, 1.35),  # 1.5 dm³ × 0.9
        ("mdf", 1000, 500, 19, 7.125),  # 9.5 dm³ × 0.75
    ],
)
def test_other_boards(material: str, length: float, width: float, t: float, mass: float) -> None:
    assert part_mass(panel(length, width, t, material), built_in()) == pytest.approx(mass)


@pytest.mark.parametrize("shape", ["tube", "cylinder", "box"])
def test_a_bought_part_weighs_what_is_said(shape: str) -> None:
    corners = 4 if shape == "box" else 24
    ring = tuple(
        (
            12.5 + 12.5 * math.cos(2 * math.pi * n / corners),
            12.5 + 12.5 * math.sin(2 * math.pi * n / corners),
        )
        for n in range(corners)
    )
    bought = Part(
        name="rail", title=shape, kind="bought", path=(), frame=PRODUCT, thickness=800,
        outline=ring, smooth=shape != "box", mass=0.41,
    )  # fmt: skip
    assert part_mass(bought, built_in()) == 0.41
    assert part_mass(bought, built_in(), [bore("face", (12.5, 12.5, 0), 5, 10)]) == 0.41


# Source: EN 312:2010, from memory: classes "over 6 up to 13", "over 13 up to 20", "over 20 up
# to 25", "over 25 up to 32"; the densities are common practice, no source.
@pytest.mark.parametrize(
    ("thickness", "density"),
    [
        (3, 700), (6, 700), (10, 700), (13, 700), (13.01, 660), (16, 660), (17, 660),
        (17.01, 650), (18, 650), (19, 650), (20, 650), (20.01, 640), (22, 640), (25, 640),
        (25.01, 620), (28, 620), (32, 620), (38, 620),
    ],
)  # fmt: skip
def test_density_of_particleboard_at_the_limits_of_its_classes(
    thickness: float, density: float
) -> None:
    assert board_row(built_in().boards["particleboard-p2"], thickness).density == density
    mass = part_mass(panel(1000, 1000, thickness, "particleboard-p2"), built_in())
    assert mass == pytest.approx(thickness * 1e-3 * density)


@pytest.mark.parametrize(
    ("thickness", "density"), [(12, 780), (12.01, 750), (19, 750), (19.01, 740), (38, 740)]
)
def test_density_of_mdf_at_the_limits_of_its_classes(thickness: float, density: float) -> None:
    assert board_row(built_in().boards["mdf"], thickness).density == density


def test_a_thickness_between_two_rows_has_the_nearer_one() -> None:
    rows = [
        {"thickness": (16, 19), "density": 600, "moe": 1600},
        {"thickness": (10, 12), "density": 700, "moe": 1800},
    ]
    board = BoardMaterial(
        title="Chip", family="particleboard", thicknesses=(10, 16), strength=rows, grained=False,
        sources=("made up",),
    )  # fmt: skip
    assert [board_row(board, t).density for t in (9, 13.9, 14, 14.1, 25)] == [
        700,
        700,
        700,
        600,
        600,
    ]
    catalogue = built_in().model_copy(update={"boards": {"own": board}})
    known = [board_strength(panel(9, 9, t, "own"), catalogue) is not None for t in (12.5, 13, 15.5)]
    assert known == [True, False, True]  # a mass is better than none, a wrong strength is not


PRODUCT_TEXT = """\
kdkit: 1
product: Frame wall
boards:
  thick: {material: particleboard-p2, thickness: 18}
safety: {wall_restraint: none}
panels:
  left: {board: thick, x: {from: 0}, y: [0, 300], z: [0, 1200], face: +x}
  right: {mirror: left, x: {to: 1200}}
  top: {board: thick, x: [18, 1182], y: [0, 300], z: {to: 1200}, face: -z}
  bottom: {board: thick, x: [18, 1182], y: [0, 300], z: {from: 0}, face: +z}
  back:
    board: thick
    x: [0, 1200]
    y: {from: 300}
    z: [0, 1200]
    face: -y
    cutouts: [{x: [200, 1000], z: [200, 1000]}]
joints:
  - {join: [top, bottom], to: [left, right], fittings: [cam-and-bolt, dowel-8x35]}
  - {join: [left, right, top, bottom], to: back, fittings: [screw-4x50]}
"""


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    folder = tmp_path_factory.mktemp("masses")
    file = folder / "wall.yaml"
    file.write_text(PRODUCT_TEXT, encoding="utf-8")
    for command, more in (("build", ()), ("workshop", ("--files", "order"))):
        call = [command, str(file), "--out", str(folder / command), *more]
        result = CliRunner().invoke(group, call)
        assert result.exit_code == 0, result.output
    return folder


def rows(file: pathlib.Path) -> list[dict[str, str]]:
    return list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))


def cut_masses(built: pathlib.Path) -> Mapping[str, float]:
    """The mass of each part as the cut list tells it."""
    return {
        part: float(line["Mass each (kg)"])
        for line in rows(built / "build/cutlist.csv")
        for part in re.split(r"[,;]\s*", line["Parts"])
    }


def hardware_of(built: pathlib.Path, parts: Collection[str]) -> tuple[float, float]:
    """The mass of the hardware in joints between some parts, and in all joints of these parts."""
    within = touching = 0.0
    for line in rows(built / "build/hardware.csv"):
        for one, other, count in re.findall(
            r"(\w+) to (\w+): (\d+)", line["Joint or fixture: count"]
        ):
            mass = int(count) * float(line["Mass each (g)"]) / 1000
            within += mass if {one, other} <= set(parts) else 0.0
            touching += mass if {one, other} & set(parts) else 0.0
    return within, touching


def lifts(built: pathlib.Path) -> list[dict[str, Any]]:
    plan = json.loads((built / "build/plan.json").read_text(encoding="utf-8"))
    return [operation for operation in plan["operations"] if operation["mass_kg"]]


def test_the_cut_list_tells_the_back_as_it_is_sawn_and_bored(built: pathlib.Path) -> None:
    masses = cut_masses(built)
    assert set(masses) == {"left", "right", "top", "bottom", "back"}
    assert 9.3 < masses["back"] < 9.36
    assert masses["left"] == masses["right"] < 300 * 1200 * 18 * 650e-9


def test_every_lift_and_turn_is_a_sum_of_the_lists(built: pathlib.Path) -> None:
    masses = cut_masses(built)
    assert {o["kind"] for o in lifts(built)} >= {"mate", "stand"}
    for operation in lifts(built):
        bare = sum(masses[part] for part in operation["parts"])
        within, touching = hardware_of(built, operation["parts"])
        least, most = bare + within, bare + touching
        if len(operation["onto"]) == 1:  # of the first two parts the heavier one
            base = masses[operation["onto"][0]]
            least, most = (
                max(least, base),
                max(most, base + hardware_of(built, operation["onto"])[1]),
            )
        assert least - 0.004 < operation["mass_kg"] < most + 0.004, operation
    assert max(o["mass_kg"] for o in lifts(built)) == pytest.approx(
        sum(masses.values()) + hardware_of(built, masses)[0], abs=0.004
    )


def test_cover_and_steps_say_the_sums(built: pathlib.Path) -> None:
    page = (built / "build/manual.html").read_text(encoding="utf-8")
    masses = cut_masses(built)
    assert hardware_of(built, masses)[0] > 0.1
    cover = re.search(r"about ([\d.]+) kg", page)
    assert cover is not None
    whole = sum(masses.values()) + hardware_of(built, masses)[0]
    assert float(cover[1]) == pytest.approx(whole, abs=0.06)
    told = {int(kg) for kg in re.findall(r"weighs about (\d+) kg", page)}
    assert told <= {round(o["mass_kg"]) for o in lifts(built)}
    assert max(round(o["mass_kg"]) for o in lifts(built)) == round(whole)


def test_orders_and_labels_say_the_same(built: pathlib.Path) -> None:
    (order,) = rows(next((built / "workshop").rglob("order.csv")))
    assert float(order["Mass (kg)"]) == pytest.approx(sum(cut_masses(built).values()), abs=0.01)


def test_hardware_is_weighed_by_its_pieces() -> None:
    catalogue = built_in()
    dowel = catalogue.items["dowel-8x35"].mass
    assert items_mass(["dowel-8x35"] * 3, catalogue) == pytest.approx(3 * dowel / 1000)


def test_a_lift_has_what_its_parts_carry_and_what_joins_them(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "wall.yaml"
    file.write_text(PRODUCT_TEXT, encoding="utf-8")
    results = check(Request(file=file), risks=False).results
    assert results is not None
    masses = Masses.of(results.assembly.parts, results.joinery, results.catalogue)
    weigh = {key: item.mass / 1000 for key, item in results.catalogue.items.items()}
    carried = dict.fromkeys(masses.parts, 0.0)
    between = 0.0  # screws, which go in when both parts are there
    for fastener in results.joinery.fasteners:
        for placed in fastener.items:
            if placed.carrier is not None:
                carried[placed.carrier] += weigh[placed.item]
            elif {fastener.butting, fastener.receiving} == {"left", "back"}:
                between += weigh[placed.item]
    assert min(carried["left"], carried["top"], between) > 0
    for part in ("left", "top", "back"):
        assert masses.together([part]) == pytest.approx(masses.parts[part] + carried[part])
    assert masses.together(["left", "back"]) == pytest.approx(
        masses.together(["left"]) + masses.together(["back"]) + between
    )
    assert results.schedules.mass_kg == pytest.approx(masses.product)


@pytest.mark.parametrize(("more", "heavy"), [(0.0, True), (1e-9, False)])
def test_a_part_is_heavy_from_the_very_mass_said(
    more: float, heavy: bool, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "wall.yaml"
    file.write_text(PRODUCT_TEXT, encoding="utf-8")
    first = check(Request(file=file), risks=False).results
    assert first is not None
    back = next(line.mass_kg for line in first.schedules.cut if line.parts == ("back",))
    limit = f"safety: {{wall_restraint: none, heavy_part: {back + more!r}}}"
    file.write_text(PRODUCT_TEXT.replace("safety: {wall_restraint: none}", limit), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(file)])
    assert result.exit_code == 0, result.output
    assert ("back weighs about 9.4 kg" in result.output) is heavy
