"""What is packed as one: parts that joints made in the workshop hold together.

What is packed as one is one body at home. Its own plan is made the same way, and no operation
of it can stray into the buyer's manual.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from kdkit.joinery.placed import Joinery, PlacedJoint

__all__ = ["made_in_workshop", "packed_groups"]


def packed_groups(joints: Iterable[PlacedJoint]) -> tuple[tuple[str, ...], ...]:
    """Return the groups of parts that arrive as one, each in the order of its names."""
    group: dict[str, set[str]] = {}
    for joint in joints:
        if joint.workshop:
            merged = group.get(joint.butting, {joint.butting}) | group.get(
                joint.receiving, {joint.receiving}
            )
            for name in merged:
                group[name] = merged
    return tuple(sorted({tuple(sorted(names)) for names in group.values()}))


def made_in_workshop(joinery: Joinery) -> Joinery:
    """Return the joinery with all that lies between parts packed as one done before packing.

    A joint inside such a group is made in the workshop even if another joint is what
    holds the group together, and its bores are drilled there.
    """
    groups = packed_groups(joinery.joints)
    if not groups:
        return joinery
    inside = {name: n for n, names in enumerate(groups) for name in names}

    def is_inside(joint: PlacedJoint) -> bool:
        return joint.butting in inside and inside[joint.butting] == inside.get(joint.receiving)

    joints = tuple(replace(j, workshop=True) if is_inside(j) else j for j in joinery.joints)
    done = {fastener for j in joints if j.workshop for fastener in j.fasteners}
    return replace(
        joinery,
        joints=joints,
        bores=tuple(
            replace(b, stage="workshop") if b.fastener in done else b for b in joinery.bores
        ),
        slots=tuple(
            replace(c, stage="workshop") if c.fastener in done else c for c in joinery.slots
        ),
    )
