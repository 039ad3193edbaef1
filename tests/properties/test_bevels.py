"""Laws of bevelled panels, over random angles and outlines; volumes by a mesh library."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.geometry.convex import part_pieces
from kdkit.geometry.solids import overlap_between
from kdkit.model.panels.bevels import back_ring, bevel_planes, face_ring
from kdkit.model.resolved import Part
from kdkit.parts.volume import prism_volume
from kdkit.plan.motion.bodies import part_polytopes
from kdkit.plan.motion.sweep import sweep_hits
from kdkit.plan.verify.meeting import find_meeting, part_solid
from tests.bevelled import plate
from tests.replay import solid_of

ANGLES = st.one_of(st.just(0.0), st.floats(1, 60), st.floats(-60, -1))
PLATES = st.builds(
    lambda a, b, c, d, t: plate(a, b, c, d, t=t), ANGLES, ANGLES, ANGLES, ANGLES, st.floats(3, 40)
)


@given(PLATES)
@settings(max_examples=60, deadline=None)
def test_volumes_agree_with_a_mesh_library(part: Part) -> None:
    assert prism_volume(part) == pytest.approx(solid_of(part, ()).volume(), rel=1e-6)


@given(PLATES)
@settings(max_examples=60, deadline=None)
def test_face_and_back_lie_on_their_planes(part: Part) -> None:
    for ring, z in ((face_ring(part), 0.0), (back_ring(part), -part.thickness)):
        for n, normal, offset in bevel_planes(part):
            for x, y in (ring[n], ring[(n + 1) % len(ring)]):
                assert normal[0] * x + normal[1] * y + normal[2] * z == pytest.approx(offset)
    assert len(part_pieces(part)) == 1


@given(PLATES, PLATES, st.floats(-650, 650), st.floats(-350, 350), st.floats(-45, 45))
@settings(max_examples=60, deadline=None)
def test_overlaps_agree_with_a_mesh_library(a: Part, b: Part, x: float, y: float, z: float) -> None:
    moved = replace(b, frame=replace(b.frame, origin=(x, y, z)))
    ours = overlap_between(a, moved)
    theirs = solid_of(a, ()) ^ solid_of(moved, ())
    volume = theirs.volume() if theirs.status() == manifold3d.Error.NoError else 0.0
    if ours.depth > 0.05 or volume > 1.0:
        assert ours.volume == pytest.approx(volume, rel=1e-4, abs=50.0)


WAYS = ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.6, 0.0, 0.8))


@given(PLATES, PLATES, st.floats(-650, 650), st.floats(-350, 350), st.floats(50, 120))
@settings(max_examples=25, deadline=None)
def test_sweeps_agree_with_straight_lines(a: Part, b: Part, x: float, y: float, z: float) -> None:
    moved = replace(b, frame=replace(b.frame, origin=(x, y, z)))
    for way in WAYS:
        ours = bool(sweep_hits(part_polytopes(moved, ()), part_polytopes(a, ()), way).any())
        line = find_meeting(part_solid(moved, ()), part_solid(a, ()), way)
        if ours != (line is not None):  # only where they graze each other may the two differ
            near = sweep_hits(
                part_polytopes(moved, ()), part_polytopes(a, ()), way, tolerance=0.2
            ).any()
            assert bool(near) != ours
