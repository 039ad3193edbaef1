"""What a joiner glues up before anything else: boards to a panel, members to a frame, layers.

Parts of one thickness direction that are glued edge to edge, or alike and glued face to face,
are a subassembly though nobody says so: flat work is clamped and squared on the bench. Where
that cannot be built first, they are put on one by one (``units``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.frames import dot
from kdkit.geometry.assembly import ContactKind
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.model.resolved import Part, UnitUse
from kdkit.parts.sameness import of_one_size

__all__ = ["find_glued_flats"]

_PARALLEL = 0.999


def find_glued_flats(
    parts: Sequence[Part], joinery: Joinery, titles: Mapping[str, str]
) -> tuple[UnitUse, ...]:
    """Return the panels, frames and laminations among the parts, as units."""
    by_name = {part.name: part for part in parts}
    joints = [j for j in joinery.joints if not j.workshop and _is_flat(j, by_name, joinery)]
    group: dict[str, set[str]] = {}
    for joint in joints:
        merged = group.get(joint.butting, {joint.butting}) | group.get(
            joint.receiving, {joint.receiving}
        )
        group.update(dict.fromkeys(merged, merged))
    made = []
    for names in sorted({tuple(sorted(names)) for names in group.values()}):
        inside = [j for j in joints if j.butting in names]
        title = f"{_kind(inside, by_name)} with {titles[names[0]]}"
        made.append(UnitUse(name=f"glued {names[0]}", title=title, parts=names))
    return tuple(made)


def _is_flat(joint: PlacedJoint, parts: Mapping[str, Part], joinery: Joinery) -> bool:
    if not any(
        action.do == "glue"
        for key in joint.fittings
        if key in joinery.fittings
        for action in joinery.fittings[key].actions
    ):
        return False
    one, other = parts[joint.butting], parts[joint.receiving]
    if abs(dot(one.frame.k, other.frame.k)) < _PARALLEL:
        return False
    kind = joint.contact.kind
    if kind is ContactKind.FACE_FACE:
        return of_one_size(one) == of_one_size(other)
    return kind in (ContactKind.EDGE_EDGE, ContactKind.MITRE)


def _kind(joints: Sequence[PlacedJoint], parts: Mapping[str, Part]) -> str:
    """What the parts become: boards along each other are a panel, others a frame."""
    if joints[0].contact.kind is ContactKind.FACE_FACE:
        return "lamination"
    along = all(
        abs(dot(parts[j.butting].frame.i, parts[j.receiving].frame.i)) >= _PARALLEL for j in joints
    )
    return "panel" if along else "frame"
