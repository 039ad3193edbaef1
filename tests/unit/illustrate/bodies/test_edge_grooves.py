"""Grooves in the edges of panels as drawn: the solid stays closed and loses their volume."""

from __future__ import annotations

import pytest

from kdkit.frames import PRODUCT, Vec2, distance
from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.bodies.parts import part_body
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.volume import drilled_volume

PLATE = Part(
    name="p", title="", kind="panel", path=(), frame=PRODUCT, thickness=20,
    outline=((0, 0), (400, 0), (400, 200), (0, 200)),
)  # fmt: skip
NOTCHED = Part(
    name="p", title="", kind="panel", path=(), frame=PRODUCT, thickness=20,
    outline=((0, 0), (400, 0), (400, 120), (340, 200), (0, 200)),
    cutouts=(((100, 100), (150, 100), (150, 150), (100, 150)),),
    round_cutouts=(RoundCutOut(centre=(250, 10.0), diameter=12),),
)  # fmt: skip


def groove(surface: str, depth: float, *polygon: Vec2) -> Groove:
    return Groove(part="p", surface=surface, polygon=polygon, depth=depth, path=(), joint="")


def band(surface: str, a: float, b: float, low: float, high: float, depth: float) -> Groove:
    return groove(surface, depth, (a, low), (b, low), (b, high), (a, high))


CASES = {
    "stopped": (PLATE, [band("edge:0", 50, 300, -13, -7, 9)]),
    "running out at both ends": (PLATE, [band("edge:0", 0, 400, -13, -7, 9)]),
    "a rebate: open to the face": (PLATE, [band("edge:2", 0, 400, -8, 0, 6)]),
    "a rebate on the back, stopped": (PLATE, [band("edge:1", 40, 150, -20, -9, 6)]),
    "the whole thickness": (PLATE, [band("edge:0", 100, 200, -20, 0, 9)]),
    "two that cross at a corner": (
        PLATE, [band("edge:0", 0, 400, -13, -7, 9), band("edge:1", 0, 200, -15, -5, 12)]),
    "under a groove of the face": (
        PLATE, [band("edge:0", 0, 400, -13, -7, 9),
                groove("face", 8, (100, 0), (120, 0), (120, 200), (100, 200))]),
    "through a groove of the back": (
        PLATE, [groove("back", 10, (0, 3), (400, 3), (400, 9), (0, 9)),
                band("edge:0", 0, 400, -13, -7, 9)]),
    "aslant": (PLATE, [groove("edge:0", 9, (100, -16), (200, -10), (199, -4), (99, -10))]),
    "in a slanted edge and past an opening": (
        NOTCHED, [band("edge:2", 10, 90, -13, -7, 9), band("edge:0", 0, 400, -13, -7, 9)]),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_solid_is_closed_and_loses_the_grooves(case: str) -> None:
    part, grooves = CASES[case]
    body = part_body(part, grooves)
    assert all(len(edge.faces) == 2 for edge in body.edges)
    # round openings are drawn with few sides: give the same ones up on both sides
    drawn = volume(part_body(part)) - volume(body)
    taken = drilled_volume(part, []) - drilled_volume(part, [], grooves)
    tolerance = 0.005 if part.round_cutouts else 1e-6
    assert drawn == pytest.approx(taken, rel=tolerance)
    assert taken > 1000


def volume(body: Body) -> float:
    """Return the volume by the divergence theorem: Σ area · distance of plane / 3."""
    total = 0.0
    for face in body.faces:
        area = loop_area(face.outer) - sum(loop_area(h) for h in face.holes)
        total += area * sum(a * b for a, b in zip(face.normal, face.outer[0], strict=True)) / 3
    return total


def loop_area(loop: tuple[tuple[float, float, float], ...]) -> float:
    total = [0.0, 0.0, 0.0]
    for p, q in zip(loop, loop[1:] + loop[:1], strict=True):
        total[0] += p[1] * q[2] - p[2] * q[1]
        total[1] += p[2] * q[0] - p[0] * q[2]
        total[2] += p[0] * q[1] - p[1] * q[0]
    return distance((0, 0, 0), (total[0], total[1], total[2])) / 2
