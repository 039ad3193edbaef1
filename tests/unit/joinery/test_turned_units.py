"""A unit is drilled as it would be by itself, wherever and however it stands."""

from __future__ import annotations

import csv
import pathlib

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.catalogue import load_catalogue
from kdkit.cli.commands import group
from kdkit.geometry import assemble
from kdkit.joinery import Joinery, place_fittings
from kdkit.model import Product, Unit, resolve
from kdkit.model.says import (
    Board,
    FittingUse,
    Fixture,
    Joint,
    OneEnd,
    Panel,
    Rows,
    SystemRows,
    Turn,
)
from tests.products import made

BRACKETS = """\
kdkit: 1
product: Shelf on two brackets
revision: "1"
boards: {oak: {material: plywood-birch, thickness: 18}}
panels:
  shelf: {board: oak, x: [0, 840], y: [0, 240], z: {from: 220}, face: +z}
unit_definitions:
  bracket:
    product: Bracket
    panels:
      plate: {board: oak, x: {from: 0}, y: [0, 200], z: [0, 220], face: +x}
      gusset: {board: oak, x: [plate.x1, 150], y: {from: 90}, z: [20, 200]}
    joints:
      - {join: gusset, to: plate, fittings: [{fitting: dowel-8x35, at: [30, 140]}]}
    fixtures:
      - {fitting: levelling-foot, on: plate, face: bottom, at: [[9, 60, 0]]}
units:
  left: {define: bracket, at: [0, 20, 0]}
  right: {define: bracket, at: [0, 20, 0], turns: [{axis: z, angle: 180, about: [420, 120, 0]}]}
joints:
  - {join: [left.plate, right.plate], to: shelf, fittings: [{fitting: dowel-8x35, count: 1}]}
"""


def box() -> Product:
    """A drawer-like box with something of everything that has a side or a direction."""
    return Product(
        product="Box",
        boards={"b": Board(material="plywood-birch", thickness=18)},
        panels={
            "left": Panel(board="b", x=OneEnd(start=0), y=(0, 400), z=(0, 500), face="+x"),
            "right": Panel(mirror="left", x=OneEnd(to=600)),
            "bottom": Panel(board="b", x=(18, 582), y=(0, 380), z=OneEnd(start=0)),
            "top": Panel(board="b", x=(18, 582), y=(0, 380), z=OneEnd(to=500)),
            "front": Panel(board="b", x=(18, 582), y=OneEnd(start=40), z=(18, 482)),
            "divider": Panel(board="b", x=OneEnd(start=200), y=(58, 380), z=(18, 482)),
        },
        joints=(
            Joint(
                join=("bottom", "top"),
                to=("left", "right"),
                fittings=(
                    FittingUse(fitting="cam-and-bolt", ends=50),
                    FittingUse(fitting="dowel-8x35", at=(110, -30)),
                ),
            ),
            Joint(
                join="front",
                to=("left", "right"),
                fittings=(FittingUse(fitting="cam-and-bolt", opens="-y"),),
            ),
            Joint(
                join="divider",
                to=("bottom", "top"),
                fittings=(FittingUse(fitting="cam-and-bolt", at=(60,)),),
            ),
        ),
        fixtures=(
            Fixture(fitting="levelling-foot", on="bottom"),
            Fixture(fitting="handle-128", on="front", face="front", at=((400, 40, 300),)),
            Fixture(fitting="shelf-support-5", on="divider", rows=Rows(first=150, last=310)),
        ),
        system_rows=(SystemRows(on=("left", "right")),),
    )


def joined(said: Product) -> Joinery:
    catalogue, _ = load_catalogue()
    resolved, problems = resolve(said)
    assert resolved is not None, problems
    assembly, problems = assemble(resolved)
    assert assembly is not None, problems
    assert catalogue is not None
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None, problems
    return joinery


def drilled(joinery: Joinery, unit: str = "") -> list[tuple[object, ...]]:
    """All bores in their panels' frames, to a thousandth of a millimetre."""
    return [
        (
            bore.part.removeprefix(unit),
            bore.surface,
            tuple(round(c, 3) + 0.0 for c in bore.mouth),
            tuple(round(c, 6) + 0.0 for c in bore.into),
            bore.diameter,
            round(bore.depth, 3),
            bore.purpose,
            (bore.fastener or "").removeprefix(unit),
        )
        for bore in joinery.bores
    ]


