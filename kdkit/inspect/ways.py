"""Do members that one entry joins leave the same way?"""

from __future__ import annotations

from collections.abc import Iterable

from kdkit.diagnostics import Path, Problem, warning
from kdkit.frames import dot
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import PlacedJoint
from kdkit.parts.words import side_towards

__all__ = ["check_ways_agree"]

_OPPOSITE = -0.9  # cosine of two ways out that are turned round


def check_ways_agree(inspection: Inspection) -> Iterable[Problem]:
    """A way out along i turns round where the side worked from does; that is told."""
    entries: dict[Path, list[PlacedJoint]] = {}
    for joint in inspection.joinery.joints:
        if any(inspection.joinery.fittings[name].way[1] == "i" for name in joint.fittings):
            entries.setdefault(joint.path, []).append(joint)
    for path, joints in entries.items():
        first = joints[0]
        other = next((j for j in joints[1:] if dot(j.way, first.way) < _OPPOSITE), None)
        if other is None:
            continue
        yield warning(
            "way-turns-round",
            f"{first.butting} leaves {first.receiving} towards the"
            f" {side_towards(first.way)}, {other.butting} leaves {other.receiving} towards the"
            f" {side_towards(other.way)}",
            path,
            where=f"{first.butting} to {first.receiving}, {other.butting} to {other.receiving}",
            help="leave `opens` out, and both leave the same way; or write the two joints apart,"
            " each with an `opens` of its own",
        )
