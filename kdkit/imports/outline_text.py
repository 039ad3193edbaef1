"""A shape from a drawing as the lines of a definition, ready to be pasted under a panel.

A drawing's shape is pasted, not referred to. The definition stays one text that says
everything, and the polygon that is built can be seen and changed.
"""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.frames import Vec2
from kdkit.imports.drawing import Drawn
from kdkit.imports.shapes import Shape
from kdkit.units import mm_text

__all__ = ["FACES", "place_shape", "render_outline"]

FACES = ("+z", "-z", "+x", "-x", "+y", "-y")
_ACROSS = {"x": "yz", "y": "xz", "z": "xy"}
_MIRRORED = frozenset({"-x", "+y", "-z"})
"""Faces on which the first axis of the plane runs to the left for who looks at them."""
_WIDTH = 92
_PLACES = 4


def place_shape(shape: Shape, *, face: str, quarter_turns: int = 0, at: Vec2 = (0.0, 0.0)) -> Shape:
    """Return a shape as a panel's outline in product coordinates.

    Args:
        shape: as it is drawn, x to the right and y up: the panel's face seen from outside.
        face: where that face looks, one of ``FACES``.
        quarter_turns: by which the drawing is turned first, against the clock.
        at: where the corner with the least coordinates stands, on the two axes of the
            panel's plane in the order x, y, z.
    """
    steps = quarter_turns % 4

    def turned(p: Vec2) -> Vec2:
        x, y = p
        for _ in range(steps):
            x, y = -y, x
        return (-x, y) if face in _MIRRORED else (x, y)

    outline = [turned(p) for p in shape.outline]
    dx, dy = at[0] - min(p[0] for p in outline), at[1] - min(p[1] for p in outline)

    def placed(points: Sequence[Vec2]) -> tuple[Vec2, ...]:
        moved = [(x + dx, y + dy) for x, y in map(turned, points)]
        return tuple(moved[::-1] if face in _MIRRORED else moved)

    return Shape(
        outline=placed(shape.outline),
        cutouts=tuple(placed(ring) for ring in shape.cutouts),
        rounds=tuple((placed([centre])[0], diameter) for centre, diameter in shape.rounds),
    )


def render_outline(drawn: Drawn, shape: Shape, *, face: str, tolerance: float) -> str:
    """Return ``face``, ``outline`` and ``cutouts`` as they stand under a panel.

    Args:
        drawn: where the shape was read.
        shape: as ``place_shape`` gives it.
        face: where the face looks.
        tolerance: mm, how far a side may be from its arc, told in the comment.
    """
    axes = _ACROSS[face[1]]
    x0, y0, x1, y1 = shape.box
    layers = ", ".join(" ".join(layer.split())[:60] for layer in drawn.layers[:12])
    name = " ".join(drawn.file.split())
    lines = [
        f"    # Outline from {name}, layers: {layers}",
        f"    # {mm_text(x1 - x0, 2)} along {axes[0]} × {mm_text(y1 - y0, 2)} along {axes[1]}; the "
        f"sides leave arcs by {mm_text(tolerance, 3)} mm at most",
        f"    face: {face!r}".replace("'", '"'),
        *_points("    outline: ", shape.outline, "              "),
    ]
    if shape.cutouts or shape.rounds:
        lines.append("    cutouts:")
    for centre, diameter in shape.rounds:
        u, v = (mm_text(c, _PLACES) for c in centre)
        size = mm_text(diameter, _PLACES)
        lines.append(f"      - {{{axes[0]}: {u}, {axes[1]}: {v}, diameter: {size}}}")
    for ring in shape.cutouts:
        lines += _points("      - outline: ", ring, "                  ")
    return "\n".join(lines) + "\n"


def _points(head: str, points: Sequence[Vec2], indent: str) -> list[str]:
    """Return a list of corners, as many to a line as fit."""
    texts = [f"[{mm_text(x, _PLACES)}, {mm_text(y, _PLACES)}]" for x, y in points]
    lines, line = [], f"{head}["
    for text in texts:
        if len(line) + len(text) > _WIDTH:
            lines.append(line.rstrip())
            line = indent
        line += f"{text}, "
    return [*lines, f"{line.removesuffix(', ')}]"]
