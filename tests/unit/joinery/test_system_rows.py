"""System rows: where their bores lie, and that what falls together is bored once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import Joinery, place_fittings
from kdkit.model.resolved import (
    HandBoreSpec,
    Part,
    ResolvedFixture,
    ResolvedJoint,
    RowsSpec,
    SystemRowsSpec,
)
from tests.boxes import board
from tests.cabinets import bores, built_in, fixture, joint, mouths, resolved, use

T = 18.0
HIGH = 2 * 9 + 20 * 32.0  # balanced with 9 at both ends
LEFT = board("left", (0, 0, 0), (T, 340, HIGH))
RIGHT = board("right", (600 - T, 0, 0), (600, 340, HIGH))
SIDES = SystemRowsSpec(path=("system_rows", 0), on=("left", "right"))
ALL = RowsSpec(front=37, back=37, first=float("-inf"), last=float("inf"), pitch=32, system=True)


def drill(
    parts: Sequence[Part],
    *rows: SystemRowsSpec,
    joints: Sequence[ResolvedJoint] = (),
    fixtures: Sequence[ResolvedFixture] = (),
) -> tuple[Joinery | None, tuple[Problem, ...], list[str]]:
    """Return the joinery, its problems and the codes of the checks about bores."""
    product = replace(resolved(parts, joints, fixtures), system_rows=rows)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    found: list[str] = []
    if joinery is not None:
        told = inspect_product(product, assembly, joinery, built_in())
        found = [p.code for p in told if p.code.startswith(("bore-", "system-"))]
    return joinery, problems, found


def heights(joinery: Joinery, part: Part, purpose: str = "system row") -> list[float]:
    """The heights of a part's bores for a purpose, over the floor."""
    places = (part.frame.point_to_outer(b.mouth) for b in bores(joinery, part.name, purpose))
    return sorted({round(p[2], 3) for p in places})


def setbacks(joinery: Joinery, part: Part) -> list[float]:
    places = (part.frame.point_to_outer(b.mouth) for b in bores(joinery, part.name, "system row"))
    return sorted({round(p[1], 3) for p in places})


def test_rows_of_a_balanced_pair() -> None:
    # Source: 32 mm system: bore 5, pitch 32, front row 37, the rear row a multiple of 32
    # behind it; 340 deep leaves 47 behind the last one that keeps 37.
    joinery, problems, found = drill([LEFT, RIGHT], replace(SIDES, end=9.0))
    assert joinery is not None, problems
    assert found == []
    assert setbacks(joinery, LEFT) == setbacks(joinery, RIGHT) == [37, 37 + 8 * 32]
    assert heights(joinery, LEFT) == [9 + 32 * n for n in range(21)]
    assert {(b.diameter, b.depth, b.spare) for b in joinery.bores} == {(5, 13, True)}
    assert {b.surface for b in joinery.bores} == {"face", "back"}  # each to the middle
    inner = {
        round(p[0], 3)
        for p in (LEFT.frame.point_to_outer(b.mouth) for b in bores(joinery, "left", "system row"))
    }
    assert inner == {18}


@pytest.mark.parametrize(
    ("high", "first", "count"),
    [(2131, 9.5, 67), (774, 19.0, 24), (700, 14.0, 22), (600, 12.0, 19)],
)
def test_the_ends_are_alike_when_nothing_is_said(high: float, first: float, count: int) -> None:
    # Source: H = 2a + 32n; a = 9.5 and 2131 with n = 66: common practice, computed.
    side = board("left", (0, 0, 0), (T, 340, high))
    joinery, _, _ = drill([side], replace(SIDES, on=("left",)))
    assert joinery is not None
    found = heights(joinery, side)
    assert (found[0], high - found[-1], len(found)) == (first, first, count)


def test_774_is_balanced_with_35() -> None:
    # Source: common practice, computed: 774 = 2 x 35 + 22 x 32.
    side = board("left", (0, 0, 0), (T, 340, 774))
    joinery, _, found = drill([side], replace(SIDES, on=("left",), end=35.0))
    assert joinery is not None
    assert (heights(joinery, side)[0], heights(joinery, side)[-1]) == (35, 774 - 35)
    assert found == []


def test_inset_fronts_move_the_front_row_back() -> None:
    # Source: row at 37 + front thickness: common practice, no source.
    joinery, _, _ = drill([LEFT, RIGHT], replace(SIDES, inset=19.0))
    assert joinery is not None
    assert setbacks(joinery, LEFT) == [56, 56 + 7 * 32]


def test_a_row_may_stay_away_or_have_its_own_setback() -> None:
    joinery, _, _ = drill([LEFT], replace(SIDES, on=("left",), has_back=False))
    assert joinery is not None
    assert setbacks(joinery, LEFT) == [37]
    joinery, _, found = drill([LEFT], replace(SIDES, on=("left",), back=50.0))
    assert joinery is not None
    assert setbacks(joinery, LEFT) == [37, 290]
    assert found == ["system-back-row"]


