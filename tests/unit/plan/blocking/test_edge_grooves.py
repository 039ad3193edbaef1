"""A part that stands in a groove in another one's edge: how it can move."""

from __future__ import annotations

import numpy as np
import pytest

from kdkit.model.resolved import Part, ResolvedJoint
from kdkit.parts.volume import drilled_volume
from kdkit.plan import make_plan
from kdkit.plan.blocking import find_blocking
from kdkit.plan.motion.bodies import part_polytopes
from kdkit.plan.plan import OperationKind, Plan
from tests.boxes import board
from tests.cabinets import built_in, joint, place, resolved, use


def framed_panel() -> tuple[list[Part], list[ResolvedJoint]]:
    """A bottom rail, two posts and a panel in grooves in their edges."""
    rail = board("rail", (40, 0, 0), (460, 20, 60))
    left = board("left", (0, 0, 0), (40, 20, 400))
    right = board("right", (460, 0, 0), (500, 20, 400))
    panel = board("panel", (32, 7, 52), (468, 13, 400))
    joints = [
        joint("rail", "left", use("dowel-8x35", count=1)),
        joint("rail", "right", use("dowel-8x35", count=1)),
        *(joint("panel", other, use("back-in-groove")) for other in ("rail", "left", "right")),
    ]
    return [rail, left, right, panel], joints


def test_the_panel_slides_in_along_its_grooves() -> None:
    parts, joints = framed_panel()
    joinery, assembly = place(parts, joints)
    assert all(g.surface.startswith("edge:") for g in joinery.grooves)
    plan, problems = make_plan(resolved(parts, joints), assembly, joinery, built_in())
    assert isinstance(plan, Plan), problems
    ways = [o.direction for o in plan.operations if o.kind is OperationKind.MATE]
    assert all(way is not None and abs(way[1]) < 1e-9 for way in ways)  # never through a side
    blocking = find_blocking([p.name for p in assembly.parts], assembly, joinery, built_in())
    held = {
        way: {blocking.names[h.to] for h in blocking.holds[d][3]}
        for d, way in enumerate(blocking.directions)
    }
    assert held[(0.0, 1.0, 0.0)] == held[(0.0, -1.0, 0.0)] == {"rail", "left", "right"}
    assert held[(0.0, 0.0, 1.0)] == set()  # up and out of all three grooves


def test_the_pieces_leave_the_groove_open() -> None:
    parts, joints = framed_panel()
    joinery, assembly = place(parts, joints)
    for name in ("rail", "left", "right"):
        part = assembly.part(name)
        grooves = [g for g in joinery.grooves if g.part == name]
        total = sum(_volume(p.vertices) for p in part_polytopes(part, grooves))
        assert total == pytest.approx(drilled_volume(part, [], grooves), rel=1e-9)


def _volume(vertices: object) -> float:
    """Volume of a box, from its corners."""
    points = np.asarray(vertices)
    return float(np.prod(points.max(axis=0) - points.min(axis=0)))
