"""What is glued up flat: boards to a panel, members to a frame, layers on each other.

Such work lies on bearers with its thinnest way up, and the clamps go over it level.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.frames import Vec3, dot
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.surfaces import reach
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.model.resolved import Part
from kdkit.parts.sameness import of_one_size

__all__ = ["PARALLEL", "flat_groups", "flat_joints", "thinnest_way"]

PARALLEL = 0.999
"""Cosine from which two directions are one: common practice, no source."""


def flat_joints(parts: Mapping[str, Part], joinery: Joinery) -> list[PlacedJoint]:
    """Return the joints at home that glue parts edge to edge, or like parts face to face."""
    return [j for j in joinery.joints if not j.workshop and _is_flat(j, parts, joinery)]


def flat_groups(joints: Sequence[PlacedJoint]) -> list[tuple[str, ...]]:
    """Return the names of the parts that such joints hold together, each group sorted."""
    group: dict[str, set[str]] = {}
    for joint in joints:
        merged = group.get(joint.butting, {joint.butting}) | group.get(
            joint.receiving, {joint.receiving}
        )
        group.update(dict.fromkeys(merged, merged))
    return sorted({tuple(sorted(names)) for names in group.values()})


def thinnest_way(parts: Sequence[Part]) -> Vec3:
    """Return the direction of the first part's frame in which parts together are thinnest."""
    frame = parts[0].frame

    def thickness(way: Vec3) -> float:
        low, high = reach(parts, way)
        return round(high - low, 3)

    return min((frame.k, frame.i, frame.j), key=thickness)


def _is_flat(joint: PlacedJoint, parts: Mapping[str, Part], joinery: Joinery) -> bool:
    if joint.butting not in parts or joint.receiving not in parts:
        return False
    if not any(
        action.do == "glue"
        for key in joint.fittings
        if key in joinery.fittings
        for action in joinery.fittings[key].actions
    ):
        return False
    one, other = parts[joint.butting], parts[joint.receiving]
    if abs(dot(one.frame.k, other.frame.k)) < PARALLEL:
        return False
    kind = joint.contact.kind
    if kind is ContactKind.FACE_FACE:
        return of_one_size(one) == of_one_size(other)
    return kind in (ContactKind.EDGE_EDGE, ContactKind.MITRE)
