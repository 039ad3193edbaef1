"""Solid wood: each rule broken, then kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem, Severity
from kdkit.geometry import assemble
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.stability import check_restraint
from kdkit.inspect.timber import check_end_grain_glue, check_short_grain, check_wood_moves
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedJoint
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use


def looked_at(parts: Sequence[Part], joints: Sequence[ResolvedJoint]) -> Inspection:
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return Inspection(product, assembly, joinery, built_in())


def of(material: str, part: Part) -> Part:
    return replace(part, material=material)


def wide_top(material: str, fitting: str, deep: float) -> list[Problem]:
    """A top, its grain along x, on a side that stands across it."""
    top = of(material, board("top", (0, 0, 600), (1200, deep, 620)))
    side = of("particleboard-p2", board("side", (20, 0, 0), (38, deep, 600)))
    return list(check_wood_moves(looked_at([top, side], [joint("side", "top", use(fitting))])))


def test_a_wide_top_glued_across_its_grain_splits() -> None:
    # white oak, 700 wide, 4 percent: 700 · 4 · 0.00365 = 10.2, as the handbook's formula gives
    (problem,) = wide_top("oak", "dowel-8x35-glued", 700)
    assert "wants to move by 10.2 mm" in problem.message
    assert problem.severity is Severity.WARNING
    assert wide_top("oak", "dowel-8x35-glued", 200) == []  # 2.9 mm
    assert len(wide_top("oak", "dowel-8x35-glued", 210)) == 1  # 3.1 mm
    assert wide_top("particleboard-p2", "dowel-8x35-glued", 700) == []


def turned(part: Part) -> Part:
    """The same board with its grain across its long way; it lies with a corner in the origin."""
    length, width = part.outline[2]
    ring = ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))
    frame = part.frame
    i, j = frame.j, (-frame.i[0], -frame.i[1], -frame.i[2])
    origin = frame.point_to_outer((length, 0.0, 0.0))
    return replace(part, frame=replace(frame, origin=origin, i=i, j=j), outline=ring)


def test_grain_that_runs_the_same_way_moves_along() -> None:
    lower = of("oak", board("lower", (0, 0, 0), (1200, 700, 20)))
    upper = of("oak", board("upper", (0, 0, 20), (1200, 700, 40)))
    joints = [joint("upper", "lower", use("glued"))]
    assert list(check_wood_moves(looked_at([lower, upper], joints))) == []
    assert len(list(check_wood_moves(looked_at([turned(lower), upper], joints)))) == 2


@pytest.mark.parametrize(("deep", "short"), [(399, 1), (401, 0)])
def test_a_seat_with_its_grain_across_breaks(deep: float, short: int) -> None:
    seat = of("pine", board("seat", (0, 0, 0), (1200, deep, 28)))
    assert len(list(check_short_grain(looked_at([turned(seat)], [])))) == short
    assert list(check_short_grain(looked_at([seat], []))) == []


@pytest.mark.parametrize(
    ("material", "fitting", "told"),
    [
        ("pine", "glued", 1),
        ("pine", "dowel-8x35-glued", 0),
        ("pine", "bare", 0),
        ("particleboard-p2", "glued", 0),
    ],
)
def test_end_grain_wants_more_than_glue(material: str, fitting: str, told: int) -> None:
    post = of(material, board("post", (0, 0, 0), (18, 60, 600)))
    rail = of(material, board("rail", (18, 0, 300), (518, 60, 318)))
    seen = looked_at([post, rail], [joint("rail", "post", use(fitting))])
    assert len(list(check_end_grain_glue(seen))) == told


@pytest.mark.parametrize(("high", "weight"), [(1190, Severity.ADVICE), (1210, Severity.WARNING)])
def test_a_slender_piece_is_warned_of(high: float, weight: Severity) -> None:
    side = board("side", (0, 0, 0), (18, 300, high))
    (problem,) = check_restraint(looked_at([side], []))
    assert (problem.code, problem.severity) == ("restraint-missing", weight)
