"""Cup hinges in the product: cups and plates meet as the arm's figures say, by other code."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from kdkit.diagnostics import Problem
from kdkit.frames import Frame
from kdkit.geometry import assemble
from kdkit.joinery import Joinery, place_fittings
from kdkit.model.resolved import FittingPlacement, Part
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

CATALOGUE = built_in()
# By hand: how far beyond the side's inner surface the middle of a cup stands, on a flat plate.
MIDDLES = {"cup-hinge-overlay": 4.5, "cup-hinge-half-overlay": 13.5, "cup-hinge-inset": 22.5}
BEHIND = {45: 9.5, 48: 6.0, 52: 5.5}

STILL = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
S = math.sqrt(0.5)
POSES = {
    "still": STILL,
    "a quarter round": Frame((90.0, 0.0, 5.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "half round": Frame((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "askew": Frame((10.0, 20.0, 30.0), (S, S, 0.0), (-S, S, 0.0), (0.0, 0.0, 1.0)),
    "a flap": Frame((0.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
}


def hinged(key: str, **options: float) -> FittingPlacement:
    return replace(use(key), options=options)


def placed(
    door: Part, side: Part, used: FittingPlacement, pose: Frame = STILL
) -> tuple[Joinery | None, tuple[Problem, ...], list[Part]]:
    parts = [replace(p, frame=pose.frame_to_outer(p.frame)) for p in (door, side)]
    product = resolved(parts, [joint(door.name, side.name, used)])
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, CATALOGUE)
    return joinery, problems, parts


def in_product(part: Part, p: tuple[float, float, float]) -> NDArray[np.float64]:
    """A panel point in the product, from the frame's own numbers."""
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    return np.array(part.frame.origin) + np.array(p) @ axes


def corners(part: Part) -> NDArray[np.float64]:
    return np.array(
        [in_product(part, (x, y, z)) for x, y in part.outline for z in (0.0, -part.thickness)]
    )


def bores(joinery: Joinery, parts: list[Part], purpose: str, id: str) -> NDArray[np.float64]:
    by_name = {part.name: part for part in parts}
    found = [b for b in joinery.bores if b.purpose == purpose and b.fastener == id]
    return np.array([in_product(by_name[b.part], b.mouth) for b in found])


@pytest.mark.parametrize("pose", POSES)
@pytest.mark.parametrize("right", [False, True])
@pytest.mark.parametrize(
    ("key", "overlay", "plate"),
    [
        ("cup-hinge-overlay", 16.5, 2),
        ("cup-hinge-overlay", 15.0, 2),
        ("cup-hinge-overlay", 14.0, 4),
        ("cup-hinge-half-overlay", 7.5, 0),
        ("cup-hinge-half-overlay", 6.0, 2),
        ("cup-hinge-inset", -3.0, 2),
        ("cup-hinge-inset", -2.0, 0),
    ],
)
def test_cups_and_plates_meet(pose: str, right: bool, key: str, overlay: float, plate: int) -> None:
    # Source: 3 to 6 of wood beside the cup of Ø35, the plate in two holes 32 apart, 37 from the
    # front edge, or from an inset door: common practice, no source.
    y = (0, 18) if overlay < 0 else (-19, -1)
    if right:
        side = board("side", (582, 0, 0), (600, 400, 900))
        door = board("door", (100, y[0], 2), (582 + overlay, y[1], 898))
        edge, inner, sign = 582 + overlay, 582.0, -1.0
    else:
        side = board("side", (0, 0, 0), (18, 400, 900))
        door = board("door", (18 - overlay, y[0], 2), (500, y[1], 898))
        edge, inner, sign = 18 - overlay, 18.0, 1.0
    joinery, problems, parts = placed(door, side, hinged(key, plate=plate), POSES[pose])
    assert joinery is not None, problems
    x_axis, y_axis, z_axis = (np.array(v) for v in (POSES[pose].i, POSES[pose].j, POSES[pose].k))
    origin = np.array(POSES[pose].origin)
    assert len(joinery.fasteners) == 2
    for fastener in joinery.fasteners:
        (cup,) = bores(joinery, parts, "hinge cup", fastener.id) - origin
        assert sign * (cup @ x_axis - inner) == pytest.approx(MIDDLES[key] + plate)
        wood = sign * (cup @ x_axis - edge) - 17.5  # from the door's edge to the cup
        assert 3 - 1e-9 <= wood <= 6 + 1e-9
        assert cup @ y_axis == pytest.approx(y[1])  # in the door's inner side
        plates = bores(joinery, parts, "hinge plate", fastener.id) - origin
        front = 0.0 if overlay > 0 else 18.0
        for point in plates:
            assert point @ x_axis == pytest.approx(inner)
            assert point @ y_axis == pytest.approx(front + 37.0)
        heights = sorted(point @ z_axis for point in plates)
        assert heights[1] - heights[0] == pytest.approx(32.0)
        assert sum(heights) / 2 == pytest.approx(cup @ z_axis)
        items = {p.item: p for p in fastener.items}
        assert f"mounting-plate-h{plate}" in items
    cup_depths = {b.depth for b in joinery.bores if b.purpose == "hinge cup"}
    assert cup_depths == {12.5}


@pytest.mark.parametrize("pattern", BEHIND)
def test_screws_of_a_cup_stand_as_its_pattern_says(pattern: int) -> None:
    # Source: 45/9.5, 48/6, 52/5.5: common practice, no source.
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -18, 2), (500, 0, 898))
    used = hinged("cup-hinge-overlay", screws_apart=pattern, screws_behind=BEHIND[pattern])
    joinery, problems, parts = placed(door, side, used)
    assert joinery is not None, problems
    first = joinery.fasteners[0]
    (cup,) = bores(joinery, parts, "hinge cup", first.id)
    screws = bores(joinery, parts, "hinge screw pilot", first.id)
    assert sorted(screws[:, 2] - cup[2]) == pytest.approx([-pattern / 2, pattern / 2])
    assert screws[:, 0] - cup[0] == pytest.approx([BEHIND[pattern]] * 2)
    assert any(p.item == "cup-hinge-overlay-35" for p in first.items)


