"""The volume of a drilled and grooved panel. Lengths in mm.

To better than one part in 10⁹, and one in 10⁵ where slanted bores run into something; what
takes too much work is as good as bounded work makes it.

What is taken out is the union of flat-bottomed cylinders and groove prisms inside the
panel; a slot is a disc that reaches in from outside, or a prism with a cylinder at either
end. A bore that meets nothing has its closed formula; bores and grooves that meet
each other or a surface (a cam's housing and its edge bore, a bore through a groove, a
slanted bore) are integrated slice by slice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.frames import Vec3, sub
from kdkit.geometry.boxes import Boxes, near_pairs
from kdkit.geometry.convex import ConvexPiece, part_pieces
from kdkit.model.panels.bevels import bevel_planes, section_ring
from kdkit.model.resolved import Part
from kdkit.parts.cuts import Bore, Groove, Slot
from kdkit.parts.taken_out import (
    SQUARE,
    Body,
    Cylinder,
    Prism,
    bore_cylinder,
    groove_prisms,
    panel_prism,
    slot_bodies,
)
from kdkit.parts.union_volume import union_volume

__all__ = ["drilled_volume", "prism_volume"]

_INSIDE = 1e-7
_SHARE = 1e-11  # absolute error of one integral, in volumes of the panel
_ERROR = 1e-6  # mm³, of an integral that is kept
_MOST_TOGETHER, _MOST_LEANING = 24, 6
_DIGITS = 9  # decimals of a mm by which kept integrals are known


def prism_volume(part: Part) -> float:
    """Return the volume of a part before drilling, in mm³: mean section × thickness.

    Round openings count with their exact area where they stand clear of the outline
    and of other openings.

    Source:
        Simpson's rule, which is exact here: between two bevels the area of a section is
        a quadratic function of its depth.
    """
    region = _region(part)
    area = float(region.area)
    if part.bevels:
        t = part.thickness
        levels = (section_ring(part.outline, part.bevels, t, d) for d in (0.0, t / 2, t))
        face, middle, back = (Polygon(ring).area for ring in levels)
        area += (face + 4 * middle + back) / 6 - Polygon(part.outline).area
    for opening in part.round_cutouts:
        disc = shapely.Point(opening.centre).buffer(opening.diameter / 2, quad_segs=256)
        clear = region.buffer(_INSIDE).covers(disc)
        area -= math.pi * opening.diameter**2 / 4 if clear else shared(region, disc).area
    return area * part.thickness


def drilled_volume(
    part: Part,
    bores: Sequence[Bore],
    grooves: Sequence[Groove] = (),
    slots: Sequence[Slot] = (),
) -> float:
    """Return what is left of a part after drilling, grooving and slotting, in mm³.

    Remembers what it was asked: checks, planner and schedules ask for the same parts.

    Args:
        part: the panel.
        bores: of this part; those of other parts are an error in the caller.
        grooves, slots: of this part.

    Source:
        Volume by slices (Cavalieri); the overlap of a housing and its edge bore has no
        elementary formula.
    """
    return _left(part, tuple(bores), tuple(grooves), tuple(slots))


@lru_cache(maxsize=4096)
def _left(
    part: Part, bores: tuple[Bore, ...], grooves: tuple[Groove, ...], slots: tuple[Slot, ...]
) -> float:
    whole = prism_volume(part)
    bodies: list[Body] = [bore_cylinder(part, bore) for bore in bores]
    bodies += [prism for groove in grooves for prism in groove_prisms(part, groove)]
    bodies += [body for slot in slots for body in slot_bodies(slot)]
    if not bodies:
        return whole
    region = _region(part)
    for opening in part.round_cutouts:
        disc = shapely.Point(opening.centre).buffer(opening.diameter / 2, quad_segs=64)
        region = rest_of(region, disc)
    inside = _find_inside([b for b in bodies if isinstance(b, Cylinder)], part, region)
    square = not part.bevels
    panel: list[Prism] = []
    taken = 0.0
    for cluster in _clusters(bodies):
        inner = tuple(b for b in cluster if isinstance(b, Cylinder) and b in inside)
        alone = cluster[0]
        if len(inner) == len(cluster):
            taken += _volume_together(_moved_to_first(inner))
        elif len(cluster) == 1 and isinstance(alone, Prism) and alone.plan is not None and square:
            low, high = np.clip(alone.box()[[2, 5]], -part.thickness, 0.0)
            taken += float(shared(region, Polygon(alone.plan)).area * (high - low))
        else:
            panel = panel or [panel_prism(piece) for piece in part_pieces(part)]
            taken += _volume_in(cluster, _near(panel, cluster), whole * _SHARE)
    return max(whole - taken, 0.0)


def _volume_in(cluster: Sequence[Body], panel: Sequence[Prism], error: float) -> float:
    """Return what bodies that run into each other take out of a panel.

    The work grows with more than the square of their number. So many in one place are a
    mistake that `check` tells; each is then counted for itself, wherever the panel ends, and
    all of them together as no more than the box round them.
    """
    leans = any(isinstance(b, Cylinder) and max(map(abs, b.axis)) < 1 - SQUARE for b in cluster)
    if len(cluster) <= (_MOST_LEANING if leans else _MOST_TOGETHER):
        return union_volume(cluster, panel, error)
    boxes = np.array([body.box() for body in cluster])
    around = boxes[:, 3:].max(axis=0) - boxes[:, :3].min(axis=0)
    each = sum(
        math.pi * body.radius**2 * body.length
        if isinstance(body, Cylinder)
        else float(np.prod(box[3:] - box[:3]))
        for body, box in zip(cluster, boxes, strict=True)
    )
    return min(each, float(np.prod(around)))


def _near(panel: Sequence[Prism], cluster: Sequence[Body]) -> list[Prism]:
    """Return the pieces of a panel that the bodies may reach into; one at least."""
    boxes = np.array([body.box() for body in cluster])
    low, high = boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)
    near = [p for p in panel if (p.box()[:3] <= high).all() and (p.box()[3:] >= low).all()]
    return near or list(panel[:1])


def _moved_to_first(cylinders: tuple[Cylinder, ...]) -> tuple[Cylinder, ...]:
    """Return cylinders with the start of the first in the origin, as a key to keep them by."""
    origin = cylinders[0].start

    def moved(p: Vec3) -> Vec3:
        x, y, z = (round(c, _DIGITS) for c in sub(p, origin))
        return (x, y, z)

    return tuple(replace(c, start=moved(c.start)) for c in cylinders)


@lru_cache(maxsize=1024)
def _volume_together(cylinders: tuple[Cylinder, ...]) -> float:
    """Return the volume of the union of cylinders that lie wholly in a panel, whichever it is.

    A cam's housing and its bolt's bore are the same in every panel, and are worked out once.
    """
    if len(cylinders) == 1:
        return math.pi * cylinders[0].radius ** 2 * cylinders[0].length
    boxes = np.array([c.box() for c in cylinders])
    (x0, y0, z0), (x1, y1, z1) = boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return _volume_in(cylinders, [panel_prism(ConvexPiece(polygon=corners, z0=z0, z1=z1))], _ERROR)


def _region(part: Part) -> BaseGeometry:
    region: BaseGeometry = Polygon(part.outline)
    if part.cutouts:
        region = rest_of(region, together([Polygon(c) for c in part.cutouts]))
    return region


def _find_inside(
    cylinders: Sequence[Cylinder], part: Part, region: BaseGeometry
) -> frozenset[Cylinder]:
    """Return the bores square or parallel to the face or to a bevel that lie wholly in the panel.

    Of slanted bores only those are known to that are square to their bevel.
    """
    if not cylinders:
        return frozenset()
    starts, axes = np.array([c.start for c in cylinders]), np.array([c.axis for c in cylinders])
    radii = np.array([c.radius for c in cylinders])
    ends = starts + axes * np.array([c.length for c in cylinders])[:, None]
    lean = np.abs(axes[:, 2])
    rims = radii * np.sqrt(np.clip(1.0 - lean**2, 0.0, 1.0))
    within = np.minimum(starts[:, 2], ends[:, 2]) - rims >= -part.thickness - _INSIDE
    within &= np.maximum(starts[:, 2], ends[:, 2]) + rims <= _INSIDE
    square_to_bevel = np.zeros(len(cylinders), dtype=bool)
    for _, normal, offset in bevel_planes(part):
        out = np.array(normal)
        steep = np.abs(axes @ out)
        rim = radii * np.sqrt(np.clip(1.0 - steep**2, 0.0, 1.0))
        within &= np.maximum(starts @ out, ends @ out) + rim <= offset + _INSIDE
        square_to_bevel |= 1.0 - steep <= SQUARE
    upright = 1.0 - lean <= SQUARE
    points = shapely.points(starts[upright, :2])
    clear = shapely.distance(region.boundary, points) >= radii[upright] - _INSIDE
    within[upright] &= clear & shapely.covers(region, points)
    level = ~upright & (lean <= _INSIDE)
    side = np.column_stack([-axes[level, 1], axes[level, 0]]) * radii[level, None]
    start, end = starts[level, :2], ends[level, :2]
    plans = shapely.polygons(np.stack([start - side, end - side, end + side, start + side], 1))
    within[level] &= shapely.covers(region.buffer(_INSIDE), plans)
    for n in np.nonzero(~upright & ~level)[0]:
        shadow = LineString([starts[n, :2], ends[n, :2]]).buffer(radii[n] * 1.01)
        within[n] &= square_to_bevel[n] and region.covers(shadow)
    return frozenset(c for c, there in zip(cylinders, within.tolist(), strict=True) if there)


def _clusters(bodies: Sequence[Body]) -> list[list[Body]]:
    """Return the bodies in groups whose boxes meet, each group in the order given."""
    leader = list(range(len(bodies)))

    def find(n: int) -> int:
        while leader[n] != n:
            leader[n] = leader[leader[n]]
            n = leader[n]
        return n

    boxes: Boxes = np.array([body.box() for body in bodies])
    for n, m in near_pairs(boxes):
        leader[max(find(n), find(m))] = min(find(n), find(m))
    groups: dict[int, list[Body]] = {}
    for n, body in enumerate(bodies):
        groups.setdefault(find(n), []).append(body)
    return list(groups.values())