def test_the_bores_of_fittings_are_those_of_the_row() -> None:
    """Bolts, supports and a bore typed by hand on the grid: one bore each, nothing crosses."""
    bottom = board("bottom", (T, 0, 0), (600 - T, 340, T))
    shelf = board("shelf", (T + 1, 10, 331.5 + 32), (600 - T - 1, 335, 349.5 + 32), loose=True)
    typed = HandBoreSpec(
        mouth=(37, 9 + 64, 0),
        into=(0, 0, -1),
        diameter=8,
        depth=10,
        through=False,
        purpose="cable",
        mate=None,
        path=("panels", "left", "bores", 0),
    )
    joints = [
        joint("bottom", side, use("cam-and-bolt", at=(37, 293))) for side in ("left", "right")
    ]
    supports = fixture("shelf-support-5", "left", "right", rows=ALL, carries=("shelf",))
    rows = replace(SIDES, end=9.0)
    parts = [replace(LEFT, bores=(typed,)), RIGHT, bottom, shelf]
    joinery, problems, found = drill(parts, rows, joints=joints, fixtures=[supports])
    assert joinery is not None, problems
    assert problems == ()
    assert found == []
    places = [
        (b.part, round(b.mouth[0], 3), round(b.mouth[1], 3))
        for b in joinery.bores
        if b.surface in ("face", "back") and b.part != "bottom"
    ]
    assert len(places) == len(set(places)) == 2 * 2 * 21
    purposes = sorted(b.purpose for b in joinery.bores if b.part == "left" and not b.spare)
    assert purposes == ["bolt seat", "bolt seat", "cable", "shelf support", "shelf support"]
    # of equal width, the deeper counts; a wider one stays as it is
    assert {b.depth for b in bores(joinery, "left", "shelf support")} == {13}
    assert {(b.diameter, b.depth) for b in bores(joinery, "left", "cable")} == {(8, 10)}


def test_only_the_fields_that_are_used() -> None:
    asked = replace(ALL, first=100, last=500, back=None)
    supports = fixture("shelf-support-5", "left", rows=asked)
    rows = replace(SIDES, on=("left",), end=9.0, full=False)
    joinery, _, found = drill([LEFT], rows, fixtures=[supports])
    assert joinery is not None
    assert found == []
    assert heights(joinery, LEFT) == []
    assert heights(joinery, LEFT, "shelf support") == [9 + 32 * n for n in range(3, 16)]
    assert {round(b.mouth[0], 3) for b in joinery.bores} == {37}


def test_a_row_makes_room_for_what_is_off_the_grid() -> None:
    middle = board("middle", (T, 0, 300), (600 - T, 340, 318))
    joints = [joint("middle", "left", use("dowel-8x35", at=(37, 293)))]
    rows = replace(SIDES, on=("left",), end=9.0)
    joinery, problems, found = drill([LEFT, RIGHT, middle], rows, joints=joints)
    assert joinery is not None, problems
    # dowels of 8 at 309: the row's bores at 297 and 329 stay 5 and more away from them
    assert 297 in heights(joinery, LEFT)
    assert found == []
    near = board("middle", (T, 0, 292), (600 - T, 340, 310))
    joinery, _, found = drill([LEFT, RIGHT, near], rows, joints=joints)
    assert joinery is not None
    assert 297 not in heights(joinery, LEFT)  # the dowels at 301 are in its way
    assert found == ["system-row-gaps", "system-row-gaps"]


def test_a_row_ends_where_the_panel_does() -> None:
    notched = replace(
        LEFT,
        outline=((60, 0), (340, 0), (340, HIGH), (0, HIGH), (0, 100), (60, 100)),
        bands=(0.0,) * 6,
        edge_sides=("",) * 6,
    )
    joinery, _, found = drill([notched], replace(SIDES, on=("left",), end=9.0))
    assert joinery is not None
    assert found == []
    front = [b.mouth[1] for b in joinery.bores if round(b.mouth[0]) == 37]
    assert min(front) == 9 + 32 * 3  # at 105: 5 above the notch


def test_a_row_through_a_divider() -> None:
    divider = board("divider", (291, 0, 0), (309, 340, HIGH))
    rows = replace(SIDES, on=("divider",), end=9.0, depth=None)
    joinery, _, found = drill([LEFT, RIGHT, divider], rows)
    assert joinery is not None
    assert len(joinery.bores) == 2 * 21
    assert all(b.through and b.depth == T for b in joinery.bores)
    shelf = board("shelf", (310, 10, 331.5 + 32), (600 - T - 1, 335, 349.5 + 32), loose=True)
    asked = fixture("shelf-support-5", "divider", rows=ALL, carries=("shelf",))
    joinery, _, found = drill([LEFT, RIGHT, divider, shelf], rows, fixtures=[asked])
    assert joinery is not None
    assert len(joinery.bores) == 2 * 21
    assert sum(not b.spare for b in joinery.bores) == 2
    assert all(b.through for b in joinery.bores)
    assert found == []


