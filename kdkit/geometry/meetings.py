"""How two parts meet that do not touch: a drawer's side facing a carcass, a door hung before it.

Contacts are found for all pairs of parts; meetings are looked for on demand, where a
joint's fitting bridges a gap: all pairs at some distance would be noise. Each gives a
``Contact`` of its own kind, or says in numbers why there is none. Nothing here knows left
from right, or up from down: flaps and turned units are the same case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import shared
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.geometry.contacts import opposed_surfaces, run_direction, shared_region
from kdkit.geometry.surfaces import Surface, corners_of, part_middle
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = ["MEETINGS", "NoMeeting", "facing_meeting", "hung_meeting"]

MEETINGS = (ContactKind.FACING, ContactKind.HUNG)
"""The kinds of contact that are made on demand."""

_SQUARE = 1e-5  # cosine between two panels that stand square
_PARALLEL_DEG = 0.01
_NEAR = 60.0  # mm; a door farther from a part than this does not hang on it
_STRIP = 50.0  # mm of a door's hinge edge, and of a side's front edge, that fittings need


@dataclass(frozen=True)
class NoMeeting:
    """Why two parts do not meet as a fitting wants it."""

    message: str
    help: str


def facing_meeting(butting: Part, receiving: Part, opens: Vec3) -> Contact | NoMeeting:
    """Return how two parts face each other over a gap, with their nearest surfaces.

    Args:
        opens: the way that the butting part (a drawer) comes out, in the product; what of
            it runs along the surfaces becomes ``Contact.worked``.

    Returns:
        A contact whose frame has its origin on the receiving surface, at that surface's
        end towards ``opens`` and at the lower end of the common height; k to the
        butting part, i along the height. ``behind`` is how far the butting surface's end
        lies back from the receiving one's.
    """
    a, b = butting.name, receiving.name
    pairs = opposed_surfaces(butting, receiving)
    if not pairs:
        degrees = _angle_deg(butting, receiving)
        if degrees < _PARALLEL_DEG:
            return _no_room(butting, receiving)
        return NoMeeting(
            f"no surfaces of {a} and {b} are parallel and look at each other: their faces stand"
            f" {degrees:.2f} degrees to each other",
            "place one of them parallel to the other",
        )
    seen = []
    for one, other, gap in pairs:
        region = shared_region(one, other)
        if region.area > TOLERANCE and gap > -TOLERANCE:
            seen.append((round(gap, 3), -region.area, one, other, gap, region))
    if not seen:
        return NoMeeting(
            f"{a} does not stand opposite {b}: seen square from one, the other is elsewhere",
            f"give {a} and {b} a height and a depth in common, with a gap between them",
        )
    _, _, one, other, gap, region = min(seen, key=lambda s: (s[0], s[1], s[2].name, s[3].name))
    if gap <= TOLERANCE:
        return NoMeeting(
            f"{a} touches {b}: there is no gap between them",
            "leave the clearance that the fitting takes",
        )
    k = other.frame.k
    flat = sub(opens, scaled(k, dot(opens, k)))
    if dot(flat, flat) < 0.01:
        return NoMeeting(
            f"{a} cannot come out towards {b}",
            "say the way in which it opens with `opens`, such as -x",
        )
    j = unit(flat)
    up = run_direction(cross(j, k))
    across = cross(k, up)
    corners = [other.frame.point_to_outer((x, y, 0.0)) for x, y in _corners(region)]
    heights = [dot(p, up) for p in corners]
    end = max(dot(p, j) for p in _ring(other))
    behind = end - max(dot(p, j) for p in _ring(one))
    low = min(heights)
    origin = add(
        add(scaled(up, low), scaled(j, end)),
        scaled(k, dot(other.frame.origin, k)),
    )
    depths = [dot(sub(p, origin), across) for p in corners]
    polygon = _box((0.0, max(heights) - low), (min(depths), max(depths)))
    return Contact(
        butting=a,
        receiving=b,
        kind=ContactKind.FACING,
        frame=Frame(origin, up, across, k),
        polygon=polygon,
        butting_surface=one.name,
        receiving_surface=other.name,
        area=float(region.area),
        gap=gap,
        behind=behind,
        worked=j,
    )


def _no_room(butting: Part, receiving: Part) -> NoMeeting:
    """Tell of parallel parts that lie in each other, or level: there is no gap to span."""
    a, b, k = butting.name, receiving.name, receiving.frame.k
    between = abs(dot(sub(part_middle(butting), part_middle(receiving)), k))
    deep = (butting.thickness + receiving.thickness) / 2 - between
    return NoMeeting(
        f"{a} reaches {mm_text(deep)} mm past the surface of {b}: the opening is smaller than what"
        f" {a} belongs to",
        f"make it narrower, or the opening wider, until {a} stands clear of {b} by the gap that"
        " the fitting takes",
    )


def hung_meeting(door: Part, side: Part) -> Contact | NoMeeting:
    """Return how a door hangs before a part's edge, or between two parts (inset).

    Returns:
        A contact whose frame has its origin where the plane of the door's inner surface
        meets the plane of the side's inner surface, at the lower end of the common run;
        k out of the side's inner surface, i along the hinges' axis. ``worked`` looks out
        of the door, the way it comes off; ``gap`` is the door's distance from the side's
        front edge (0 when inset), ``overlay`` how far its hinge edge lies beyond the
        side's inner surface (below 0 when inset).
    """
    a, b = door.name, side.name
    skew = dot(door.frame.k, side.frame.k)
    if abs(skew) > _SQUARE:
        degrees = _angle_deg(door, side)
        return NoMeeting(
            f"{a} stands at {degrees:.1f} degrees to {b}, a door hangs square to it",
            "hang it on a part whose face is square to the door",
        )
    between = sub(part_middle(door), part_middle(side))
    outwards, inwards = dot(between, door.frame.k), dot(between, side.frame.k)
    if abs(outwards) <= TOLERANCE or abs(inwards) <= TOLERANCE:
        return NoMeeting(
            f"{a} is centred on {b}: on which side of it the door hangs cannot be told",
            f"let {a} begin at {b} and reach over to one side of it",
        )
    j = scaled(door.frame.k, 1.0 if outwards > 0 else -1.0)
    k = scaled(side.frame.k, 1.0 if inwards > 0 else -1.0)
    axis = run_direction(cross(j, k))
    back = min(dot(p, j) for p in _points(door))
    inner = max(dot(p, k) for p in _points(side))
    door_plan = _plan(door, axis, k, inner)
    side_plan = _plan(side, axis, j, back)
    edge = float(door_plan.bounds[1])
    front = float(side_plan.bounds[3])
    fault = _not_before(a, b, edge, front)
    if fault is not None:
        return fault
    gap = max(0.0, -front)
    along_door = _reach(door_plan, edge, edge + _STRIP)
    along_side = _reach(side_plan, -gap - _STRIP, -gap)
    straight = _reach(door_plan, edge, edge + 0.5)
    if along_door is None or along_side is None or straight is None:
        return NoMeeting(
            f"{a} and {b} have no common length along the hinges",
            f"let {a} stand before {b}",
        )
    low, high = max(along_door[0], along_side[0]), min(along_door[1], along_side[1])
    if high - low < 1.0:
        return NoMeeting(
            f"{a} ends {mm_text(low - high)} mm beside {b} along the hinges",
            f"let {a} stand before {b}",
        )
    if straight[1] - straight[0] < 0.5 * (along_door[1] - along_door[0]):
        return NoMeeting(
            f"the edge of {a} beside {b} is not parallel to it",
            "hang a door on a straight edge",
        )
    origin = add(add(scaled(axis, low), scaled(j, back)), scaled(k, inner))
    across = cross(k, axis)
    depth = sorted((0.0, -dot(across, j) * (gap + _STRIP)))
    polygon = _box((0.0, high - low), (depth[0], depth[1]))
    return Contact(
        butting=a,
        receiving=b,
        kind=ContactKind.HUNG,
        frame=Frame(origin, axis, across, k),
        polygon=polygon,
        butting_surface="back" if outwards > 0 else "face",
        receiving_surface="face" if inwards > 0 else "back",
        area=(high - low) * (depth[1] - depth[0]),
        gap=gap,
        overlay=-edge,
        worked=j,
    )


def _not_before(a: str, b: str, edge: float, front: float) -> NoMeeting | None:
    """Tell why a door is not before a side; ``edge`` and ``front`` along k and j."""
    if edge < -TOLERANCE and front > TOLERANCE:
        return NoMeeting(
            f"{a} stands {mm_text(min(-edge, front))} mm in {b}:"
            " it is neither before it nor beside it",
            f"let {a} begin at the front edge of {b} to lie on it,"
            " or at its inner face to be inset",
        )
    if edge > _NEAR:
        return NoMeeting(
            f"the edge of {a} lies {mm_text(edge)} mm beside {b}",
            f"let {a} reach {b}, or hang it on a part that it reaches",
        )
    if -front > _NEAR:
        return NoMeeting(
            f"{a} stands {mm_text(-front)} mm off the front edge of {b}",
            "bring the door to the edge that it is hung on, or hang it on another part",
        )
    return None


def _points(part: Part) -> list[Vec3]:
    return [(float(x), float(y), float(z)) for x, y, z in corners_of(part)]


def _plan(part: Part, axis: Vec3, other: Vec3, zero: float) -> Polygon:
    """Return a part's outline seen square, over the axis and another direction from zero."""
    ring = [part.frame.point_to_outer((x, y, 0.0)) for x, y in part.outline]
    return Polygon([(dot(p, axis), dot(p, other) - zero) for p in ring])


def _reach(plan: Polygon, low: float, high: float) -> Vec2 | None:
    """Return from where to where a plan reaches along its first axis, within a strip."""
    x0, _, x1, _ = plan.bounds
    within = shared(plan, shapely.box(x0 - 1.0, low, x1 + 1.0, high))
    if within.is_empty:
        return None
    return float(within.bounds[0]), float(within.bounds[2])


def _corners(region: BaseGeometry) -> list[Vec2]:
    x0, y0, x1, y1 = region.bounds
    if isinstance(region, Polygon):
        return [(float(x), float(y)) for x, y in region.exterior.coords[:-1]]
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _ring(surface: Surface) -> list[Vec3]:
    x0, y0, x1, y1 = surface.polygon.bounds
    corners = _corners(surface.polygon) or [(x0, y0), (x1, y1)]
    return [surface.frame.point_to_outer((x, y, 0.0)) for x, y in corners]


def _box(x: Vec2, y: Vec2) -> tuple[Vec2, ...]:
    return ((x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1]))


def _angle_deg(a: Part, b: Part) -> float:
    """Return the angle between the faces of two parts."""
    return math.degrees(math.acos(min(1.0, abs(dot(a.frame.k, b.frame.k)))))
