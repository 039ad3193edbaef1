"""Fixtures: rows of bores, supports, feet, handles, restraints."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kdkit.joinery import protrusions
from kdkit.joinery.rows import balanced_heights, row_heights
from kdkit.model.resolved import HandBoreSpec, RowsSpec
from tests.boxes import board
from tests.cabinets import bores, built_in, fixture, mouths, place, try_to_place

T = 18.0
LEFT = board("left", (0, 0, 0), (T, 300, 800))
RIGHT = board("right", (600 - T, 0, 0), (600, 300, 800))
ROWS = RowsSpec(front=37.0, back=37.0, first=100.0, last=700.0, pitch=32.0)


def test_balanced_heights_of_the_32_mm_system() -> None:
    # Source: common practice, computed: 774 = 2 x 35 + 22 x 32.
    heights = balanced_heights(35, 774 - 35, 32)
    assert len(heights) == 23
    assert (heights[0], heights[-1]) == pytest.approx((35, 739))


def test_a_balanced_row_leaves_the_same_at_both_ends() -> None:
    heights = balanced_heights(40, 800 - 40, 32)
    assert heights[0] == pytest.approx(800 - heights[-1])
    assert heights[0] >= 40
    assert row_heights(40, 760, 32)[0] == 40


def test_rows_are_37_from_the_front_and_32_apart() -> None:
    # Source: 32 mm system: bore 5, pitch 32, front row 37.
    joinery, assembly = place(
        [LEFT, RIGHT], (), [fixture("shelf-support-5", "left", "right", rows=ROWS)]
    )
    left = mouths(joinery, assembly, "left", "shelf support")
    assert len(left) == 2 * 19
    assert {x for x, _, _ in left} == {18}
    assert {y for _, y, _ in left} == {37, 263}
    front = [z for _, y, z in left if y == 37]
    assert front == [100 + 32 * n for n in range(19)]
    right = mouths(joinery, assembly, "right", "shelf support")
    assert left == sorted((600 - x, y, z) for x, y, z in right)
    assert {b.diameter for b in joinery.bores} == {5}
    assert all(12 <= b.depth <= 13 and b.spare for b in joinery.bores)
    assert joinery.fasteners == ()


def test_balanced_when_asked() -> None:
    rows = replace(ROWS, first=40.0, last=760.0)
    asked = fixture("shelf-support-5", "left", rows=rows, options={"balanced": 1.0})
    joinery, assembly = place([LEFT], (), [asked])
    heights = [z for _, _, z in mouths(joinery, assembly, "left", "shelf support")]
    assert min(heights) == pytest.approx(800 - max(heights))


def shelf_at(underside: float, name: str = "shelf") -> object:
    return board(name, (T + 1, 10, underside), (600 - T - 1, 295, underside + T), loose=True)


def test_four_supports_under_a_shelf() -> None:
    shelf = shelf_at(100 + 4 * 32 + 2.5)
    asked = fixture("shelf-support-5", "left", "right", rows=ROWS, carries=("shelf",))
    joinery, _assembly = place([LEFT, RIGHT, shelf], (), [asked])
    (placed,) = joinery.fixtures
    assert len(placed.fasteners) == len(joinery.fasteners) == 4
    tops = sorted((f.receiving, f.frame.origin[1], f.frame.origin[2]) for f in joinery.fasteners)
    assert tops == [("left", 37, 228), ("left", 263, 228), ("right", 37, 228), ("right", 263, 228)]
    assert sum(not b.spare for b in joinery.bores) == 4
    assert {b.fastener for b in joinery.bores if not b.spare} == set(placed.fasteners)
    for stick in protrusions(joinery, built_in()):
        assert stick.pieces[0].z0 == 0
        assert stick.frame.k[0] == pytest.approx(1 if stick.part == "left" else -1)


def test_two_shelves_in_one_set_of_rows() -> None:
    asked = fixture("shelf-support-5", "left", "right", rows=ROWS, carries=("low", "high"))
    parts = [LEFT, RIGHT, shelf_at(230.5, "low"), shelf_at(518.5, "high")]
    joinery, _ = place(parts, (), [asked])
    assert len(joinery.fasteners) == 8


def test_a_divider_gets_rows_on_the_sides_where_shelves_lie() -> None:
    divider = board("divider", (300 - T / 2, 0, 0), (300 + T / 2, 300, 800))
    small = board("small", (T + 1, 10, 230.5), (300 - T / 2 - 1, 295, 248.5), loose=True)
    asked = fixture("shelf-support-5", "left", "divider", rows=ROWS, carries=("small",))
    joinery, assembly = place([LEFT, RIGHT, divider, small], (), [asked])
    assert {p[0] for p in mouths(joinery, assembly, "divider", "shelf support")} == {291}
    assert len(joinery.fasteners) == 4


def test_a_shelf_off_the_rows_is_told_where_to_go() -> None:
    asked = fixture("shelf-support-5", "left", "right", rows=ROWS, carries=("shelf",))
    joinery, problems, _ = try_to_place([LEFT, RIGHT, shelf_at(240.0)], (), [asked])
    assert joinery is not None
    (problem,) = problems
    assert (problem.code, problem.severity) == ("shelf-unsupported", "warning")
    assert "9.5 mm over" in problem.message
    assert "230.5" in problem.help


def test_a_shelf_beside_the_rows_is_told() -> None:
    asked = fixture("shelf-support-5", "left", "right", rows=ROWS, carries=("shelf",))
    joinery, problems, _ = try_to_place([LEFT, RIGHT, shelf_at(60.0)], (), [asked])
    assert joinery is not None
    assert ["0 supports" in p.message for p in problems] == [True]


@pytest.mark.parametrize(
    "rows",
    [
        replace(ROWS, pitch=0.0),
        replace(ROWS, pitch=1e-7),
        replace(ROWS, last=50.0),
        replace(ROWS, front=None, back=None),
    ],
)
def test_rows_that_cannot_be(rows: RowsSpec) -> None:
    joinery, problems, _ = try_to_place([LEFT], (), [fixture("shelf-support-5", "left", rows=rows)])
    assert joinery is None
    assert [p.code for p in problems] == ["rows-empty"]


def test_rows_need_an_upright_part() -> None:
    lying = board("top", (0, 0, 0), (600, 300, T))
    joinery, problems, _ = try_to_place([lying], (), [fixture("shelf-support-5", "top", rows=ROWS)])
    assert joinery is None
    assert "upright" in problems[0].message


def test_feet_go_to_the_corners() -> None:
    bottom = board("bottom", (0, 0, 20), (600, 300, 20 + T))
    joinery, assembly = place([bottom], (), [fixture("screw-on-foot", "bottom")])
    assert len(joinery.fasteners) == 4
    assert sorted(f.frame.origin for f in joinery.fasteners) == [
        (45, 45, 20), (45, 255, 20), (555, 45, 20), (555, 255, 20),
    ]  # fmt: skip
    assert all(f.frame.k == pytest.approx((0, 0, -1)) for f in joinery.fasteners)
    assert len(mouths(joinery, assembly, "bottom", "screw pilot")) == 16


def test_feet_in_the_lower_edge_of_a_side() -> None:
    joinery, assembly = place([LEFT], (), [fixture("levelling-foot", "left")])
    assert mouths(joinery, assembly, "left", "foot insert") == [(9, 40, 0), (9, 260, 0)]
    assert all(b.surface.startswith("edge:") for b in joinery.bores)


def test_a_handle_goes_through_a_front() -> None:
    front = board("front", (0, -T, 100), (500, 0, 300))
    at = ((250.0, -T, 220.0),)
    joinery, assembly = place([front], (), [fixture("handle-128", "front", at=at)])
    found = mouths(joinery, assembly, "front", "handle screw")
    # Source: handle centres 128.
    assert found == [(186, -T, 220), (314, -T, 220)]
    assert {b.depth for b in bores(joinery, "front", "handle screw")} == {T}
    assert all(b.through for b in joinery.bores)
    handle = joinery.fasteners[0].items[0]
    assert handle.frame.i == pytest.approx((1, 0, 0))
    assert handle.frame.k == pytest.approx((0, -1, 0))


def test_a_fixture_turns_about_what_it_stands_on() -> None:
    door = board("door", (0, -T, 100), (500, 0, 900))
    at = ((450.0, -T, 500.0),)
    joinery, assembly = place([door], (), [fixture("handle-128", "door", at=at, turn=90.0)])
    assert mouths(joinery, assembly, "door", "handle screw") == [(450, -T, 436), (450, -T, 564)]
    handle = joinery.fasteners[0].items[0]
    assert handle.frame.i == pytest.approx((0, 0, 1))  # anticlockwise as seen from the front
    assert handle.frame.k == pytest.approx((0, -1, 0))


def test_a_fixture_goes_where_its_fitting_says_or_asks_for_a_place() -> None:
    front = board("front", (0, -T, 100), (500, 0, 300))
    joinery, assembly = place([front], (), [fixture("handle-128", "front")])
    assert mouths(joinery, assembly, "front", "handle screw") == [(186, -T, 200), (314, -T, 200)]
    none, problems, _ = try_to_place([LEFT], (), [fixture("shelf-support-5", "left")])
    assert none is None
    assert [p.code for p in problems] == ["missing-key"]
    assert "shelf-support-5" in problems[0].message


def test_a_position_is_moved_onto_its_surface_but_not_far() -> None:
    front = board("front", (0, -T, 100), (500, 0, 300))
    joinery, _ = place(
        [front], (), [fixture("handle-128", "front", at=((250.0, -T - 0.3, 200.0),))]
    )
    assert joinery.fasteners[0].frame.origin == pytest.approx((250, -T, 200))
    joinery2, problems, _ = try_to_place(
        [front], (), [fixture("handle-128", "front", at=((250.0, -40.0, 320.0),))]
    )
    assert joinery2 is None
    (problem,) = problems
    assert problem.code == "fixture-off-part"
    assert problem.path[-2:] == ("at", 0)
    assert "300" in problem.help


def test_a_restraint_reaches_the_wall_behind() -> None:
    rail = board("rail", (0, 280, 700), (600, 300, 800))
    joinery, _ = place([rail], (), [fixture("tip-restraint-rear", "rail")])
    assert joinery.fasteners[0].frame.origin == pytest.approx((300, 300, 770))
    (anchor,) = [i for i in joinery.fasteners[0].items if i.item == "wall-anchor"]
    assert anchor.frame.k == pytest.approx((0, -1, 0))  # it goes in backwards
    top = board("top", (0, 0, 782), (600, 300, 800))
    joinery, _ = place([top], (), [fixture("tip-restraint", "top")])
    assert joinery.fasteners[0].frame.origin == pytest.approx((300, 270, 800))
    (anchor,) = [i for i in joinery.fasteners[0].items if i.item == "wall-anchor"]
    assert anchor.frame.k == pytest.approx((0, -1, 0))


@pytest.mark.parametrize(
    ("face", "k"),
    [
        ("face", (1, 0, 0)), ("back", (-1, 0, 0)), ("left", (-1, 0, 0)), ("bottom", (0, 0, -1)),
        ("front", (0, -1, 0)),
    ],
)  # fmt: skip
def test_the_face_named(face: str, k: tuple[float, float, float]) -> None:
    asked = fixture("levelling-foot", "left", face=face)
    joinery, _ = place([LEFT], (), [asked])
    assert joinery.fasteners[0].frame.k == pytest.approx(k)


def typed(mouth: tuple[float, float, float], **more: object) -> HandBoreSpec:
    said: dict[str, object] = {
        "mouth": mouth,
        "into": (0.0, 0.0, -1.0),
        "diameter": 8.0,
        "depth": 10.0,
        "through": False,
        "purpose": "cable",
        "mate": None,
        "path": ("panels", "left", "bores", 0),
    }
    return HandBoreSpec(**{**said, **more})  # type: ignore[arg-type]


def test_a_typed_bore_is_taken_over() -> None:
    part = replace(
        LEFT, bores=(typed((100, 200, 0)), typed((50, 60, 0), through=True, mate="shelf"))
    )
    joinery, _ = place([part])
    first, second = joinery.bores
    assert (first.surface, first.depth, first.fastener, first.purpose) == (
        "face",
        10,
        None,
        "cable",
    )
    assert (second.through, second.depth, second.mate) == (True, 18, "shelf")


def test_a_typed_bore_beside_the_part_is_a_problem() -> None:
    joinery, problems, _ = try_to_place([replace(LEFT, bores=(typed((900, 20, 0)),))])
    assert joinery is None
    assert [p.code for p in problems] == ["bore-off-part"]
    assert problems[0].path == ("panels", "left", "bores", 0)


def test_a_lying_panel_has_a_rear_edge_of_that_name() -> None:
    """``back`` is the underside of a panel whose face looks up; its rear edge is another."""
    top = board("top", (0, 0, 782), (600, 300, 800))
    asked = replace(fixture("handle-128", "top"), face="back edge")
    joinery, _assembly = place([top], (), [asked])
    (fastener,) = joinery.fasteners
    assert fastener.frame.k == pytest.approx((0, 1, 0))
    assert fastener.frame.origin[1] == pytest.approx(300)
    under, _ = place([top], (), [replace(asked, face="back")])
    assert abs(under.fasteners[0].frame.k[2]) == pytest.approx(1)
