"""Doors on hinges: enough hinges, even gaps, and room to swing.

A cup hinge turns on several pins. Here its axis is taken to lie in the middle of the cup,
at the depth of the cup: a simplification, computed; for a door of 18 to 19 mm it gives the
0.7 to 1 mm of room beside the hinge edge that is common practice (no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import shared
from kdkit.diagnostics import Problem, advice, warning
from kdkit.frames import Vec2, Vec3, dot, sub
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.surfaces import corners_of
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.meeting_joints import count_for, length_along
from kdkit.joinery.placed import PlacedJoint
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_door_gaps", "check_door_swing", "check_hinge_counts"]

_TWO = 2  # hinges that keep a door on a line
_GAP = 3.0  # between fronts: common practice, no source; so are the two limits
_LEAST_GAP, _MOST_GAP = 2.0, 4.0
_NEXT_TO = 12.0  # mm; what is farther off is no neighbour
_SQUARE = 1e-5
_SWEEP = range(10, 91, 10)  # degrees of opening
_MEETS = 2.0  # mm²; less is rounding


@dataclass(frozen=True)
class _Door:
    """A door with its hinges, and the directions that its hinges give.

    Args:
        axes: along the hinges, out of the door, and from the hinge edge into the opening.
        origin: on the hinge line of the contact, in the product.
    """

    part: Part
    joint: PlacedJoint
    axes: tuple[Vec3, Vec3, Vec3]
    origin: Vec3

    def box(self, part: Part) -> NDArray[np.float64]:
        """Return a part's reach along the axes: shape (3, 2)."""
        points = corners_of(part) - np.array(self.origin)
        reach = points @ np.array(self.axes).T
        return np.stack([reach.min(axis=0), reach.max(axis=0)], axis=1)

    def is_square(self, part: Part) -> bool:
        """Tell whether a part lies along the door's axes, so that its box is the part."""
        return any(abs(dot(part.frame.k, axis)) > 1 - _SQUARE for axis in self.axes)


@dataclass(frozen=True)
class _Neighbour:
    """A part beside a door. ``axis``: 0 along the hinges, 2 across; ``sign``: on which side."""

    part: Part
    gap: float
    axis: int
    sign: int


def _doors(inspection: Inspection) -> Iterator[_Door]:
    seen: set[str] = set()
    for joint in inspection.joinery.joints:
        contact = joint.contact
        if contact.kind is ContactKind.HUNG and contact.worked and joint.butting not in seen:
            seen.add(joint.butting)
            yield _Door(
                part=inspection.part(joint.butting),
                joint=joint,
                axes=(contact.frame.i, contact.worked, contact.frame.k),
                origin=contact.frame.origin,
            )


def check_hinge_counts(inspection: Inspection) -> Iterable[Problem]:
    """A door has as many hinges as its length and its mass ask for, and is in the table."""
    for joint in inspection.joinery.joints:
        part = inspection.part(joint.butting)
        for name in joint.fittings:
            fitting = inspection.fitting(name)
            if fitting is None or fitting.counts is None:
                continue
            there = [inspection.fasteners[f] for f in joint.fasteners]
            here = [f for f in there if f.fitting == name]
            path = here[0].path if here else joint.path
            where = f"{joint.butting} to {joint.receiving}"
            length, mass = length_along(part, joint.contact), inspection.masses.parts[part.name]
            size = (
                f"{part.name} is {mm_text(length, 0)} mm long there and weighs {mm_text(mass)} kg"
            )
            wanted = count_for(fitting.counts, length, mass)
            rows = (fitting.counts.run, length, "mm"), (fitting.counts.mass, mass, "kg")
            for table, measure, unit in rows:
                if table and measure > table[-1][0] + TOLERANCE:
                    yield warning(
                        "door-beyond-table",
                        f"{size}; {name} is known up to {mm_text(table[-1][0])} {unit}",
                        path,
                        where=where,
                        help="make two doors of it, or ask who makes the hinges",
                    )
            if len(here) < wanted:
                tell = warning if len(here) < _TWO else advice  # on one it hangs askew
                yield tell(
                    "hinges-too-few",
                    f"{size}: {wanted} of {name} are usual, it has {len(here)}",
                    path,
                    where=where,
                    help=f"say `count: {wanted}`, or leave `count` and `at` out",
                )


def check_door_gaps(inspection: Inspection) -> Iterable[Problem]:
    """A door leaves an even gap to what stands beside it in its plane."""
    told: set[frozenset[str]] = set()
    for door in _doors(inspection):
        for near in _neighbours(inspection, door):
            pair = frozenset((door.part.name, near.part.name))
            if _LEAST_GAP - TOLERANCE <= near.gap <= _MOST_GAP + TOLERANCE or pair in told:
                continue
            told.add(pair)
            say = warning if near.gap < _LEAST_GAP else advice
            wide = "binds easily" if near.gap < _LEAST_GAP else "shows"
            yield say(
                "door-gap",
                f"the gap between {door.part.name} and {near.part.name} is"
                f" {mm_text(near.gap)} mm, which {wide}; {mm_text(_GAP)} mm are usual",
                door.part.path,
                where=f"{door.part.name}, {near.part.name}",
                help=f"shorten or move one of them by {mm_text(abs(_GAP - near.gap))} mm",
            )


