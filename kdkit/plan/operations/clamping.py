"""Clamps that find no room when their joints are glued: told, with what does instead.

The order was chosen so that they find it where that can be (``blocking.clamps``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kdkit.diagnostics import Problem, warning
from kdkit.plan.order.build import Scene
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["mark_clamps", "warn_of_clamps"]


def mark_clamps(
    scene: Scene, operations: Sequence[Operation], order: Sequence[str]
) -> list[Operation]:
    """Return the operations; each clamping knows the joints on which no clamp finds room.

    What is in the way is looked for among all that hangs together with them by then.
    """
    pieces: list[set[str]] = []
    marked: dict[str, Operation] = {}
    by_id = {o.id: o for o in operations}
    for operation in (by_id[id] for id in order):
        named = {*operation.parts, *operation.onto}
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD):
            met = [piece for piece in pieces if piece & named]
            pieces = [piece for piece in pieces if not piece & named] + [named.union(*met)]
        elif operation.kind is OperationKind.WAIT:
            there = named.union(*(piece for piece in pieces if piece & named))
            shut = tuple(
                joint
                for joint in operation.joints
                if _clamps(operation)
                and not all(room.is_clear(there) for room in scene.rooms.get((joint, -1), ()))
            )
            if shut:
                marked[operation.id] = replace(operation, no_room=shut)
    return [marked.get(operation.id, operation) for operation in operations]


def warn_of_clamps(scene: Scene, operations: Sequence[Operation]) -> tuple[Problem, ...]:
    """Return a warning for each joint that is glued where no clamp finds room."""
    shut = {joint: o for o in operations for joint in o.no_room}
    found = []
    for joint in scene.joinery.joints:
        if joint.name not in shut:
            continue
        one, other = scene.titles[joint.butting], scene.titles[joint.receiving]
        found.append(
            warning(
                "clamp-no-room",
                f"clamps find no flat place with room on {other} when its joint with {one} is "
                "glued",
                joint.path,
                where=f"{shut[joint.name].id}, {joint.name}",
                help="press the joint with a caul or wedge cut to the slope, a band or strap "
                "round the whole, or weights; or drive screws that hold it while the glue sets",
            )
        )
    return tuple(found)


def _clamps(operation: Operation) -> bool:
    return "clamp" in operation.does or (not operation.does and operation.tool is not None)