def test_two_sets_of_rows_on_one_line_are_bored_once() -> None:
    spec = RowsSpec(front=37, back=None, first=105, last=361, pitch=32)
    twice = [fixture("shelf-support-5", "left", rows=spec) for _ in range(2)]
    joinery, _, found = drill([LEFT], fixtures=twice)
    assert joinery is not None
    assert len(joinery.bores) == 9
    assert found == []


def test_rows_that_are_not_there() -> None:
    asked = fixture("shelf-support-5", "left", rows=ALL)
    joinery, problems, _ = drill([LEFT], fixtures=[asked])
    assert joinery is None
    assert [p.code for p in problems] == ["rows-empty"]
    assert "system_rows" in problems[0].help
    between = fixture("shelf-support-5", "left", rows=replace(ALL, first=10, last=40))
    rows = replace(SIDES, on=("left",), end=9.0)
    joinery, problems, _ = drill([LEFT], rows, fixtures=[between])
    assert joinery is None
    assert [p.code for p in problems] == ["rows-empty"]


@pytest.mark.parametrize(
    ("part", "rows"),
    [
        (board("left", (0, 0, 0), (340, 600, 18)), SIDES),  # it lies
        (board("left", (0, 0, 0), (18, 30, 600)), SIDES),  # narrower than the setback
        (board("left", (0, 0, 0), (18, 300, 60)), replace(SIDES, end=35.0)),
    ],
)
def test_panels_without_a_place_for_rows(part: Part, rows: SystemRowsSpec) -> None:
    joinery, problems, _ = drill([part], replace(rows, on=("left",)))
    assert joinery is None
    assert [p.code for p in problems] == ["rows-empty"]


def test_rows_without_end_are_refused() -> None:
    tower = board("left", (0, 0, 0), (T, 340, 90_000))
    joinery, problems, _ = drill([tower], replace(SIDES, on=("left",)))
    assert joinery is None
    assert [(p.code, p.path) for p in problems] == [("too-many-parts", ("system_rows", 0, "pitch"))]
    many = [board(f"s{n:03d}", (20.0 * n, 0, 0), (20.0 * n + T, 340, 15_000)) for n in range(60)]
    joinery, problems, _ = drill(many, replace(SIDES, on=tuple(part.name for part in many)))
    assert joinery is None
    assert [p.code for p in problems] == ["too-many-parts"]


def test_a_pair_is_drilled_as_a_pair() -> None:
    joinery, _, _ = drill([LEFT, RIGHT], replace(SIDES, end=9.0))
    assert joinery is not None
    assembly, _ = assemble(resolved([LEFT, RIGHT]))
    assert assembly is not None
    left = mouths(joinery, assembly, "left", "system row")
    assert left == sorted(
        (600 - x, y, z) for x, y, z in mouths(joinery, assembly, "right", "system row")
    )


def test_hinge_plates_take_two_bores_of_the_front_row() -> None:
    # Source: hinge plates use two holes of the front row, 32 apart: common practice, no source.
    door = board("door", (2, -20, 1.5), (598, -2, 1.5 + 21 * 32 - 3 - 32))
    hung = [joint("door", "left", use("cup-hinge-overlay"))]
    joinery, problems, found = drill([LEFT, RIGHT, door], replace(SIDES, end=9.0), joints=hung)
    assert joinery is not None, problems
    assert found == []
    plates = heights(joinery, LEFT, "hinge plate")
    assert len(plates) == 4
    assert all((height - 9) % 32 == pytest.approx(0) for height in plates)
    assert [plates[1] - plates[0], plates[3] - plates[2]] == [32, 32]
    assert len([b for b in joinery.bores if b.part == "left"]) == 2 * 21
    # the cups go with their plates
    cups = heights(joinery, door, "hinge cup")
    assert cups == [(plates[0] + plates[1]) / 2, (plates[2] + plates[3]) / 2]


def test_exact_places_of_hinges_are_kept_and_told() -> None:
    door = board("door", (2, -20, 1.5), (598, -2, 1.5 + 21 * 32 - 3 - 32))
    hung = [joint("door", "left", use("cup-hinge-overlay", at=(100.0, 500.0)))]
    joinery, problems, found = drill([LEFT, RIGHT, door], replace(SIDES, end=9.0), joints=hung)
    assert joinery is not None, problems
    assert heights(joinery, LEFT, "hinge plate") == [85.5, 117.5, 485.5, 517.5]
    assert found.count("system-bore-off") == 2
