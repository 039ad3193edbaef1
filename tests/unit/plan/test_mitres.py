"""Mitred boxes: glued, dowelled, with a back; replayed by the independent program."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import Frame, dot
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, Resolved
from kdkit.plan import make_plan
from kdkit.plan.motion.bodies import part_polytopes
from kdkit.plan.motion.sweep import sweep_hits
from kdkit.plan.plan import Impossible, OperationKind, Plan
from kdkit.plan.verify.meeting import find_meeting, part_solid
from tests.bevelled import mitred_box, plate
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use
from tests.replay import replay

CORNERS = (("top", "left"), ("top", "right"), ("floor", "left"), ("floor", "right"))


def planned(
    parts: list[Part], fitting: str, *more: tuple[str, str, str]
) -> tuple[Resolved, Plan | Impossible | None, list[str]]:
    joints = [joint(a, b, use(fitting)) for a, b in CORNERS]
    joints += [joint(a, b, use(f)) for a, b, f in more]
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    codes = [p.code for p in inspect_product(product, assembly, joinery, built_in())]
    plan, _ = make_plan(product, assembly, joinery, built_in())
    if isinstance(plan, Plan):
        assert replay((product, assembly, joinery, built_in()), plan) > 0
    return product, plan, codes


def test_a_glued_box_goes_board_by_board() -> None:
    _, plan, codes = planned(mitred_box(), "mitre-glued")
    assert codes == []
    assert isinstance(plan, Plan)
    mates = [o for o in map(plan.operation, plan.order) if o.kind is OperationKind.MATE]
    assert len(mates) == 3


@pytest.mark.parametrize(
    "fitting", ["mitre-dowel-6x20", "mitre-biscuit-0", "mitre-loose-tenon-6x20x20"]
)
def test_a_dowelled_box_closes_as_two_halves_along_the_mitres(fitting: str) -> None:
    _, plan, codes = planned(mitred_box(), fitting)
    assert codes == []
    assert isinstance(plan, Plan)
    mates = [o for o in map(plan.operation, plan.order) if o.kind is OperationKind.MATE]
    last = mates[-1]
    assert len(last.parts) == 2
    assert last.direction is not None
    for operation in mates:
        assert operation.direction is not None
        assert abs(abs(operation.direction[0]) - math.sqrt(0.5)) < 1e-6
        assert abs(abs(operation.direction[2]) - math.sqrt(0.5)) < 1e-6


def test_a_back_goes_in_before_the_box_closes() -> None:
    back = board("back", (11, 270, 11), (629, 273, 629), material="hardboard")
    grooves = [("back", side, "back-in-groove") for side in ("left", "right", "floor", "top")]
    _, plan, codes = planned([*mitred_box(), back], "mitre-dowel-6x20", *grooves)
    assert codes == []
    assert isinstance(plan, Plan)


def hexagon(side: float = 300.0, t: float = 18.0) -> list[Part]:
    """Six boards round a hexagon, 200 high, bevelled by 30° at both ends."""
    parts = []
    for n in range(6):
        turn = math.radians(60 * n)
        out = (math.sin(turn), -math.cos(turn), 0.0)
        along = (math.cos(turn), math.sin(turn), 0.0)
        reach = side * math.sqrt(3) / 2
        corner = (
            out[0] * reach - along[0] * side / 2,
            out[1] * reach - along[1] * side / 2,
            0.0,
        )
        parts.append(
            plate(
                0, 30, 0, 30, t=t, name=f"wall_{n + 1}",
                outline=((0.0, 0.0), (side, 0.0), (side, 200.0), (0.0, 200.0)),
                frame=Frame(corner, along, (0.0, 0.0, 1.0), out),
            )
        )  # fmt: skip
    return parts


@pytest.mark.parametrize("fitting", ["mitre-glued", "mitre-dowel-6x20"])
def test_six_boards_round_a_hexagon(fitting: str) -> None:
    ring = [(f"wall_{(n + 1) % 6 + 1}", f"wall_{n + 1}") for n in range(6)]
    product = resolved(hexagon(), [joint(a, b, use(fitting, count=2)) for a, b in ring])
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    assert {round(c.width, 6) for c in assembly.contacts} == {
        round(18 / math.cos(math.radians(30)), 6)
    }
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    assert inspect_product(product, assembly, joinery, built_in()) == ()
    plan, _ = make_plan(product, assembly, joinery, built_in())
    assert isinstance(plan, Plan)
    assert replay((product, assembly, joinery, built_in()), plan) > 0


def test_the_two_sweeps_agree_about_bevels() -> None:
    left, top = (next(p for p in mitred_box() if p.name == n) for n in ("left", "top"))
    moved = replace(top, frame=replace(top.frame, origin=(0.0, 0.0, 640.0)))
    s = math.sqrt(0.5)
    ways = [(s, 0.0, s), (-s, 0.0, -s), (s, 0.0, -s), (-s, 0.0, s), (0.0, 1.0, 0.0)]
    ways += [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]
    for way in ways:
        ours = bool(sweep_hits(part_polytopes(moved, ()), part_polytopes(left, ()), way).any())
        assert ours == (find_meeting(part_solid(moved, ()), part_solid(left, ()), way) is not None)
        # The mitre's normal out of the side is (s, 0, s): nothing that goes that way, or
        # along the plane, can meet it.
        assert ours == (dot(way, (s, 0.0, s)) < -1e-9)
