"""Axonometric views: from the product to a plane on paper.

Three frames follow each other. *Product*: as the definition says it. *Floor*: the
product turned into the posture in which it is worked on, z up from the floor.
*Paper*: x to the right, y **down**, millimetres on paper, and a depth in product
millimetres that grows **away** from the viewer.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2, Vec3, cross, dot
from kdkit.parts.postures import ON_FLOOR, Posture

__all__ = ["VIEWPOINTS", "View", "Viewpoint", "turn_between"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Viewpoint:
    """Where the viewer stands, seen from the product as it lies on the floor.

    ``azimuth_deg``: 0 straight in front, 90 at the right, 180 behind, -90 at the left.
    ``elevation_deg``: above the floor plane; negative looks from below.
    """

    azimuth_deg: float
    elevation_deg: float


def _around() -> dict[str, Viewpoint]:
    """Return eight viewpoints around the product, from above and from below.

    Trimetric on purpose: no two edges of a box fall on one line, the front stays
    broad. ``front-right`` is nearer the front, ``right-front`` nearer the side.
    """
    near, far, above, below = 32.0, 58.0, 24.0, -24.0
    places = {
        "front-right": near,
        "front-left": -near,
        "right-front": far,
        "left-front": -far,
        "right-back": 180.0 - far,
        "left-back": far - 180.0,
        "back-right": 180.0 - near,
        "back-left": near - 180.0,
    }
    seen = {name: Viewpoint(azimuth, above) for name, azimuth in places.items()}
    seen |= {f"{name}-below": Viewpoint(azimuth, below) for name, azimuth in places.items()}
    return seen


VIEWPOINTS: dict[str, Viewpoint] = _around()


@dataclass(frozen=True, kw_only=True)
class View:
    """A parallel projection at right angles to the paper.

    Args:
        viewpoint: where the viewer stands.
        posture: which side of the product lies on the floor.
        scale: mm on paper for one mm of product.
        origin: where the product's origin falls on paper.
    """

    viewpoint: Viewpoint = VIEWPOINTS["front-right"]
    posture: Posture = Posture.STANDING
    scale: float = 1.0
    origin: Vec2 = (0.0, 0.0)

    @cached_property
    def axes(self) -> tuple[Vec3, Vec3, Vec3]:
        """Right, up and toward the viewer, as unit vectors in the product frame."""
        a = math.radians(self.viewpoint.azimuth_deg)
        e = math.radians(self.viewpoint.elevation_deg)
        toward = (math.sin(a) * math.cos(e), -math.cos(a) * math.cos(e), math.sin(e))
        right = (math.cos(a), math.sin(a), 0.0)
        up = cross(toward, right)
        turned = ON_FLOOR[self.posture]

        def to_product(v: Vec3) -> Vec3:
            return (dot(v, turned[0]), dot(v, turned[1]), dot(v, turned[2]))

        return to_product(right), to_product(up), to_product(toward)

    @property
    def toward(self) -> Vec3:
        """The unit vector to the viewer, in the product frame."""
        return self.axes[2]

    def vector_to_floor(self, v_product: Vec3) -> Vec3:
        """Return a direction of the product as it points in this posture."""
        x, y, z = ON_FLOOR[self.posture]
        return (
            v_product[0] * x[0] + v_product[1] * y[0] + v_product[2] * z[0],
            v_product[0] * x[1] + v_product[1] * y[1] + v_product[2] * z[1],
            v_product[0] * x[2] + v_product[1] * y[2] + v_product[2] * z[2],
        )

    def project(self, p_product: Vec3) -> tuple[float, float, float]:
        """Return ``(x, y, depth)``: paper mm, y down, depth in product mm away from the viewer."""
        right, up, toward = self.axes
        return (
            self.origin[0] + self.scale * dot(right, p_product),
            self.origin[1] - self.scale * dot(up, p_product),
            -dot(toward, p_product),
        )

    def direction(self, v_product: Vec3) -> Vec2:
        """Return a direction of the product on paper (mm for one mm, y down)."""
        right, up, _ = self.axes
        return (self.scale * dot(right, v_product), -self.scale * dot(up, v_product))

    def project_many(self, points: Array) -> Array:
        """Return ``project`` of an (n, 3) array of product points as an (n, 3) array."""
        right, up, toward = (np.array(axis) for axis in self.axes)
        turn = np.stack([self.scale * right, -self.scale * up, -toward], axis=1)
        shift = np.array([self.origin[0], self.origin[1], 0.0])
        placed: Array = points @ turn + shift
        return placed

    def orientation(self, normal: Vec3) -> str:
        """Return which tint a surface takes: ``top``, ``under``, ``front`` or ``side``.

        By the largest part of its normal on the floor; front and back share a tint,
        and so do left and right.
        """
        x, y, z = self.vector_to_floor(normal)
        if abs(z) >= max(abs(x), abs(y)) - 1e-9:
            return "top" if z > 0 else "under"
        return "front" if abs(y) >= abs(x) - 1e-9 else "side"

    def bounds(self, points: Iterable[Vec3]) -> tuple[float, float, float, float]:
        """Return ``(x0, y0, x1, y1)`` of product points on paper."""
        placed = self.project_many(np.array(list(points), dtype=float).reshape(-1, 3))
        low, high = placed[:, :2].min(axis=0), placed[:, :2].max(axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def at_scale(self, scale: float) -> View:
        """Return the same view at another scale, the product's origin at paper (0, 0)."""
        return replace(self, scale=scale, origin=(0.0, 0.0))

    def placed(self, origin: Vec2) -> View:
        """Return the same view with the product's origin elsewhere on paper."""
        return replace(self, origin=origin)


def turn_between(one: View, other: View) -> float:
    """Return by how much the work seems to turn from one view to another, degrees.

    Source: the angle of the rotation R with trace 1 + 2 cos a (Euler's rotation theorem).
    """
    trace = sum(dot(a, b) for a, b in zip(one.axes, other.axes, strict=True))
    return math.degrees(math.acos(max(-1.0, min(1.0, (trace - 1) / 2))))
