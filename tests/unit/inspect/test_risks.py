"""What people get wrong: every risk on both sides, with the fault and without."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem
from kdkit.geometry import assemble
from kdkit.inspect import RISKS, inspect_product, inspect_risks
from kdkit.joinery import place_fittings
from kdkit.model import Product
from kdkit.model.resolved import FittingPlacement, Part, ResolvedFixture, ResolvedJoint, RowsSpec
from tests.boxes import board
from tests.cabinets import built_in, fixture, joint, resolved, use

SIDES = ("front", "right", "back", "left")
FRONT = (1.0, 0.0, 0.0, 0.0)
DOWELS = use("dowel-8x35", at=(50.0, -50.0))


def shelf(name: str = "shelf", z: float = 300, wide: float = 564, **more: object) -> Part:
    return board(
        name,
        (18, 0, z),
        (18 + wide, 300, z + 18),
        **{"bands": FRONT, "edge_sides": SIDES, **more},  # type: ignore[arg-type]
    )


def sides(**more: object) -> tuple[Part, Part]:
    return (
        board("left", (0, 0, 0), (18, 300, 700), **more),  # type: ignore[arg-type]
        board("right", (582, 0, 0), (600, 300, 700), **more),  # type: ignore[arg-type]
    )


def risks(
    parts: Sequence[Part],
    joints: Sequence[ResolvedJoint],
    fixtures: Sequence[ResolvedFixture] = (),
    bags: Mapping[str, tuple[str, ...]] | None = None,
) -> list[Problem]:
    product = resolved(parts, joints, fixtures)
    product = replace(product, said=Product(product="Test piece", bags=dict(bags or {})))
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return list(inspect_risks(product, assembly, joinery, built_in()))


def held(name: str, *fittings: FittingPlacement) -> list[ResolvedJoint]:
    return [joint(name, side, *(fittings or (DOWELS,))) for side in ("left", "right")]


def test_a_shelf_that_turns_end_for_end() -> None:
    (problem,) = risks([*sides(), shelf()], held("shelf"))
    assert problem.code == "panel-fits-wrongly"
    assert problem.message.startswith("shelf can also be put in turned end for end")
    assert problem.where == "then the front edge is bare"
    assert "mark its front edge" in problem.help
    assert "move one dowel-8x35 10 mm out of the symmetry" in problem.help


def test_the_advised_hole_shift_cures_it() -> None:
    moved = use("dowel-8x35", at=(60.0, -50.0))
    assert risks([*sides(), shelf()], held("shelf", moved)) == []


@pytest.mark.parametrize("bands", [(0.0,) * 4, (1.0,) * 4, (1.0, 0.0, 1.0, 0.0)])
def test_a_truly_symmetric_shelf_is_no_risk(bands: tuple[float, ...]) -> None:
    assert risks([*sides(), shelf(bands=bands)], held("shelf")) == []


def test_shelves_alike_are_told_of_once() -> None:
    parts = [*sides(), shelf("one", 200), shelf("two", 400)]
    (problem,) = risks(parts, [*held("one"), *held("two")])
    assert problem.message.startswith("one and two can also be put in turned end for end")


def test_cams_keep_a_shelf_from_being_turned_face_for_back() -> None:
    """Cams are worked from one face only; only the turn in the plane is left."""
    cams = use("cam-and-bolt", at=(50.0, -50.0))
    (problem,) = risks([*sides(), shelf()], held("shelf", cams))
    assert "end for end" in problem.message
    assert risks([*sides(), shelf(bands=(1.0, 0.0, 1.0, 0.0))], held("shelf", cams)) == []


def test_sides_that_change_places() -> None:
    """Half a turn about the height brings the left side's bores to the right side's."""
    banded = {"bands": (0.0, 0.0, 0.0, 1.0), "edge_sides": ("bottom", "back", "top", "front")}
    pair = sides(**banded)
    found = risks([*pair, shelf(bands=(0.0,) * 4)], held("shelf"))
    (problem,) = found
    assert problem.message.startswith("left and right fit in each other's place")
    assert problem.where == "then the front edge is bare"
    assert "mark them with their letters" in problem.help
    assert risks([*sides(), shelf(bands=(0.0,) * 4)], held("shelf")) == []


def test_bores_of_a_fixture_that_lie_on_the_wrong_side() -> None:
    plain = shelf("divider_top", 600, bands=(0.0,) * 4)
    divider = board("divider", (291, 0, 18), (309, 300, 600))
    floor = board("floor", (18, 0, 0), (582, 300, 18))
    joints = [
        *held("divider_top"),
        *held("floor"),
        joint("divider", "floor", DOWELS),
        joint("divider", "divider_top", DOWELS),
    ]
    rows = fixture(
        "shelf-support-5",
        "divider",
        name="rows",
        face="left",
        rows=RowsSpec(front=37.0, back=60.0, first=100.0, last=420.0, pitch=32.0),
    )
    assert [
        p for p in risks([*sides(), plain, floor, divider], joints) if "divider" in p.where
    ] == []
    found = risks([*sides(), plain, floor, divider], joints, [rows])
    (problem,) = [p for p in found if p.message.startswith("divider can")]
    assert "there are no bores for" in problem.where


def test_a_groove_tells_top_from_bottom() -> None:
    """The groove of the back keeps the front banded edge in front."""
    back = board("back", (10, 280, 10), (590, 283, 690))
    case = [*sides(), shelf("floor", 0), shelf("lid", 682), back]
    joints = [
        *held("floor"),
        *held("lid"),
        *(joint("back", n, use("back-in-groove")) for n in ("left", "right", "floor", "lid")),
    ]
    assert [p.message for p in risks(case, joints) if "floor can" in p.message] == []


def test_notches_tell_two_ways_apart() -> None:
    notched = replace(
        shelf(),
        outline=((0, 0), (564, 0), (564, 250), (540, 250), (540, 300), (0, 300)),
        bands=(1.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        edge_sides=("front", "right", "", "", "back", "left"),
    )
    near = use("dowel-8x35", at=(50.0, 200.0))
    assert risks([*sides(), notched], held("shelf", near)) == []


# -- nearly alike -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deep", "told"), [(300.0, False), (297.0, True), (295.0, True), (292.0, False)]
)
def test_panels_that_differ_by_a_few_millimetres(deep: float, told: bool) -> None:
    other = board("other", (18, 0, 500), (582, deep, 518))
    at = use("dowel-8x35", at=(50.0, 200.0))
    found = risks(
        [*sides(), shelf(bands=(0.0,) * 4), other], [*held("shelf", at), *held("other", at)]
    )
    assert [p.code for p in found] == (["panels-nearly-alike"] if told else [])
    if told:
        assert f"differ by {300 - deep:.0f} mm only" in found[0].message


def test_bores_tell_panels_apart_that_differ_little() -> None:
    loose = board("loose", (19, 0, 500), (581, 300, 518), loose=True)
    at = use("dowel-8x35", at=(50.0, 200.0))
    carried = fixture(
        "shelf-support-5",
        "left",
        "right",
        name="rows",
        carries=("loose",),
        rows=RowsSpec(front=37.0, back=60.0, first=400.0, last=560.0, pitch=32.0),
    )
    found = risks([*sides(), shelf(bands=(0.0,) * 4), loose], held("shelf", at), [carried])
    assert [p.code for p in found if p.code == "panels-nearly-alike"] == []


@pytest.mark.parametrize(
    ("other", "told"), [("dowel-8x35", False), ("dowel-8x30", True), ("cam-and-bolt", False)]
)
def test_fasteners_that_differ_by_a_few_millimetres(other: str, told: bool) -> None:
    one, two = use("dowel-8x35", at=(50.0, 200.0)), use(other, at=(50.0, 200.0))
    parts = [*sides(), shelf(bands=(0.0,) * 4), shelf("second", 500, bands=(0.0,) * 4)]
    found = risks(parts, [*held("shelf", one), *held("second", two)])
    alike = [p for p in found if p.code == "items-nearly-alike"]
    assert len(alike) == told
    if told:
        assert "differ by 5 mm in length" in alike[0].message


def test_fasteners_in_bags_of_their_own_are_not_mixed_up() -> None:
    parts = [*sides(), shelf(bands=(0.0,) * 4), shelf("second", 500, bands=(0.0,) * 4)]
    joints = [
        *held("shelf", use("dowel-8x35", at=(50.0, 200.0))),
        *held("second", use("dowel-8x30", at=(50.0, 200.0))),
    ]
    for bags, told in (
        ({"short": ("dowel-8x30",)}, False),
        ({"all": ("dowel-8x30", "dowel-8x35")}, True),
    ):
        found = risks(parts, joints, bags=bags)
        assert any(p.code == "items-nearly-alike" for p in found) is told


def test_risks_are_not_told_by_the_checks_that_every_command_runs() -> None:
    product = resolved([*sides(), shelf()], held("shelf"))
    assembly, _ = assemble(product)
    assert assembly is not None
    joinery, _ = place_fittings(product, assembly, built_in())
    assert joinery is not None
    codes = {p.code for p in inspect_product(product, assembly, joinery, built_in())}
    assert "panel-fits-wrongly" not in codes
    assert len(set(RISKS)) == len(RISKS) == 4
