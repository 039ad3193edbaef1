"""The directions in which parts are tried first: the canonical set of one product.

Both ways along every product axis, every joint's normal and every groove,
doubles dropped, in an order that depends on the directions alone. What is stuck along
these is looked at in every direction (``blocking.settle``).
"""

from __future__ import annotations

import math
from functools import cache

from kdkit.frames import AXES, Vec3, scaled, unit
from kdkit.geometry.assembly import Assembly, ContactKind
from kdkit.joinery.placed import Joinery

__all__ = ["canonical_directions", "direction_words", "opposite", "same_way"]

_WORDS = {
    "+x": "to the right",
    "-x": "to the left",
    "+y": "to the back",
    "-y": "to the front",
    "+z": "upwards",
    "-z": "downwards",
}


def canonical_directions(assembly: Assembly, joinery: Joinery) -> tuple[Vec3, ...]:
    """Return unit vectors in the product frame; with each one also its opposite."""
    found = [AXES[a] for a in ("+x", "+y", "+z")]
    frames = {part.name: part.frame for part in assembly.parts}
    others = [joint.contact.frame.k for joint in joinery.joints]
    others += [joint.leaves for joint in joinery.joints if joint.leaves is not None]
    others += [
        joint.contact.frame.i for joint in joinery.joints if joint.contact.kind is ContactKind.SUNK
    ]
    for groove in joinery.grooves:
        a, b = max(
            zip(groove.polygon, (*groove.polygon[1:], groove.polygon[0]), strict=True),
            key=lambda side: math.dist(*side),
        )
        if groove.part in frames:
            along = unit((b[0] - a[0], b[1] - a[1], 0.0))
            others.append(frames[groove.part].vector_to_outer(along))
    slanted = {_positive(v) for v in others}
    slanted = {v for v in slanted if not any(same_way(v, f) for f in found)}
    kept: list[Vec3] = []
    for v in sorted(slanted, reverse=True):
        if not any(same_way(v, k) for k in kept):
            kept.append(v)
    return tuple(w for v in (*found, *kept) for w in (v, opposite(v)))


def opposite(v: Vec3) -> Vec3:
    """Return the other way, without negative zeros."""
    return (0.0 - v[0], 0.0 - v[1], 0.0 - v[2])


def same_way(a: Vec3, b: Vec3) -> bool:
    """Tell whether two unit vectors point the same way within 0.0006 degrees."""
    return all(abs(p - q) < 1e-5 for p, q in zip(a, b, strict=True))


@cache
def direction_words(v: Vec3) -> str:
    """Return the direction as people say it of the finished product."""
    for name, axis in AXES.items():
        if same_way(v, axis):
            return _WORDS[name]
    parts = [
        _WORDS[("+" if value > 0 else "-") + name]
        for name, value in zip("xyz", v, strict=True)
        if abs(value) > 1e-5
    ]
    numbers = ", ".join(f"{value + 0.0:.3f}" for value in v)
    return f"slanting {' and '.join(parts)} ({numbers})"


def _positive(v: Vec3) -> Vec3:
    """The one of ± v whose first component is positive, rounded to be comparable."""
    rounded = tuple(round(c, 9) + 0.0 for c in unit(v))
    first = next(c for c in rounded if abs(c) > 1e-9)
    v = (rounded[0], rounded[1], rounded[2])
    return v if first > 0 else scaled(v, -1.0)
