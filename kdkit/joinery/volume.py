"""The volume of a drilled and grooved panel, to better than one part in 10⁹. Lengths in mm.

What is taken out is the union of flat-bottomed cylinders and groove prisms inside the
panel; a slot is a disc that reaches in from outside, or a prism with a cylinder at either
end. A bore that meets nothing has its closed formula; bores and grooves that meet
each other or a surface (a cam's housing and its edge bore, a bore through a groove, a
slanted bore) are integrated slice by slice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.geometry.boxes import Boxes, near_pairs
from kdkit.geometry.convex import part_pieces
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.joinery.taken_out import (
    SQUARE,
    Body,
    Cylinder,
    bore_cylinder,
    groove_prisms,
    panel_prism,
    slot_bodies,
)
from kdkit.joinery.union_volume import union_volume
from kdkit.model.bevels import bevel_planes, section_ring
from kdkit.model.resolved import Part

__all__ = ["drilled_volume", "prism_volume"]

_INSIDE = 1e-7
_SHARE = 1e-11  # absolute error of one integral, in volumes of the panel


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

    Args:
        part: the panel.
        bores: of this part; those of other parts are an error in the caller.
        grooves, slots: of this part.

    Source:
        Volume by slices (Cavalieri); the overlap of a housing and its edge bore has no
        elementary formula.
    """
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
    panel = [panel_prism(piece) for piece in part_pieces(part)]
    taken = 0.0
    for cluster in _clusters(bodies):
        alone = cluster[0]
        if len(cluster) == 1 and isinstance(alone, Cylinder) and _inside(alone, part, region):
            taken += math.pi * alone.radius**2 * alone.length
        else:
            taken += union_volume(cluster, panel, whole * _SHARE)
    return whole - taken


def _region(part: Part) -> BaseGeometry:
    region: BaseGeometry = Polygon(part.outline)
    if part.cutouts:
        region = rest_of(region, together([Polygon(c) for c in part.cutouts]))
    return region


def _inside(body: Cylinder, part: Part, region: BaseGeometry) -> bool:
    """Tell whether a bore square or parallel to the face or to a bevel lies wholly in the panel.

    Of slanted bores only those are known to that are square to their bevel.
    """
    start = np.array(body.start)
    end = start + np.array(body.axis) * body.length
    square_to_bevel = False
    for _, normal, offset in bevel_planes(part):
        steep = float(np.array(body.axis) @ np.array(normal))
        rim = body.radius * math.sqrt(max(0.0, 1.0 - steep * steep))
        highest = max(float(start @ np.array(normal)), float(end @ np.array(normal)))
        if highest + rim > offset + _INSIDE:
            return False
        square_to_bevel = square_to_bevel or 1.0 - abs(steep) <= SQUARE
    if square_to_bevel:
        reach = body.radius * math.sqrt(max(0.0, 1.0 - body.axis[2] ** 2))
        if min(start[2], end[2]) - reach < -part.thickness - _INSIDE:
            return False
        if max(start[2], end[2]) + reach > _INSIDE:
            return False
        shadow = LineString([start[:2], end[:2]]).buffer(body.radius * 1.01)
        return bool(region.covers(shadow))
    low, high = min(start[2], end[2]), max(start[2], end[2])
    if 1.0 - abs(body.axis[2]) <= SQUARE:
        clear = region.boundary.distance(shapely.Point(start[:2])) >= body.radius - _INSIDE
        within = bool(region.covers(shapely.Point(start[:2])))
        return clear and within and low >= -part.thickness - _INSIDE and high <= _INSIDE
    if abs(body.axis[2]) > _INSIDE:
        return False
    if low - body.radius < -part.thickness - _INSIDE or high + body.radius > _INSIDE:
        return False
    side = np.array([-body.axis[1], body.axis[0]]) * body.radius
    corners = [start[:2] - side, end[:2] - side, end[:2] + side, start[:2] + side]
    return bool(region.buffer(_INSIDE).covers(Polygon(corners)))


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
