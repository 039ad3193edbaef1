"""Row 1: vectors and rigid frames.

Lengths in mm. Frames are right-handed. ``outer`` is the frame that a frame
stands in (usually the product), ``inner`` the frame itself (usually a panel).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "AXES",
    "PRODUCT",
    "Frame",
    "Vec2",
    "Vec3",
    "add",
    "cross",
    "distance",
    "dot",
    "norm",
    "scaled",
    "sub",
    "unit",
]

Vec2 = tuple[float, float]
Vec3 = tuple[float, float, float]

AXES: dict[str, Vec3] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}


def add(a: Vec3, b: Vec3) -> Vec3:
    """Return a + b."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def sub(a: Vec3, b: Vec3) -> Vec3:
    """Return a − b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scaled(a: Vec3, factor: float) -> Vec3:
    """Return a times a number."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def dot(a: Vec3, b: Vec3) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec3, b: Vec3) -> Vec3:
    """Return the vector product, right-handed."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def norm(a: Vec3) -> float:
    """Return the length of a vector."""
    return math.sqrt(dot(a, a))


def distance(a: Vec3, b: Vec3) -> float:
    """Return the distance between two points."""
    return norm(sub(a, b))


def unit(a: Vec3) -> Vec3:
    """Return the vector of length 1 in the direction of a.

    Raises:
        ValueError: the vector has no direction.
    """
    length = norm(a)
    if length < 1e-12:
        raise ValueError("a zero vector has no direction")
    return scaled(a, 1.0 / length)


@dataclass(frozen=True)
class Frame:
    """A rigid right-handed frame: origin and three unit vectors, in outer terms.

    Source:
        Rigid change of frame, p = o + x·i + y·j + z·k.
    """

    origin: Vec3
    i: Vec3
    j: Vec3
    k: Vec3

    def __post_init__(self) -> None:
        i, j, k = self.i, self.j, self.k
        skew = max(
            abs(dot(i, j)),
            abs(dot(j, k)),
            abs(dot(k, i)),
            abs(norm(i) - 1),
            abs(norm(j) - 1),
            abs(norm(k) - 1),
        )
        if skew > 1e-6 or dot(cross(i, j), k) < 0:
            raise ValueError(f"not a right-handed rigid frame: {self}")

    def point_to_outer(self, p: Vec3) -> Vec3:
        """Return a point of this frame in the outer frame."""
        return add(self.origin, self.vector_to_outer(p))

    def point_to_inner(self, p: Vec3) -> Vec3:
        """Return a point of the outer frame in this frame."""
        return self.vector_to_inner(sub(p, self.origin))

    def vector_to_outer(self, v: Vec3) -> Vec3:
        """Return a direction of this frame in the outer frame."""
        i, j, k = self.i, self.j, self.k
        return (
            v[0] * i[0] + v[1] * j[0] + v[2] * k[0],
            v[0] * i[1] + v[1] * j[1] + v[2] * k[1],
            v[0] * i[2] + v[1] * j[2] + v[2] * k[2],
        )

    def vector_to_inner(self, v: Vec3) -> Vec3:
        """Return a direction of the outer frame in this frame."""
        return (dot(v, self.i), dot(v, self.j), dot(v, self.k))

    def frame_to_outer(self, inner: Frame) -> Frame:
        """Return a frame that stands in this one as it stands in the outer."""
        return Frame(
            self.point_to_outer(inner.origin),
            self.vector_to_outer(inner.i),
            self.vector_to_outer(inner.j),
            self.vector_to_outer(inner.k),
        )


PRODUCT = Frame((0.0, 0.0, 0.0), AXES["+x"], AXES["+y"], AXES["+z"])
