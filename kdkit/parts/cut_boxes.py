"""Boxes around bores, grooves and slots in the panel frame, to find what may meet what."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2, add, cross, scaled
from kdkit.geometry.surfaces import surface_frame
from kdkit.model.resolved import Part
from kdkit.parts.cuts import Bore, Groove, Slot
from kdkit.parts.taken_out import Cylinder

__all__ = ["cut_box", "groove_plan"]


def cut_box(part: Part, cut: Slot | Bore | Groove) -> NDArray[np.float64]:
    """Return least x, y, z and greatest x, y, z of what a cut takes out; panel frame, mm."""
    if isinstance(cut, Bore):
        return Cylinder(cut.mouth, cut.into, cut.diameter / 2, cut.depth).box()
    if isinstance(cut, Groove):
        frame = surface_frame(part, cut.surface)
        flat = groove_plan(cut)
        points = [frame.point_to_outer((x, y, z)) for x, y in flat for z in (0.0, -cut.depth)]
    else:
        across = cross(cut.into, cut.along)
        points = [
            add(
                cut.mouth,
                add(
                    scaled(cut.into, c * cut.depth),
                    add(scaled(cut.along, a * cut.length / 2), scaled(across, b * cut.width / 2)),
                ),
            )
            for a in (-1, 1)
            for b in (-1, 1)
            for c in (0, 1)
        ]
    corners = np.array(points)
    return np.concatenate([corners.min(axis=0), corners.max(axis=0)])


def groove_plan(groove: Groove) -> Sequence[Vec2]:
    """Return a groove's plan in the frame of its surface; that of a back is mirrored."""
    if groove.surface == "back":
        return [(x, -y) for x, y in groove.polygon]
    return groove.polygon
