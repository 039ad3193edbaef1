"""Laws of the joinery: pairs of bores on one line, in any posture, at any size."""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from kdkit.frames import Frame, Vec3
from kdkit.geometry import Assembly
from kdkit.joinery import Joinery
from kdkit.model.resolved import Part
from tests.boxes import board
from tests.cabinets import (
    built_in,
    carcass,
    carcass_joints,
    joint,
    mouths,
    place,
    try_to_place,
    use,
)

Points = NDArray[np.float64]


def line_of(part: Part, mouth: Vec3, into: Vec3, depth: float) -> Points:
    """Mouth and bottom in the product, by a matrix of its own."""
    turn = np.column_stack([part.frame.i, part.frame.j, part.frame.k])
    ends = np.array([mouth, np.add(mouth, np.multiply(into, depth))])
    return ends @ turn.T + np.array(part.frame.origin)


def greatest_miss(joinery: Joinery, assembly: Assembly) -> tuple[float, int]:
    """How far any bore of a mating group is off the line of the group's first one."""
    groups: dict[tuple[str, str], list[Points]] = defaultdict(list)
    members: dict[tuple[str, str], set[str]] = defaultdict(set)
    for bore in joinery.bores:
        if bore.fastener is not None and bore.mate is not None:
            part = assembly.part(bore.part)
            ends = line_of(part, bore.mouth, bore.into, bore.depth)
            groups[bore.fastener, bore.mate].append(ends)
            members[bore.fastener, bore.mate].add(bore.part)
    worst = 0.0
    for key, lines in groups.items():
        assert len(members[key]) == 2, key
        start, end = lines[0]
        along = (end - start) / np.linalg.norm(end - start)
        for line in lines[1:]:
            for p in line:
                worst = max(worst, float(np.linalg.norm(np.cross(p - start, along))))
    return worst, len(groups)


def turned(yaw: float, pitch: float, roll: float, shift: Vec3) -> Frame:
    """A rigid frame from three angles (radians)."""

    def about(axis: int, angle: float) -> Points:
        c, s = math.cos(angle), math.sin(angle)
        a, b = [(1, 2), (2, 0), (0, 1)][axis]
        m = np.eye(3)
        m[a, a], m[a, b], m[b, a], m[b, b] = c, -s, s, c
        return m

    m = about(2, yaw) @ about(1, pitch) @ about(0, roll)
    i, j, k = (tuple(float(c) for c in m[:, n]) for n in range(3))
    return Frame(shift, i, j, k)  # type: ignore[arg-type]


ANGLES = st.floats(-math.pi, math.pi)
SHIFT = st.tuples(*[st.floats(-3000, 3000)] * 3)


@settings(max_examples=40, deadline=None)
@given(yaw=ANGLES, pitch=ANGLES, roll=ANGLES, shift=SHIFT)
def test_mating_bores_lie_on_one_line_in_any_posture(
    yaw: float, pitch: float, roll: float, shift: Vec3
) -> None:
    joinery, assembly = place(carcass(at=turned(yaw, pitch, roll, shift)), carcass_joints())
    worst, groups = greatest_miss(joinery, assembly)
    assert groups == len(joinery.fasteners) > 30
    assert worst < 0.01


@settings(max_examples=40, deadline=None)
@given(
    width=st.floats(200, 1200),
    depth=st.floats(120, 700),
    height=st.floats(300, 2200),
    t=st.sampled_from([15.0, 16.0, 18.0, 19.0, 22.0]),
)
def test_mating_bores_lie_on_one_line_at_any_size(
    width: float, depth: float, height: float, t: float
) -> None:
    parts = carcass(width=width, depth=depth, height=height, t=t)
    joinery, assembly = place(parts, carcass_joints())
    assert greatest_miss(joinery, assembly)[0] < 0.01


