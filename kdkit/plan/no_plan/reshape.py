"""Parts with another outline: an end moved out or in, a notch, halves, a back laid on edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from kdkit.areas import rest_of, shared
from kdkit.frames import Vec2, Vec3, add, scaled
from kdkit.geometry.convex import signed_area
from kdkit.geometry.surfaces import corners_of, reach
from kdkit.model.resolved import HandBoreSpec, Part, RoundCutOut
from kdkit.units import TOLERANCE

__all__ = ["halve_part", "lay_part", "notch_part", "stretch_part"]

_MOST_CUT = 0.3  # share of a part's face that a notch takes at most; common practice, no source
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


def notch_part(part: Part, low: Vec2, high: Vec2) -> Part | None:
    """Return a part without a rectangle of its frame: with a notch, or an opening inside.

    Returns:
        None where it would fall apart, lose an end or too much, or has bevelled edges.
    """
    if part.bevels or part.smooth:
        return None
    whole = shapely.Polygon(part.outline)
    left = rest_of(whole, shapely.box(*low, *high))
    if not isinstance(left, shapely.Polygon) or left.is_empty:
        return None
    if whole.area - left.area > _MOST_CUT * whole.area or left.bounds != whole.bounds:
        return None
    if left.interiors:
        ring = tuple((float(x), float(y)) for x, y in left.interiors[0].coords[:-1])
        return replace(part, cutouts=(*part.cutouts, ring))
    return _with_ring(part, [(float(x), float(y)) for x, y in left.exterior.coords[:-1]])


def halve_part(part: Part, along: int) -> tuple[Part, Part] | None:
    """Return a part as two, cut at the middle of its length (0) or its width (1)."""
    if part.bevels or part.smooth or part.cutouts or part.round_cutouts or part.bores:
        return None
    whole = shapely.Polygon(part.outline)
    x0, y0, x1, y1 = whole.bounds
    middle = (x0 + x1) / 2 if along == 0 else (y0 + y1) / 2
    first = shapely.box(x0, y0, middle, y1) if along == 0 else shapely.box(x0, y0, x1, middle)
    halves = []
    for n, area in enumerate((shared(whole, first), rest_of(whole, first))):
        if not isinstance(area, shapely.Polygon) or area.is_empty:
            return None
        ring = [(float(x), float(y)) for x, y in area.exterior.coords[:-1]]
        title = f"{part.title or part.name}, {('first', 'second')[n]} half"
        halves.append(replace(_with_ring(part, ring), title=title))
    return halves[0], replace(halves[1], name=f"{part.name}_2")


def _with_ring(part: Part, ring: list[Vec2]) -> Part:
    """Give a part other corners; what is left of an edge keeps its side and its band."""
    if signed_area(ring) < 0:
        ring = ring[::-1]
    sides, bands = [], []
    for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
        n = next((n for n in range(len(part.outline)) if _is_on_edge(part, n, a, b)), None)
        sides.append(part.edge_sides[n] if n is not None and part.edge_sides else "")
        bands.append(part.bands[n] if n is not None and part.bands else 0.0)
    return _set_outline(replace(part, edge_sides=tuple(sides), bands=tuple(bands)), ring)


def _is_on_edge(part: Part, n: int, *points: Vec2) -> bool:
    (ax, ay), (bx, by) = part.outline[n], part.outline[(n + 1) % len(part.outline)]
    return all(
        abs((bx - ax) * (y - ay) - (by - ay) * (x - ax)) < TOLERANCE * (abs(bx - ax) + abs(by - ay))
        for x, y in points
    )


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
