"""Contact areas and overlaps against a general mesh library (manifold3d).

The area in which two solids touch along a direction n is the volume that they share once
one of them is pushed by a small step along n, divided by the step: exact for flat
surfaces. Source: Cavalieri; the volumes are manifold3d's.
"""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from kdkit.frames import PRODUCT, Frame, Vec2, Vec3, cross, scaled, unit
from kdkit.geometry import ContactKind, assemble, contact_between, overlap_between
from kdkit.model.resolved import Part
from tests.cabinets import resolved

manifold3d = pytest.importorskip("manifold3d")

ASSEMBLIES = 240
STEP = 0.5
GRID = 20


def random_frame(rng: random.Random) -> Frame:
    k = unit((rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1)))
    i = unit(cross(k, (rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1))))
    return Frame(tuple(rng.uniform(-80, 80) for _ in range(3)), i, cross(k, i), k)  # type: ignore[arg-type]


def square_frames() -> list[Frame]:
    """The 24 ways in which a board can stand square in a frame."""
    axes: list[Vec3] = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    turned = [(i, j) for i in axes for j in axes if abs(np.dot(i, j)) < 0.5]
    return [Frame((0.0, 0.0, 0.0), i, j, cross(i, j)) for i, j in turned]


def random_part(rng: random.Random, name: str, stands_in: Frame) -> Part:
    """A rectangle, an L or a rectangle with an opening, on a grid, square to the frame."""
    length, width = (float(rng.randrange(40, 320, GRID)) for _ in range(2))
    outline: tuple[Vec2, ...] = ((0, 0), (length, 0), (length, width), (0, width))
    cutouts: tuple[tuple[Vec2, ...], ...] = ()
    shape = rng.choice(("plain", "plain", "notched", "opened"))
    if shape == "notched":
        x, y = (float(rng.randrange(GRID, int(size), GRID)) for size in (length, width))
        outline = ((0, 0), (length, 0), (length, y), (x, y), (x, width), (0, width))
    elif shape == "opened" and min(length, width) > 3 * GRID:
        inner = (GRID, length - GRID), (GRID, width - GRID)
        cutouts = (((inner[0][0], inner[1][0]), (inner[0][1], inner[1][0]),
                    (inner[0][1], inner[1][1]), (inner[0][0], inner[1][1])),)  # fmt: skip
    square = rng.choice(square_frames())
    origin = tuple(float(rng.randrange(-100, 100, GRID)) for _ in range(3))
    frame = stands_in.frame_to_outer(Frame(origin, square.i, square.j, square.k))  # type: ignore[arg-type]
    return Part(
        name=name, title=name, kind="panel", path=("panels", name), frame=frame, outline=outline,
        thickness=float(rng.choice((GRID, 2 * GRID))), cutouts=cutouts,
    )  # fmt: skip


def random_parts(rng: random.Random, kind: str) -> list[Part]:
    common = PRODUCT if kind == "straight" else random_frame(rng)
    return [
        random_part(rng, f"part{n}", random_frame(rng) if kind == "mixed" else common)
        for n in range(rng.randint(4, 6))
    ]


def solid(part: Part) -> manifold3d.Manifold:
    rings = [np.array(part.outline), *(np.array(c)[::-1] for c in part.cutouts)]
    section = manifold3d.CrossSection([r.astype(float) for r in rings])
    body = manifold3d.Manifold.extrude(section, part.thickness).translate((0, 0, -part.thickness))
    f = part.frame
    columns: NDArray[np.float64] = np.array([f.i, f.j, f.k, f.origin]).T
    return body.transform(columns)


def touching_area(a: Part, b: Part) -> float:
    standing, total = solid(b), 0.0
    frame = a.frame
    for axis in (frame.i, frame.j, frame.k):
        for sign in (1.0, -1.0):
            pushed = solid(a).translate(scaled(axis, sign * STEP))
            total += (pushed ^ standing).volume() / STEP
    return total


def reaches_through(a: Part, b: Part) -> bool:
    """Tell whether b stands in an opening of a, whose walls are no surfaces to join."""
    closed = solid(replace(a, cutouts=()))
    return bool(a.cutouts) and (closed ^ solid(b)).volume() > 1e-3


@pytest.mark.parametrize("kind", ["straight", "turned", "mixed"])
def test_areas_and_overlaps_agree(kind: str) -> None:
    rng = random.Random(f"contacts-{kind}")
    touching = overlapping = sunk = 0
    for _ in range(ASSEMBLIES // 3):
        parts = random_parts(rng, kind)
        assembly, problems = assemble(resolved(parts))
        assert assembly is not None, problems
        for n, a in enumerate(parts):
            for b in parts[n + 1 :]:
                shared = (solid(a) ^ solid(b)).volume()
                ours = overlap_between(a, b)
                assert ours.volume == pytest.approx(shared, rel=1e-6, abs=1e-3), (a, b)
                found = contact_between(assembly, a.name, b.name)
                if shared > 1e-3:
                    overlapping += 1
                    slabs = [c for c in found if c.kind is ContactKind.SUNK]
                    sunk += bool(slabs)
                    if slabs:
                        assert sum(c.area * c.sunk for c in slabs) == pytest.approx(shared)
                    continue
                if reaches_through(a, b) or reaches_through(b, a):
                    continue
                area = sum(c.area for c in found)
                expected = touching_area(a, b) if kind != "mixed" else 0.0
                assert area == pytest.approx(expected, rel=1e-6, abs=1e-3), (a, b)
                touching += area > 0
    assert overlapping > 30
    if kind != "mixed":
        assert touching > 50, (touching, sunk)
        assert sunk > 5, sunk
