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
from kdkit.plan.choice.flat import PARALLEL, flat_groups, flat_joints

__all__ = ["find_glued_flats"]


def find_glued_flats(
    parts: Sequence[Part], joinery: Joinery, titles: Mapping[str, str]
) -> tuple[UnitUse, ...]:
    """Return the panels, frames and laminations among the parts, as units."""
    by_name = {part.name: part for part in parts}
    joints = flat_joints(by_name, joinery)
    made = []
    for names in flat_groups(joints):
        inside = [j for j in joints if j.butting in names]
        title = f"{_kind(inside, by_name)} with {titles[names[0]]}"
        made.append(UnitUse(name=f"glued {names[0]}", title=title, parts=names))
    return tuple(made)


def _kind(joints: Sequence[PlacedJoint], parts: Mapping[str, Part]) -> str:
    """What the parts become: boards along each other are a panel, others a frame."""
    if joints[0].contact.kind is ContactKind.FACE_FACE:
        return "lamination"
    along = all(
        abs(dot(parts[j.butting].frame.i, parts[j.receiving].frame.i)) >= PARALLEL for j in joints
    )
    return "panel" if along else "frame"
