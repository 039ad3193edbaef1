"""What a step says of parts that come in by more than one move, or tilted.

Ways are told as the work lies in the step (up, down), and of those that run level by the
side of the finished product that they lead to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from markupsafe import Markup

from kdkit.frames import Vec3, add, cross, scaled, sub, unit
from kdkit.geometry.surfaces import part_middle
from kdkit.model.resolved import Part
from kdkit.parts.postures import steepness
from kdkit.parts.words import side_towards
from kdkit.plan.plan import Operation, OperationKind, Slide, Tilt
from kdkit.publish.wording.messages import Messages

__all__ = ["tell_moves"]

_STEEP = 0.9  # sine of the rise from which a way is upright
_LEVEL = 0.35  # and up to which it is level


def tell_moves(
    operation: Operation, shapes: Mapping[str, Part], names: tuple[str, str], say: Messages
) -> Markup:
    """Return the sentence for all moves of an operation.

    Args:
        shapes: the product's parts by name.
        names: what to call the parts that move, and those that they come to.
    """
    if operation.kind is OperationKind.REMOVE:
        return _tell_way_out(operation, shapes, names, say)
    parts, onto = (Markup(name) for name in names)
    slides = [move for move in operation.moves if isinstance(move, Slide)]
    tilt = next((move for move in operation.moves if isinstance(move, Tilt)), None)
    ways = [say.text(f"moves.way.{_way(s.way, operation)}") for s in slides]
    length = next((s.length for s in slides if not math.isinf(s.length)), 0.0)
    if tilt is None:
        return say.text(
            "moves.two",
            parts=parts,
            onto=onto,
            first=ways[0],
            length=round(length),
            then=ways[1],
        )
    edge, swing = _edge(tilt, operation, shapes)
    said = {
        "parts": parts,
        "onto": onto,
        "angle": round(abs(tilt.angle_deg)),
        "edge": say.text(f"moves.edge.{edge}"),
        "swing": say.text(f"moves.way.{_way(swing, operation)}"),
        "first": ways[0],
    }
    if len(ways) == 1:
        return say.text("moves.tilted", **said)
    return say.text("moves.tilted_two", **said, length=round(length), then=ways[1])


def _tell_way_out(
    operation: Operation, shapes: Mapping[str, Part], names: tuple[str, str], say: Messages
) -> Markup:
    parts, onto = (Markup(name) for name in names)
    said: list[Markup] = []
    for move in operation.moves:
        if isinstance(move, Tilt):
            edge, swing = _edge(move, operation, shapes)
            angle = round(abs(move.angle_deg))
            said.append(
                say.text(
                    "moves.out_tilt",
                    angle=angle,
                    edge=say.text(f"moves.edge.{edge}"),
                    swing=say.text(f"moves.way.{_way(swing, operation)}"),
                )
            )
            continue
        way = say.text(f"moves.way.{_way(move.way, operation)}")
        far = math.isinf(move.length)
        said.append(way if far else say.text("moves.out", length=round(move.length), way=way))
    if len(said) > 2:
        return say.text("moves.out_three", parts=parts, onto=onto, a=said[0], b=said[1], c=said[2])
    return say.text("moves.out_two", parts=parts, onto=onto, a=said[0], b=said[1])


def _way(way: Vec3, operation: Operation) -> str:
    """Return a way in a word: "up", "down", "aslant", or the side that it leads to."""
    rise = steepness(way, operation.posture)
    if rise > _STEEP:
        return "up"
    if rise < -_STEEP:
        return "down"
    if abs(rise) > _LEVEL:
        return "aslant_up" if rise > 0 else "aslant_down"
    return side_towards(way)


def _edge(tilt: Tilt, operation: Operation, shapes: Mapping[str, Part]) -> tuple[str, Vec3]:
    """Return the side of the parts at which they turn, and how the other side closes."""
    middles = [part_middle(shapes[name]) for name in operation.parts]
    total = (0.0, 0.0, 0.0)
    for middle in middles:
        total = add(total, middle)
    arm = sub(scaled(total, 1.0 / len(middles)), tilt.point)
    swing = scaled(cross(tilt.axis, arm), math.copysign(1.0, tilt.angle_deg))
    arm = cross(cross(tilt.axis, arm), tilt.axis)
    return side_towards(scaled(arm, -1.0)), unit(swing)
