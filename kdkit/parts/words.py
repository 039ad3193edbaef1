"""What the sides and surfaces of a part are called, and which of them lies where."""

from __future__ import annotations

from kdkit.frames import AXES, Vec3, dot
from kdkit.model.resolved import Part
from kdkit.parts.size import NEAR, part_size

__all__ = [
    "LOOKS",
    "bore_noun",
    "edge_side",
    "edges_at",
    "side_towards",
    "surface_words",
    "with_article",
]

LOOKS = {
    "front": AXES["-y"],
    "back": AXES["+y"],
    "bottom": AXES["-z"],
    "top": AXES["+z"],
    "left": AXES["-x"],
    "right": AXES["+x"],
}
"""Where each side of the finished product looks, in the order in which two are named."""


def bore_noun(purpose: str) -> str:
    """Return what a bore is called: "dowel bore", but "cross bore" as it is."""
    return purpose if purpose.split()[-1:] == ["bore"] else f"{purpose} bore"


def side_towards(direction: Vec3) -> str:
    """Return the side that a direction of the product points to most."""
    return max(LOOKS, key=lambda side: round(dot(LOOKS[side], direction), 6))


def edge_side(part: Part, segment: int) -> str:
    """Return the side that an outline segment looks to before any turn, "" for none."""
    return part.edge_sides[segment] if segment < len(part.edge_sides) else ""


def surface_words(part: Part, surface: str) -> str:
    """Return a surface as people name it: "face", "back", "front edge", "edge 3"."""
    if not surface.startswith("edge:"):
        return surface
    segment = int(surface.removeprefix("edge:"))
    side = edge_side(part, segment)
    return f"{side} edge" if side else f"edge {segment + 1}"


def with_article(surface: str) -> str:
    """Return a surface's words inside a sentence: "the front edge", but "edge 3"."""
    return surface if surface.startswith("edge ") else f"the {surface}"


def edges_at(part: Part, axis: int, far: bool) -> tuple[int, ...]:
    """Return the outline segments that lie on one end of the bounding rectangle.

    Args:
        axis: 0 for the ends of the length, 1 for those of the width.
        far: the end where x or y is greatest.
    """
    level = part_size(part)[axis] if far else 0.0
    there = [abs(p[axis] - level) < NEAR for p in part.outline]
    return tuple(n for n in range(len(there)) if there[n] and there[(n + 1) % len(there)])
