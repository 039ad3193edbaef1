"""Drawers: their way out, their rows, tipping with them out, the rules for clothing storage."""

from __future__ import annotations

import math
import pathlib
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.diagnostics import Problem, Severity
from kdkit.frames import Frame
from kdkit.geometry.solids import free_way, overlap_of_prisms, part_prisms
from kdkit.inspect import inspect_product
from kdkit.inspect.clothing import Scope, clothing_scope
from kdkit.inspect.drawers import find_drawers
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.tipping import spare_moment
from tests.boxes import board
from tests.chests import chest
from tests.products import made

Text = tuple[str, str]


def inspection(folder: pathlib.Path, *changes: Text) -> Inspection:
    return Inspection(*made(folder, chest(*changes)))


def told(folder: pathlib.Path, code: str, *changes: Text) -> list[Problem]:
    found = inspect_product(*made(folder, chest(*changes)))
    return [p for p in found if p.code == code]


def test_a_drawer_is_what_its_joints_hold_together(tmp_path: pathlib.Path) -> None:
    drawers = find_drawers(inspection(tmp_path))
    assert [d.name for d in drawers] == ["drawer_1", "drawer_2", "drawer_3"]
    for drawer in drawers:
        assert {p.removeprefix(f"{drawer.name}.") for p in drawer.parts} == {
            *("left", "right", "box_front", "box_back", "floor", "front")
        }
        assert drawer.way == (0.0, -1.0, 0.0)
        assert drawer.travel == 450


def test_a_rail_in_front_of_a_drawer_is_found(tmp_path: pathlib.Path) -> None:
    rail = """\
  rail:
    title: Rail
    board: carcass
    x: [left_side.x1, right_side.x0]
    y: {from: -60}
    z: [60, 100]
    face: -y
units:
"""
    (problem,) = told(tmp_path, "drawer-blocked", ("units:\n", rail))
    assert problem.severity is Severity.ERROR
    # the front's outer side stands at -20, the rail's inner one at -42
    assert "runs out 22 of 450 mm, then it meets rail" in problem.message
    assert problem.where == "drawer_1, rail"


def test_a_clear_way_is_not_spoken_of(tmp_path: pathlib.Path) -> None:
    assert told(tmp_path, "drawer-blocked") == []
    assert told(tmp_path, "runner-off-grid") == []


def test_free_way_of_turned_and_straight_boards() -> None:
    moving = part_prisms(board("a", (0, 0, 0), (100, 20, 100)))
    wall = part_prisms(board("b", (0, -80, 50), (100, -60, 150)))
    above = part_prisms(board("c", (0, -80, 100), (100, -60, 200)))
    front = (0.0, -1.0, 0.0)
    assert free_way(moving, wall, front, 400) == pytest.approx(60, abs=0.05)
    assert free_way(moving, above, front, 400) == 400
    assert free_way(moving, wall, (0.0, 1.0, 0.0), 400) == 400
    assert free_way(moving, wall, front, 50) == 50


def test_heights_off_the_grid_are_told(tmp_path: pathlib.Path) -> None:
    # Source: heights a multiple of 32 from each other, common practice, no source.
    higher = ("3 * module / 2 - 75", "3 * module / 2 - 65")
    found = told(tmp_path, "runner-off-grid", higher)
    assert {p.severity for p in found} == {Severity.ADVICE}
    assert "drawer_2" in found[0].message
    assert "234 mm over the lowest" in found[0].message
    assert "by -10 mm" in found[0].help


def test_a_row_off_37_is_told(tmp_path: pathlib.Path) -> None:
    row = ("[side-runner]", "[{fitting: side-runner, options: {row: 40}}]")
    found = told(tmp_path, "runner-off-grid", row)
    assert found
    assert "40 mm behind the edge" in found[0].message


def test_tipping_follows_the_moments() -> None:
    # Source: 30 kg at 190 behind the front support line, 6 kg at 250 before it: 55.9 - 14.7
    # = 41.2 N m to spare.
    assert spare_moment(masses=[(30, 190)]) == pytest.approx(55.9, abs=0.05)
    assert spare_moment(masses=[(30, 190), (6, -250)]) == pytest.approx(41.2, abs=0.05)
    pulled = spare_moment(masses=[(30, 190), (6, -250)], pull=50, height=600)
    assert pulled == pytest.approx(41.2 - 30, abs=0.05)