@settings(max_examples=12, deadline=None)
@given(
    turns=st.lists(
        st.tuples(st.sampled_from("z"), st.sampled_from([90.0, 180.0, 270.0, 33.0])), max_size=2
    ),
    at=st.tuples(*[st.integers(-900, 900)] * 3),
)
def test_a_unit_turned_about_the_vertical_is_a_copy(
    turns: list[tuple[str, float]], at: tuple[int, int, int]
) -> None:
    used = Product(
        product="Room",
        boards={"b": Board(material="plywood-birch", thickness=18)},
        panels={"far": Panel(board="b", x=(5000, 5200), y=(0, 90), z=OneEnd(start=0))},
        unit_definitions={"box": box()},
        units={
            "u": Unit(
                define="box",
                at=at,
                turns=tuple(
                    Turn(axis=axis, angle=angle, about=(100, 0, 70)) for axis, angle in turns
                ),
            )
        },
    )
    assert drilled(joined(used), "u.") == drilled(joined(box()))


@pytest.mark.parametrize("axis", ["x", "y"])
@pytest.mark.parametrize("angle", [90, 180, 270, 20])
def test_a_unit_tipped_over_is_a_copy(axis: str, angle: float) -> None:
    """Rows of bores go up, and are refused in what lies on its side; the rest is the same."""
    upright = box().model_copy(update={"system_rows": (), "fixtures": box().fixtures[:2]})
    used = Product(
        product="Room",
        unit_definitions={"box": upright},
        units={"u": Unit(define="box", turns=(Turn(axis=axis, angle=angle, about=(100, 0, 70)),))},
    )
    assert drilled(joined(used), "u.") == drilled(joined(upright))


def test_a_bracket_used_twice_is_one_part_with_quantity_two(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "brackets.yaml"
    source.write_text(BRACKETS, encoding="utf-8")
    out = tmp_path / "out"
    result = CliRunner().invoke(group, ["build", str(source), "--out", str(out)])
    assert result.exit_code == 0, result.output
    with (out / "cutlist.csv").open(encoding="utf-8-sig", newline="") as file:
        quantities = {row["Title"]: row["Quantity"] for row in csv.DictReader(file)}
    assert quantities == {"Plate": "2", "Gusset": "2", "Shelf": "1"}


def test_a_direction_of_a_unit_that_stands_askew_is_the_units_own(tmp_path: pathlib.Path) -> None:
    askew = BRACKETS.replace(
        "angle: 180, about: [420, 120, 0]", "angle: 20, about: [900, 0, 0]"
    ).replace("at: [30, 140]}", "at: [30, 140], opens: -y}")
    alone = askew.partition("joints:\n  - {join: [left")[0].replace("  shelf:", "  other:")
    _, _, joinery, _ = made(tmp_path, alone)
    left, right = (
        [mouth[1:] for mouth in drilled(joinery, f"{unit}.") if mouth[0] in ("plate", "gusset")]
        for unit in ("left", "right")
    )
    assert left
    assert [m[:-1] for m in left] == [m[:-1] for m in right]


@pytest.mark.parametrize("angle", [0, 90, 180, 270, 30])
def test_a_fixture_turns_its_side_along_with_its_unit(tmp_path: pathlib.Path, angle: int) -> None:
    """What a unit calls its front is its own front, wherever that looks now."""
    text = BRACKETS.replace("angle: 180", f"angle: {angle}").replace(
        "levelling-foot, on: plate, face: bottom, at: [[9, 60, 0]]",
        "levelling-foot, on: plate, face: front, at: [[9, 0, 60]]",
    )
    _, _, joinery, _ = made(tmp_path, text.partition("joints:\n  - {join: [left")[0])
    feet = [f for f in joinery.fasteners if f.fitting == "levelling-foot"]
    seats = [b for b in joinery.bores if b.fastener in {f.id for f in feet}]
    assert len(feet) == 2
    assert len({(b.surface, tuple(round(c, 3) for c in b.mouth)) for b in seats}) == 1
