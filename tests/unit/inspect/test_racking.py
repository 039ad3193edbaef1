"""Frames fold or do not; what folds and how is judged by hand for each case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem, Severity
from kdkit.geometry import assemble
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.racking import check_racking
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedJoint
from kdkit.model.says import Product
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

LEFT = board("left", (0, 0, 0), (18, 300, 700))
RIGHT = board("right", (582, 0, 0), (600, 300, 700))
TOP = board("top", (18, 0, 682), (582, 300, 700))
BOTTOM = board("bottom", (18, 0, 60), (582, 300, 78))
CASE = [LEFT, RIGHT, TOP, BOTTOM]


def between(name: str, fitting: str, *sides: str) -> list[ResolvedJoint]:
    return [joint(name, side, use(fitting)) for side in sides or ("left", "right")]


def case(fitting: str = "cam-and-bolt") -> list[ResolvedJoint]:
    return [*between("top", fitting), *between("bottom", fitting)]


def told(parts: Sequence[Part], joints: Sequence[ResolvedJoint], **said: object) -> list[Problem]:
    product = replace(
        resolved(parts, joints),
        said=Product(product="Piece", **said),  # type: ignore[arg-type]
    )
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return list(check_racking(Inspection(product, assembly, joinery, built_in())))


def test_a_case_without_a_back_folds_sideways() -> None:
    (problem,) = told(CASE, case())
    assert problem.code == "frame-folds"
    assert problem.severity is Severity.WARNING
    assert "it leans to the left and to the right, as left, right" in problem.message
    assert "Add a back" in problem.help


def test_a_shelf_is_no_help_but_a_back_is() -> None:
    shelf = board("shelf", (18, 0, 350), (582, 300, 368))
    joints = [*case(), *between("shelf", "cam-and-bolt")]
    assert len(told([*CASE, shelf], joints)) == 1
    back = board("back", (2, 300, 62), (598, 303, 698))
    nailed = [joint("back", name, use("back-nailed")) for name in ("left", "right", "top")]
    assert told([*CASE, back], [*case(), *nailed]) == []


@pytest.mark.parametrize(
    ("high", "ends", "folds"), [(100, 2, False), (100, 1, False), (30, 2, True)]
)
def test_a_rail_helps_if_it_is_high_enough(high: float, ends: int, folds: bool) -> None:
    rail = board("rail", (18, 282, 682 - high), (582, 300, 682))
    at = (high / 2,) if ends == 1 else (high / 2 - 10, high / 2 + 10)
    held = [joint("rail", side, use("screw-4x50", at=at)) for side in ("left", "right")]
    assert bool(told([*CASE, rail], [*case(), *held])) is folds


def test_slats_on_one_screw_at_each_bearer_do_not_fold() -> None:
    slat = board("slat", (0, 100, 700), (600, 180, 718))
    lid = board("slats", (0, 200, 700), (600, 280, 718))
    joints = [
        joint(s, side, use("screw-4x50", count=1))
        for s in ("slat", "slats")
        for side in ("left", "right")
    ]
    joints = [replace(j, joined=j.to, to=j.joined) for j in joints]
    assert told([*CASE, slat, lid], [*case("dowel-8x35-glued"), *joints]) == []


def test_glue_makes_corners_stiff() -> None:
    assert told(CASE, case("dowel-8x35-glued")) == []


def test_a_desk_of_three_boards_folds_and_the_floor_is_its_fourth() -> None:
    lid = board("lid", (-20, 0, 700), (620, 300, 718))
    joints = [joint(side, "lid", use("cam-and-bolt")) for side in ("left", "right")]
    (problem,) = told([LEFT, RIGHT, lid], joints)
    assert "left, right" in problem.message
    # on the wall it is no frame: both sides hang on the lid
    assert told([LEFT, RIGHT, lid], joints, kind="wall-hung") == []


def test_what_hangs_on_one_part_alone_is_no_frame() -> None:
    shelf = board("shelf", (18, 0, 350), (300, 300, 368))
    back = board("back", (2, 300, 62), (598, 303, 698))
    nailed = [joint("back", name, use("back-nailed")) for name in ("left", "right", "top")]
    held = [*case(), *nailed, joint("shelf", "left", use("cam-and-bolt"))]
    assert told([*CASE, back, shelf], held) == []