def test_what_holds_a_chest_is_told_with_its_assumptions(tmp_path: pathlib.Path) -> None:
    (problem,) = told(tmp_path, "tips-with-drawers")
    assert problem.severity is Severity.ADVICE
    assert "hold it from tipping over" in problem.message
    for word in ("assumed", "by 450 mm", "no rating", "fixed to the wall"):
        assert word in problem.help
    # the same, summed by hand from the parts' boxes
    seen = inspection(tmp_path)
    out = {name for drawer in find_drawers(seen) for name in drawer.parts}
    total = 0.0
    for part in seen.assembly.parts:
        corners = [
            part.frame.point_to_outer((x, y, z))[1]
            for x, y in part.outline
            for z in (0.0, -part.thickness)
        ]
        arm = (min(corners) + max(corners)) / 2 - (450 if part.name in out else 0)
        total += seen.masses.parts[part.name] * arm * 9.81 / 1000
    assert f"{total:.1f} N·m" in problem.message


def test_a_chest_that_tips_without_a_restraint_is_warned_of(tmp_path: pathlib.Path) -> None:
    fixtures = (
        "fixtures:\n  - {fitting: tip-restraint, on: top, at: [[width / 2, depth - 30, top.z1]]}\n"
    )
    thick = ("box: {material: plywood-birch, thickness: 12", "box: {material: beech, thickness: 12")
    heavy = (
        "front: {material: particleboard-p2, thickness: 18",
        "front: {material: beech, thickness: 18",
    )
    none = ("wall_restraint: required", "wall_restraint: none")
    (bare,) = told(tmp_path, "tips-with-drawers", (fixtures, ""), thick, heavy, none)
    assert bare.severity is Severity.WARNING
    assert "it tips over forwards" in bare.message
    assert "tip-restraint" in bare.help
    (held,) = told(tmp_path, "tips-with-drawers", thick, heavy)
    assert held.severity is Severity.ADVICE


def test_the_volume_of_drawers_counts_without_an_eighth_of_an_inch(
    tmp_path: pathlib.Path,
) -> None:
    # Source: ASTM F2057-23: 1/8 in off the height of a drawer.
    scope = clothing_scope(inspection(tmp_path))
    plan = (600 - 36 - 25.5 - 24) * (460 - 24) * 1e-6
    high = [h - 15 - 25.4 / 8 for h in (150, 150, 120)]
    assert scope.enclosed == pytest.approx(sum(plan * h for h in high), rel=1e-6)
    assert scope.height == pytest.approx(750)
    assert scope.opens
    assert scope.standing
    assert not scope.reached


DEEP = (
    ("height: 150", "height: 180"),
    ("- 75", "- 90"),
    ("height: 120\n      f", "height: 170\n      f"),
)
DEEPER = (*DEEP, ("- 60]", "- 85]"))


def test_the_limits_of_the_rules() -> None:
    # Source: ASTM F2057-23 through 16 CFR 1261: 686 mm, 13.6 kg, 90.6 dm³, free-standing,
    # with drawers or hinged doors.
    at = {"height": 686.0, "mass": 13.6, "enclosed": 90.6, "opens": True, "standing": True}
    assert Scope(**at).reached  # type: ignore[arg-type]
    for change in (
        {"height": 685.0},
        {"mass": 13.5},
        {"enclosed": 90.5},
        {"opens": False},
        {"standing": False},
    ):
        assert not Scope(**{**at, **change}).reached  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("said", "severity", "words"),
    [
        (", clothing_storage: true", Severity.ADVICE, "it falls under rules against tipping"),
        ("", Severity.WARNING, "if clothes are to be kept in it"),
        (", clothing_storage: false", Severity.ADVICE, "said not to be for clothes"),
    ],
)
def test_what_the_maker_says_is_compared(
    tmp_path: pathlib.Path, said: str, severity: Severity, words: str
) -> None:
    flag = (", clothing_storage: true", said)
    (problem,) = told(tmp_path, "clothing-storage", *DEEPER, flag)
    assert problem.severity is severity
    assert words in problem.message
    assert "16 CFR 1261" in problem.help


def test_below_the_limits_the_flag_is_questioned(tmp_path: pathlib.Path) -> None:
    (problem,) = told(tmp_path, "clothing-storage")
    assert "does not reach the limits" in problem.message
    assert told(tmp_path, "clothing-storage", (", clothing_storage: true", "")) == []