def check_door_swing(inspection: Inspection) -> Iterable[Problem]:
    """A door swings open past what stands beside and before it."""
    for door in _doors(inspection):
        pivot = _pivot(inspection, door)
        if pivot is None:
            continue
        box = door.box(door.part)
        beside = pivot[1] - box[2, 0]
        corner = math.hypot(beside, box[1, 1] - pivot[0])
        needed = corner - beside
        met: set[str] = set()
        for near in _neighbours(inspection, door):
            if (near.axis, near.sign) == (2, -1) and near.gap < needed - TOLERANCE:
                met.add(near.part.name)
                yield advice(
                    "door-swing",
                    f"{door.part.name} needs about {mm_text(needed)} mm beside its hinge edge to"
                    f" swing; to {near.part.name} it has {mm_text(near.gap)} mm",
                    door.part.path,
                    where=f"{door.part.name}, {near.part.name}",
                    help="leave a wider gap, round the front corner, or take a thinner door",
                )
        for other in inspection.assembly.parts:
            if other.name in (door.part.name, door.joint.receiving) or other.name in met:
                continue
            angle = _met_at(door, box, pivot, other)
            if angle is not None:
                yield warning(
                    "door-swing",
                    f"{door.part.name}, opened by {angle} degrees, meets {other.name}",
                    door.part.path,
                    where=f"{door.part.name}, {other.name}",
                    help="hang it on the other side, or move what is in its way",
                )


def _neighbours(inspection: Inspection, door: _Door) -> Iterator[_Neighbour]:
    """Give the parts beside a door in its own plane, and how far off they are."""
    own = door.box(door.part)
    for part in inspection.assembly.parts:
        if part.name == door.part.name or not door.is_square(part):
            continue
        box = door.box(part)
        common = np.minimum(own[:, 1], box[:, 1]) - np.maximum(own[:, 0], box[:, 0])
        if common[1] <= 1.0:
            continue
        for axis, other in ((0, 2), (2, 0)):
            gap = -float(common[axis])
            if common[other] > 1.0 and -TOLERANCE <= gap <= _NEXT_TO:
                sign = 1 if box[axis, 0] >= own[axis, 1] - TOLERANCE else -1
                yield _Neighbour(part, max(0.0, gap), axis, sign)


def _pivot(inspection: Inspection, door: _Door) -> Vec2 | None:
    """Return where a door turns, along its second and third axis, from its widest bores."""
    ids = set(door.joint.fasteners)
    bores = [b for b in inspection.bores.get(door.part.name, ()) if b.fastener in ids]
    if not bores:
        return None
    cup = max(bores, key=lambda b: b.diameter)
    frame = door.part.frame
    at = sub(frame.point_to_outer(cup.mouth), door.origin)
    into = dot(frame.vector_to_outer(cup.into), door.axes[1])
    return dot(at, door.axes[1]) + cup.depth * into, dot(at, door.axes[2])


def _met_at(door: _Door, box: NDArray[np.float64], pivot: Vec2, other: Part) -> int | None:
    """Return the first angle at which an opening door meets a part in front of its inner side."""
    reach = door.box(other)
    if reach[1, 1] <= 1.0 or min(reach[0, 1], box[0, 1]) - max(reach[0, 0], box[0, 0]) <= 1.0:
        return None
    out, across = pivot
    far = math.hypot(box[2, 1] - across, box[1, 1] - box[1, 0])
    if reach[2, 0] > across + far or reach[2, 1] < across - far or reach[1, 0] > out + far:
        return None
    shape = _section(door, other)
    for angle in _SWEEP:
        turned = _turned(box, pivot, math.radians(angle))
        if shared(Polygon(turned), shape).area > _MEETS:
            return angle
    return None


def _section(door: _Door, other: Part) -> BaseGeometry:
    """Return a part seen along the hinges, as far as it lies in front of the door's inner side."""
    points = (corners_of(other) - np.array(door.origin)) @ np.array(door.axes[1:]).T
    low, high = points.min(axis=0), points.max(axis=0)
    front = shapely.box(0.5, low[1] - 1.0, max(1.0, high[0] + 1.0), high[1] + 1.0)
    return shared(shapely.MultiPoint(points).convex_hull, front)


def _turned(box: NDArray[np.float64], pivot: Vec2, angle: float) -> list[Vec2]:
    """Return the corners of a door seen along its hinges, opened by an angle in radians."""
    corners = [(box[1, n], box[2, m]) for n, m in ((0, 0), (1, 0), (1, 1), (0, 1))]
    c, s = math.cos(angle), math.sin(angle)
    turned = []
    for y, z in corners:
        dy, dz = float(y) - pivot[0], float(z) - pivot[1]
        turned.append((pivot[0] + dy * c + dz * s, pivot[1] + dz * c - dy * s))
    return turned
