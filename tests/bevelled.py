"""What bevels saw off, and products with mitres, for the tests."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import PRODUCT
from kdkit.model.resolved import Part
from tests.boxes import board

Offcut = NDArray[np.float64]


def plate(*bevels: float, t: float = 18.0, **more: object) -> Part:
    """A panel of 600 × 300 with its face up; bevels of front, right, back and left."""
    settings: dict[str, object] = {
        "name": "panel",
        "title": "",
        "kind": "panel",
        "path": (),
        "frame": PRODUCT,
        "thickness": t,
        "outline": ((0.0, 0.0), (600.0, 0.0), (600.0, 300.0), (0.0, 300.0)),
        "edge_sides": ("front", "right", "back", "left"),
        "bevels": bevels,
        "board": "carcass",
        "material": "particleboard-p2",
    }
    return Part(**{**settings, **more})  # type: ignore[arg-type]


def offcuts(part: Part) -> Iterator[Offcut]:
    """For each bevel the prism beyond its saw cut, panel frame: four corners, then their ends.

    Drawn without the package's own planes: from the long point down a slope of tan(angle).
    """
    t = part.thickness
    for n, angle in enumerate(part.bevels):
        if angle == 0:
            continue
        a, b = (np.array(part.outline[m % len(part.outline)]) for m in (n, n + 1))
        along = (b - a) / np.linalg.norm(b - a)
        out = np.array([along[1], -along[0]])
        slope = math.tan(math.radians(abs(angle)))
        long, down = (0.0, -1.0) if angle > 0 else (-t, 1.0)
        profile = [(0.0, long), (-2 * t * slope, long + 2 * t * down)]
        profile += [(3 * t, long + 2 * t * down), (3 * t, long)]
        ends = (a - 1000.0 * along, b + 1000.0 * along)
        yield np.array([(*(end + out * x), z) for end in ends for x, z in profile])


def mitred_box(angle: float = 45.0, t: float = 18.0, size: float = 640.0) -> list[Part]:
    """Four boards of 640 at the long points, 300 deep, mitred at all corners, faces outside."""
    both = {"bands": (0.0,) * 4}
    x, z = (0.0, angle, 0.0, angle), (angle, 0.0, angle, 0.0)
    found = [
        board("left", (0, 0, 0), (t, 300, size), **both),
        board("right", (size - t, 0, 0), (size, 300, size), bevels=z, **both),
        board("floor", (0, 0, 0), (size, 300, t), **both),
        board("top", (0, 0, size - t), (size, 300, size), bevels=x, **both),
    ]
    # `board` turns the faces to +x and +z: those of left and floor look inwards.
    turned = {"left": tuple(-a for a in z), "floor": tuple(-a for a in x)}
    return [
        part if part.name not in turned else Part(**{**vars(part), "bevels": turned[part.name]})
        for part in found
    ]
