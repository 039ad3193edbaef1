"""Whether the finished product stands on what it stands on: its feet, or its lowest parts."""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely

from kdkit.diagnostics import Problem, warning
from kdkit.frames import Vec3
from kdkit.geometry.surfaces import corners_of, part_middle
from kdkit.inspect.furniture import kind_names
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.feet import feet_under, foot_end, foot_points
from kdkit.units import mm_text

__all__ = ["check_feet_reach", "check_stands", "floor_points"]

_STEADY_FEET = 3
_BESIDE = 30.0  # mm over the floor: what ends no higher is meant to stand on it
_FLOOR = 1.0  # mm over the lowest point within which something stands on the floor
LEAN = 10.0
"""Degrees by which a product on feet may lean before it tips.

Source:
    Common practice; by analogy with clause 20.1 of IEC 60335-1, stability of appliances, as
    quoted in a secondary text.
"""


def floor_points(inspection: Inspection) -> tuple[list[Vec3], bool]:
    """Return the points on which the product stands, and whether feet are among them, mm.

    Points are corners of the lowest parts, and the middles of feet, each at its lower end.
    """
    corners = [
        (float(x), float(y), float(z))
        for part in inspection.assembly.parts
        for x, y, z in corners_of(part)
    ]
    feet = foot_points(inspection.joinery, inspection.catalogue)
    floor = min(z for _, _, z in (*corners, *feet))
    low = [point for point in (*corners, *feet) if point[2] <= floor + _FLOOR]
    return low, any(point in low for point in feet)


def check_feet_reach(inspection: Inspection) -> Iterable[Problem]:
    """A foot reaches the floor that the product stands on, and no foot but some does.

    Shorter than the gap under its part it hangs in the air; longer, it carries all and what
    should stand beside it does not.
    """
    parts = inspection.assembly.parts
    if not parts:
        return
    wood = min(float(z) for part in parts for _, _, z in corners_of(part))
    ends = [
        (foot, min(z for _, _, z in foot_end(foot, inspection.catalogue)))
        for foot in feet_under(inspection.joinery)
    ]
    if not ends:
        return
    floor = min(wood, *(z for _, z in ends))
    standing = [foot for foot, z in ends if z <= floor + _FLOOR]
    for foot, z in ends:
        x, y, _ = (mm_text(c) for c in foot.frame.origin)
        where = f"{foot.receiving}, {foot.fitting} at ({x}, {y})"
        if z > floor + _FLOOR:
            on = "the parts" if wood <= floor + _FLOOR else "the longer feet"
            yield warning(
                "foot-off-floor",
                f"a foot ends {mm_text(z - floor)} mm above the floor on which {on} stand: it"
                " carries nothing",
                foot.path,
                where=where,
                help=f"take a foot {mm_text(z - floor)} mm longer, or none there; one that is"
                " screwed out to the floor helps by as much as its thread allows",
            )
    beside = floor + _FLOOR < wood <= floor + _BESIDE
    if standing and beside and len(standing) < _STEADY_FEET:
        foot = standing[0]
        yield warning(
            "foot-too-long",
            f"a foot ends {mm_text(wood - floor)} mm below the lowest part: the product stands on"
            f" {len(standing)} and rocks",
            foot.path,
            where=foot.receiving,
            help=f"take one {mm_text(wood - floor)} mm shorter, or three and more",
        )


def check_stands(inspection: Inspection) -> Iterable[Problem]:
    """Tell of a product whose centre of mass is not well over what it stands on.

    Without feet only what falls over by itself is told, of what is said to be furniture that
    stands: a bracket may hang. How tall pieces tip is another check.
    """
    parts = inspection.assembly.parts
    kinds = kind_names(inspection.resolved.said)
    if not parts or "wall-hung" in kinds:
        return
    masses = [inspection.masses.parts[part.name] for part in parts]
    whole = sum(masses)
    if whole <= 0:
        return
    middles = [part_middle(part) for part in parts]
    x, y, z = (
        sum(m * at[n] for m, at in zip(masses, middles, strict=True)) / whole for n in range(3)
    )
    low, on_feet = floor_points(inspection)
    if not on_feet and not kinds:
        return
    ground = shapely.MultiPoint([(u, v) for u, v, _ in low]).convex_hull
    middle = shapely.Point(x, y)
    area = ground.geom_type == "Polygon"
    inside = area and ground.contains(middle)
    depth = middle.distance(ground.boundary if area else ground) * (1 if inside else -1)
    lean = math.degrees(math.atan2(depth, z - min(point[2] for point in low)))
    if inside and (lean >= LEAN or not on_feet):
        return
    what = "its feet" if on_feet else "what it stands on"
    where = (
        f"{mm_text(depth)} mm inside {what}: it leans by {mm_text(lean)}° and tips"
        if inside
        else f"{mm_text(-depth)} mm outside {what}: it falls over"
    )
    yield warning(
        "stands-badly",
        f"the middle of its mass lies {where}",
        where="the finished product",
        help="put feet further out, under the corners"
        if on_feet
        else "give it a wider stand, or say `kind: wall-hung` if it hangs on the wall",
    )
