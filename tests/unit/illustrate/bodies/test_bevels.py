"""Bodies of bevelled parts: closed, and as large as the part is."""

from __future__ import annotations

import numpy as np
import pytest

from kdkit.illustrate.bodies.body import Body
from kdkit.illustrate.bodies.parts import part_body
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.volume import drilled_volume
from tests.bevelled import plate

L_SHAPE = ((0.0, 0.0), (600.0, 0.0), (600.0, 200.0), (500.0, 200.0), (500.0, 300.0), (0.0, 300.0))
PARTS = {
    "ends": plate(0, 45, 0, -45),
    "all round": plate(45, -30, 60, -10),
    "notched": plate(0, 45, 0, 0, 45, 45, outline=L_SHAPE),
    "opened": plate(45, 45, 45, 45, cutouts=(((100, 100), (200, 100), (220, 200), (100, 200)),)),
}


def groove(surface: str, y: float, depth: float = 8.0) -> Groove:
    plan = ((0.0, y), (600.0, y), (600.0, y + 4), (0.0, y + 4))
    return Groove(part="panel", surface=surface, polygon=plan, depth=depth, path=(), joint="")


GROOVES = {
    "none": [],
    "face": [groove("face", 50)],
    "both": [groove("face", 50), groove("back", 8)],
}


def loop_vector(loop: tuple[tuple[float, float, float], ...]) -> np.ndarray:
    """Twice the area of a loop, along its normal, in its own sense."""
    p = np.array(loop)
    return np.cross(p, np.roll(p, -1, axis=0)).sum(axis=0)


def area_and_moment(body: Body) -> tuple[np.ndarray, float]:
    """Sum of the faces' area vectors, and three times the volume by Gauss' theorem."""
    total, moment = np.zeros(3), 0.0
    for face in body.faces:
        normal = np.array(face.normal)
        area = abs(loop_vector(face.outer) @ normal) / 2
        area -= sum(abs(loop_vector(hole) @ normal) / 2 for hole in face.holes)
        total += normal * area
        moment += area * float(normal @ np.array(face.outer[0]))
    return total, moment


@pytest.mark.parametrize("grooves", GROOVES.values(), ids=GROOVES)
@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS)
def test_a_bevelled_body_is_closed(part: Part, grooves: list[Groove]) -> None:
    body = part_body(part, grooves)
    total, moment = area_and_moment(body)
    assert np.abs(total).max() < 1e-3
    assert moment / 3 == pytest.approx(drilled_volume(part, [], grooves), rel=1e-7)
    assert all(len(edge.faces) == 2 for edge in body.edges)


def test_round_openings_keep_clear_of_bevels() -> None:
    part = plate(45, 45, 45, 45, round_cutouts=(RoundCutOut(centre=(300, 150), diameter=60),))
    total, _ = area_and_moment(part_body(part))
    assert np.abs(total).max() < 1e-3