def test_a_hinge_of_other_sizes_is_bored_as_they_say() -> None:
    """Worked by hand: a cup of 26, made to cover 14 with 4 of wood, on a plate of 2."""
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (5, -18, 2), (500, 0, 898))  # covers 13
    sizes = {"cup": 26.0, "covers": 14.0, "rim": 4.0, "depth": 11.0, "plate": 2.0}
    joinery, problems, parts = placed(door, side, hinged("cup-hinge-overlay", **sizes))
    assert joinery is not None, problems
    (cup,) = bores(joinery, parts, "hinge cup", joinery.fasteners[0].id)
    assert cup[0] == pytest.approx(5 + 5 + 13)  # 4 - 14 + 2 + 13 = 5 of wood, half a cup
    sizes_of = {(b.diameter, b.depth) for b in joinery.bores if b.purpose == "hinge cup"}
    assert sizes_of == {(26.0, 11.0)}


def test_hardware_of_a_hinge_stands_clear_of_the_wood() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -18, 2), (500, 0, 898))
    joinery, problems, _ = placed(door, side, hinged("cup-hinge-overlay"))
    assert joinery is not None, problems
    for fastener in joinery.fasteners:
        for one in fastener.items:
            if not one.item.startswith(("cup-hinge", "mounting-plate")):
                continue
            for piece in CATALOGUE.items[one.item].pieces:
                if piece.kind != "box":
                    continue
                x, y = piece.at
                ends = [
                    one.frame.point_to_outer((x + a * piece.d0 / 2, y + b * (piece.d1 or 0) / 2, z))
                    for a in (-1, 1) for b in (-1, 1) for z in (piece.z0, piece.z1)
                ]  # fmt: skip
                assert min(p[0] for p in ends) >= 18 - 1e-6  # not in the side
                assert min(p[1] for p in ends) >= -1e-6  # not in the door


def one(problems: tuple[Problem, ...]) -> Problem:
    (problem,) = problems
    return problem


def test_a_cup_too_near_the_edge_names_what_would_do() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (6, -18, 2), (500, 0, 898))  # overlay 12: 1 of wood, plate 2
    problem = one(placed(door, side, hinged("cup-hinge-overlay"))[1])
    assert problem.code == "fitting-need"
    assert "the wood between the door's edge and the cup comes to 1 mm" in problem.message
    assert "3 to 6 mm" in problem.message
    assert "cup-hinge-overlay with plate 4" in problem.help
    far = board("door", (18 - 30, -18, 2), (500, 0, 898))
    assert (
        "no fitting of the catalogue suits"
        in one(placed(far, side, hinged("cup-hinge-overlay"))[1]).help
    )


def test_a_half_overlay_hinge_is_offered_where_only_that_would_do() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (10.5, -18, 2), (500, 0, 898))
    problem = one(placed(door, side, hinged("cup-hinge-overlay"))[1])
    assert "cup-hinge-half-overlay with plate 0" in problem.help
    assert "cup-hinge-inset" not in problem.help


def test_a_plate_comes_in_its_heights_only() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -18, 2), (500, 0, 898))
    problem = one(placed(door, side, hinged("cup-hinge-overlay", plate=3))[1])
    assert problem.code == "fitting-option"
    assert "0, 2, 4" in problem.help


def test_a_door_too_far_before_the_edge_is_told() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -23, 2), (500, -5, 898))
    problem = one(placed(door, side, hinged("cup-hinge-overlay"))[1])
    assert problem.code == "fitting-gap"
    assert "5 mm" in problem.message
    assert "0 to 2 mm" in problem.message


def test_a_door_that_is_not_there_is_told_with_its_distance() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (118, -18, 2), (500, 0, 898))
    problem = one(placed(door, side, hinged("cup-hinge-overlay"))[1])
    assert problem.code == "parts-apart"
    assert "100 mm" in problem.message


def test_hinges_take_no_offset_across() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -18, 2), (500, 0, 898))
    used = replace(hinged("cup-hinge-overlay"), across=5.0)
    assert one(placed(door, side, used)[1]).code == "fitting-position"


def test_hinges_stand_where_at_says() -> None:
    side = board("side", (0, 0, 0), (18, 400, 900))
    door = board("door", (1.5, -18, 2), (500, 0, 898))
    joinery, problems, _ = placed(
        door, side, replace(hinged("cup-hinge-overlay"), at=(90.0, -70.0))
    )
    assert joinery is not None, problems
    assert [f.frame.origin[2] for f in joinery.fasteners] == pytest.approx([92.0, 828.0])


@pytest.mark.parametrize("pose", POSES)
@pytest.mark.parametrize("right", [False, True])
def test_a_door_leaves_out_of_its_face(pose: str, right: bool) -> None:
    if right:
        side = board("side", (582, 0, 0), (600, 400, 900))
        door = board("door", (100, -18, 2), (598.5, 0, 898))
    else:
        side = board("side", (0, 0, 0), (18, 400, 900))
        door = board("door", (1.5, -18, 2), (500, 0, 898))
    joinery, problems, _ = placed(door, side, hinged("cup-hinge-overlay"), POSES[pose])
    assert joinery is not None, problems
    (made,) = joinery.joints
    assert made.way == pytest.approx(POSES[pose].vector_to_outer((0.0, -1.0, 0.0)))
