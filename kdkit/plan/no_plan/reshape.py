"""Parts with another outline: an end moved out or in, a back laid on edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kdkit.frames import Vec2, Vec3, add, scaled
from kdkit.geometry.surfaces import corners_of, reach
from kdkit.model.resolved import HandBoreSpec, Part, RoundCutOut
from kdkit.units import TOLERANCE

__all__ = ["lay_part", "stretch_part"]

_BACK_MARGIN = 2.0  # mm a side of a laid-on back; common practice, no source


def stretch_part(part: Part, way: Vec3, by: float) -> Part | None:
    """Return a part whose straight end towards ``way`` is moved out by some mm.

    Returns:
        None when it has no straight end there, or would come to nothing.
    """
    x, y, z = part.frame.vector_to_inner(way)
    if abs(z) > 1e-6:
        return None
    heights = [p[0] * x + p[1] * y for p in part.outline]
    far = max(heights)
    at_end = [abs(h - far) <= TOLERANCE for h in heights]
    if sum(at_end) < 2 or far + by <= min(heights) + TOLERANCE:
        return None
    if any(h > far + by - TOLERANCE for h, there in zip(heights, at_end, strict=True) if not there):
        return None
    moved = [
        (p[0] + by * x, p[1] + by * y) if there else p
        for p, there in zip(part.outline, at_end, strict=True)
    ]
    return _set_outline(part, moved)


def lay_part(back: Part, behind: Sequence[Part], way: Vec3, plane: float) -> Part:
    """Return a back as a rectangle on the rear edges of some parts, a margin inside.

    Args:
        way: out of these edges, which end in one plane at that height.
    """
    shift = plane - reach([back], way)[0]
    frame = replace(back.frame, origin=add(back.frame.origin, scaled(way, shift)))
    flat = [
        frame.point_to_inner((x, y, z)) for part in behind for x, y, z in corners_of(part).tolist()
    ]
    x0, x1 = min(p[0] for p in flat) + _BACK_MARGIN, max(p[0] for p in flat) - _BACK_MARGIN
    y0, y1 = min(p[1] for p in flat) + _BACK_MARGIN, max(p[1] for p in flat) - _BACK_MARGIN
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    sides = {"edge_sides": ("",) * 4, "bands": (0.0,) * 4} if len(back.outline) != 4 else {}
    return _set_outline(replace(back, frame=frame, bevels=(), **sides), corners)  # type: ignore[arg-type]


def _set_outline(part: Part, corners: Sequence[Vec2]) -> Part:
    """Give a part other corners; its frame goes to their least x and y again."""
    low = (min(p[0] for p in corners), min(p[1] for p in corners))

    def flat(p: Vec2) -> Vec2:
        return (p[0] - low[0], p[1] - low[1])

    def deep(p: Vec3) -> Vec3:
        return (p[0] - low[0], p[1] - low[1], p[2])

    origin = part.frame.point_to_outer((low[0], low[1], 0.0))
    rounds: tuple[RoundCutOut, ...] = tuple(
        replace(cut, centre=flat(cut.centre)) for cut in part.round_cutouts
    )
    bores: tuple[HandBoreSpec, ...] = tuple(
        replace(bore, mouth=deep(bore.mouth)) for bore in part.bores
    )
    return replace(
        part,
        frame=replace(part.frame, origin=origin),
        outline=tuple(flat(p) for p in corners),
        cutouts=tuple(tuple(flat(p) for p in ring) for ring in part.cutouts),
        round_cutouts=rounds,
        bores=bores,
    )
