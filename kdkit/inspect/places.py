"""Places: does everything stand on the floor or above it, and together.

The floor is z = 0, and below it is a warning. Feet and castors are not counted: whether a
drawing begins under or above them is its maker's choice.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from kdkit.diagnostics import Problem, warning
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.inspection import Inspection
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_above_floor", "check_stand_together"]

_FAR = 1000.0
"""mm of nothing across the whole product: no furniture has it. Common practice, no source."""


def check_above_floor(inspection: Inspection) -> Iterable[Problem]:
    """No part reaches below z = 0, the floor of the finished product.

    What hangs on a wall may begin anywhere above it. Feet, castors and legs from the
    catalogue are no parts: what they carry may begin at 0 as well as at their height.
    """
    for part in inspection.assembly.parts:
        low = float(part_box(part)[2])
        if low < -TOLERANCE:
            yield warning(
                "part-below-floor",
                f"{part.name} reaches {mm_text(-low)} mm below the floor, which is z = 0",
                part.path,
                where=part.name,
                help="heights count from the floor up: move it, or the whole product, up",
            )


def check_stand_together(inspection: Inspection) -> Iterable[Problem]:
    """No wide strip across the whole product is empty: a part beyond it was misplaced."""
    parts = inspection.assembly.parts
    boxes = np.array([part_box(part) for part in parts]).reshape(-1, 6)
    for axis, name in enumerate("xyz"):
        order = np.argsort(boxes[:, axis], kind="stable")
        ends = np.maximum.accumulate(boxes[order, axis + 3])
        gaps = boxes[order[1:], axis] - ends[:-1]
        for n in np.flatnonzero(gaps > _FAR):
            before, after = order[: n + 1], order[n + 1 :]
            fewer = after if len(after) <= len(before) else before
            first = parts[int(fewer[0] if fewer is after else fewer[-1])]
            rest = f" and {len(fewer) - 1} more" if len(fewer) > 1 else ""
            yield warning(
                "part-far-away",
                f"between {first.name}{rest} and the other parts there are"
                f" {mm_text(float(gaps[n]))} mm of nothing along {name}",
                first.path,
                where=first.name,
                help=f"check where it stands along {name}",
            )