def two_columns(folder: pathlib.Path, row: int) -> list[Problem]:
    """Two drawers with inset fronts beside a divider, which is bored from both sides."""
    head = chest().split("panels:\n  left_side")[0]
    column = "parameters: {{width: {0} - 25.5, height: 120, length: 455, front_width: {0} - 6,"
    text = f"""\
panels:
  left_side: {{board: carcass, x: {{from: 0}}, y: [0, depth], z: [0, 400], face: +x}}
  divider: {{board: carcass, x: {{from: 491}}, y: [0, depth], z: [18, 382], face: +x}}
  right_side: {{mirror: left_side, x: {{to: 1000}}}}
  bottom: {{board: carcass, x: [left_side.x1, right_side.x0], y: [0, depth], z: {{from: 0}}}}
  top: {{board: carcass, x: [left_side.x1, right_side.x0], y: [0, depth], z: {{to: 400}}}}
units:
  a:
    define: drawer
    at: [left_side.x1 + 12.75, 18, 140]
    {column.format("divider.x0 - left_side.x1")} front_height: 358}}
  b:
    define: drawer
    at: [divider.x1 + 12.75, 18, 140]
    {column.format("right_side.x0 - divider.x1")} front_height: 358}}
joints:
  - join: [bottom, top]
    to: [left_side, right_side]
    fittings: [{{fitting: cam-and-bolt, at: [60, 200, 340], opens: face}}, dowel-8x35]
  - {{join: divider, to: [bottom, top], fittings: [dowel-8x35]}}
  - join: a.left
    to: left_side
    fittings: [{{fitting: side-runner, options: {{row: 55, length: 400}}}}]
  - join: a.right
    to: divider
    fittings: [{{fitting: side-runner, options: {{row: 55, length: 400}}}}]
  - join: b.left
    to: divider
    fittings: [{{fitting: side-runner, options: {{row: {row}, length: 400}}}}]
  - join: b.right
    to: right_side
    fittings: [{{fitting: side-runner, options: {{row: 55, length: 400}}}}]
safety: {{wall_restraint: none, clothing_storage: false}}
"""
    found = inspect_product(*made(folder, head + text))
    return [p for p in found if p.code in ("runner-off-grid", "bore-crosses-bore")]


def test_inset_fronts_and_a_divider_bored_from_both_sides(tmp_path: pathlib.Path) -> None:
    # Source: row at 37 + front thickness behind an inset front, common practice.
    assert [p.code for p in two_columns(tmp_path, 55)] == ["bore-crosses-bore"]
    assert two_columns(tmp_path, 55 + 32) == []
    assert [p.code for p in two_columns(tmp_path, 70)] == ["runner-off-grid"]


def test_a_drawer_behind_a_door_waits_for_it(tmp_path: pathlib.Path) -> None:
    door = """\
  door:
    title: Door
    board: carcass
    x: [1.5, width - 1.5]
    y: {to: 0}
    z: [plinth_height, left_side.z1 - 3]
    face: -y
units:
"""
    hung = "  - {join: door, to: left_side, fittings: [cup-hinge-overlay]}\nfixtures:\n"
    found = told(
        tmp_path,
        "drawer-behind-door",
        ("units:\n", door),
        ("fixtures:\n  - {fitting: tip", f"{hung}  - {{fitting: tip"),
        *((", -2, plinth", ", 22, plinth"), ("length: 460", "length: 455")),
        ("front_width: width - 3", "front_width: width - 42"),
    )
    assert [p.severity for p in found] == [Severity.ADVICE]
    assert found[0].message.startswith("drawer_1, drawer_2, drawer_3 stand behind door")


@settings(max_examples=40, deadline=None)
@given(
    low=st.tuples(*[st.integers(-60, 60)] * 3),
    size=st.tuples(*[st.integers(5, 60)] * 3),
    angle=st.sampled_from([0, 10, 30, 45, 77]),
    length=st.integers(10, 200),
)
def test_a_free_way_ends_where_boards_begin_to_overlap(
    low: tuple[int, int, int], size: tuple[int, int, int], angle: int, length: int
) -> None:
    """The swept body against boards set down along the way, one by one."""
    wall = board("wall", (-20, -150, -20), (20, -120, 20))
    turn = math.radians(angle)
    lean = Frame(
        (0.0, 0.0, 0.0), (math.cos(turn), 0.0, math.sin(turn)), (0.0, 1.0, 0.0),
        (-math.sin(turn), 0.0, math.cos(turn)),
    )  # fmt: skip
    high = tuple(a + b for a, b in zip(low, size, strict=True))
    body = board("body", low, high, at=lean)  # type: ignore[arg-type]
    standing = part_prisms(wall)
    free = free_way(part_prisms(body), standing, (0.0, -1.0, 0.0), length)

    def depth(moved: float) -> float:
        o = body.frame.origin
        there = replace(body, frame=replace(body.frame, origin=(o[0], o[1] - moved, o[2])))
        return overlap_of_prisms(part_prisms(there), standing).depth

    if depth(0.0) > 0.01:
        assert free < 0.02
        return
    steps = [free * n / 8 for n in range(9)]
    assert all(depth(s) <= 0.02 for s in steps)
    if free < length - 0.02:
        assert depth(free + 0.5) > 0.0