@settings(max_examples=30, deadline=None)
@given(yaw=ANGLES, pitch=ANGLES, roll=ANGLES, shift=SHIFT)
def test_a_rigid_motion_leaves_the_bores_of_each_panel_alone(
    yaw: float, pitch: float, roll: float, shift: Vec3
) -> None:
    """Sides that are named do not depend on how the product stands; runs may start over."""

    def panel_bores(at: Frame | None) -> list[tuple[object, ...]]:
        joints = [
            joint(lying, side, use("cam-and-bolt", opens="face"), use("dowel-8x35"))
            for lying in ("bottom", "top")
            for side in ("left", "right")
        ]
        joinery, _ = place(carcass(at=at), joints)
        return sorted(
            (b.part, b.surface, b.purpose, *(round(c, 4) + 0.0 for c in b.mouth), b.depth)
            for b in joinery.bores
        )

    still, moved = panel_bores(None), panel_bores(turned(yaw, pitch, roll, shift))
    assert [b[:3] for b in still] == [b[:3] for b in moved]
    for a, b in zip(still, moved, strict=True):
        assert a[3:] == pytest.approx(b[3:], abs=1e-3)


@settings(max_examples=40, deadline=None)
@given(scale=st.floats(0.6, 4.0))
def test_scaling_a_product_moves_its_bores_by_the_rule(scale: float) -> None:
    """Sides grow, boards and fittings do not: ends stay, the number follows the pitch."""
    uses = use("cam-and-bolt", ends=60.0, pitch=200.0), use("dowel-8x35", at=(110.0, -40.0))
    joints = [joint("top", "left", *uses)]
    joinery, assembly = place(carcass(scale=scale), joints)
    depth, height = 300 * scale, 800 * scale
    seats = mouths(joinery, assembly, "left", "bolt seat")
    gaps = max(1, math.ceil((depth - 120) / 200 - 1e-6))
    wanted = [60 + (depth - 120) * n / gaps for n in range(gaps + 1)]
    assert [y for _, y, _ in seats] == pytest.approx(wanted, abs=2e-3)
    assert [z for _, _, z in seats] == pytest.approx([height - 9] * len(seats), abs=2e-3)
    dowels = mouths(joinery, assembly, "left", "dowel")
    assert [y for _, y, _ in dowels] == pytest.approx(sorted([110, depth - 40]), abs=2e-3)


LENGTH = st.sampled_from([3.0, 12.0, 18.0, 40.0, 64.0, 100.0, 257.5, 600.0])
CORNER = st.sampled_from([-18.0, -7.0, 0.0, 3.0, 18.0, 82.0, 100.0])


@settings(max_examples=150, deadline=None)
@given(
    corner=st.tuples(CORNER, CORNER, CORNER),
    first=st.tuples(LENGTH, LENGTH, LENGTH),
    second=st.tuples(LENGTH, LENGTH, LENGTH),
    key=st.sampled_from(sorted(n for n, f in built_in().fittings.items() if f.kind == "joint")),
    opens=st.sampled_from([None, "face", "back", "+x", "-y", "+z"]),
    across=st.floats(-20, 20),
    spread=st.sampled_from(
        [{}, {"count": 2}, {"at": (10.0, -10.0)}, {"ends": 20.0, "pitch": 50.0, "grid": 32.0}]
    ),
)
def test_any_two_boards_give_a_joinery_or_say_why_not(
    corner: Vec3,
    first: Vec3,
    second: Vec3,
    key: str,
    opens: str | None,
    across: float,
    spread: dict[str, object],
) -> None:
    far = tuple(c + s for c, s in zip(corner, second, strict=True))
    parts = [board("one", (0, 0, 0), first), board("other", corner, far)]  # type: ignore[arg-type]
    asked = joint("one", "other", use(key, opens=opens, across=across, **spread))
    joinery, problems, assembly = try_to_place(parts, [asked])
    errors = [p for p in problems if p.severity == "error"]
    assert (joinery is None) == bool(errors)
    assert all(p.message and p.path for p in problems)
    if joinery is not None:
        assert greatest_miss(joinery, assembly)[0] < 0.01
        for bore in joinery.bores:
            assert bore.depth > 0
            assert math.isfinite(sum(bore.mouth))
