"""The flat surfaces of a part: face, back and one for each outline segment."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, together
from kdkit.frames import Frame, Vec2, Vec3
from kdkit.geometry.convex import round_polygon
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part

__all__ = [
    "Surface",
    "corners_of",
    "edge_frame",
    "edge_ring",
    "part_box",
    "part_middle",
    "reach",
    "surface_frame",
    "surfaces_of",
]


@dataclass(frozen=True)
class Surface:
    """A flat surface of a part in the product.

    ``frame``: k out of the part. ``polygon``: in (i, j) of the frame, cut-outs taken out.
    """

    name: str
    frame: Frame
    polygon: BaseGeometry

    @property
    def is_edge(self) -> bool:
        """True for the edges, False for face and back."""
        return self.name.startswith("edge:")


def edge_frame(part: Part, segment: int) -> Frame:
    """Return the frame of an edge, in the panel frame: i along it, j to the face, k out.

    Its origin is the segment's first corner on the face; the edge fills
    0 ≤ i ≤ length and −thickness ≤ j ≤ 0. Of a bevelled edge j runs up the slope, which
    is thickness / cos(bevel) high, and k out of it.
    """
    ring = part.outline if not part.bevels else face_ring(part)
    (ax, ay) = ring[segment]
    (bx, by) = ring[(segment + 1) % len(ring)]
    length = math.hypot(bx - ax, by - ay)
    dx, dy = (bx - ax) / length, (by - ay) / length
    lean = math.radians(part.bevels[segment]) if part.bevels else 0.0
    if lean == 0:
        return Frame((ax, ay, 0.0), (dx, dy, 0.0), (0.0, 0.0, 1.0), (dy, -dx, 0.0))
    c, s = math.cos(lean), math.sin(lean)
    return Frame((ax, ay, 0.0), (dx, dy, 0.0), (s * dy, -s * dx, c), (c * dy, -c * dx, -s))


def edge_ring(part: Part, segment: int) -> tuple[Vec2, ...]:
    """Return an edge's corners in (i, j) of its frame: its back corners, then its face ones.

    A rectangle, except where the edge or one beside it is bevelled.
    """
    n = (segment + 1) % len(part.outline)
    frame, face, back = edge_frame(part, segment), face_ring(part), back_ring(part)
    corners = (
        (*back[segment], -part.thickness),
        (*back[n], -part.thickness),
        (*face[n], 0.0),
        (*face[segment], 0.0),
    )
    flat = (frame.point_to_inner(corner) for corner in corners)
    return tuple((x + 0.0, y + 0.0) for x, y, _ in flat)


def surface_frame(part: Part, surface: str) -> Frame:
    """Return the frame of ``face``, ``back`` or ``edge:n`` in the panel frame, k out of the part.

    Raises:
        ValueError: there is no such surface (a fault in kdkit).
    """
    if surface == "face":
        return Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    if surface == "back":
        return Frame(
            (0.0, 0.0, -part.thickness), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0)
        )
    if not surface.startswith("edge:"):
        raise ValueError(f"no surface {surface!r} on {part.name}")
    return edge_frame(part, int(surface.removeprefix("edge:")))


@lru_cache(maxsize=4096)
def _plans(part_shape: tuple[object, ...]) -> tuple[BaseGeometry, BaseGeometry]:
    """Return the region of a face and of a back (mirrored) for an outline and its openings."""
    front, rear, cutouts, round_cutouts = part_shape
    openings = [Polygon(c) for c in cutouts]  # type: ignore[attr-defined]
    openings += [Polygon(round_polygon(r)) for r in round_cutouts]  # type: ignore[attr-defined]
    face: BaseGeometry = Polygon(front)  # type: ignore[arg-type]
    back: BaseGeometry = Polygon(rear)  # type: ignore[arg-type]
    if openings:
        taken = together(openings)
        face, back = rest_of(face, taken), rest_of(back, taken)
    return face, shapely.transform(back, lambda xy: xy * np.array([1.0, -1.0]))


def surfaces_of(part: Part) -> tuple[Surface, ...]:
    """Return the flat surfaces of a part; a curved edge (``smooth``) has none.

    The walls of cut-outs are not among them: nothing is joined to them.
    """
    face, back = _plans((face_ring(part), back_ring(part), part.cutouts, part.round_cutouts))
    found = [
        Surface("face", part.frame, face),
        Surface("back", part.frame.frame_to_outer(surface_frame(part, "back")), back),
    ]
    if not part.smooth:
        for n, (ax, ay) in enumerate(part.outline):
            frame = part.frame.frame_to_outer(edge_frame(part, n))
            if part.bevels:
                found.append(Surface(f"edge:{n}", frame, Polygon(edge_ring(part, n))))
                continue
            (bx, by) = part.outline[(n + 1) % len(part.outline)]
            length = math.hypot(bx - ax, by - ay)
            found.append(
                Surface(f"edge:{n}", frame, shapely.box(0.0, -part.thickness, length, 0.0))
            )
    return tuple(found)


def corners_of(part: Part) -> NDArray[np.float64]:
    """Return the corners of a part in the product, shape (2n, 3): face, then back."""
    n = len(part.outline)
    points = np.empty((2 * n, 3))
    points[:n, :2], points[n:, :2] = face_ring(part), back_ring(part)
    points[:n, 2], points[n:, 2] = 0.0, -part.thickness
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    return np.asarray(points @ axes + np.array(part.frame.origin), dtype=np.float64)


def part_box(part: Part) -> NDArray[np.float64]:
    """Return the box around a part in the product: least x, y, z, greatest x, y, z."""
    corners = corners_of(part)
    return np.concatenate([corners.min(axis=0), corners.max(axis=0)])


def reach(parts: Iterable[Part], way: Vec3) -> tuple[float, float]:
    """Return where parts begin and end, seen along a direction of the product."""
    heights = np.concatenate([corners_of(part) @ np.array(way) for part in parts])
    return float(heights.min()), float(heights.max())


def part_middle(part: Part) -> Vec3:
    """Return the middle of the box around a part in its own frame, in the product."""
    xs, ys = zip(*part.outline, strict=True)
    return part.frame.point_to_outer(
        ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, -part.thickness / 2)
    )
