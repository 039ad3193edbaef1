"""What is taken out of a panel, and the panel itself, as convex bodies. Lengths in mm.

Flat-bottomed cylinders and convex prisms, panel frame; each tells the stretch of a line that
lies in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Frame, Vec3, add, cross, dot, scaled, unit
from kdkit.geometry.clipping import piece_hull
from kdkit.geometry.convex import ConvexPiece, convex_pieces
from kdkit.geometry.surfaces import surface_frame
from kdkit.model.resolved import Part
from kdkit.parts.cuts import Bore, Groove, Slot
from kdkit.parts.quadrature import Values

__all__ = [
    "SQUARE",
    "Body",
    "Cylinder",
    "Prism",
    "bore_cylinder",
    "groove_prisms",
    "panel_prism",
    "slot_bodies",
]

SQUARE = 1e-12
"""1 − cos of an angle taken as none."""


@dataclass(frozen=True)
class Cylinder:
    """A flat-bottomed cylinder, panel frame: from ``start`` along ``axis`` for ``length``."""

    start: Vec3
    axis: Vec3
    radius: float
    length: float

    def box(self) -> Values:
        low, high = [], []
        for start, along in zip(self.start, self.axis, strict=True):
            end = start + along * self.length
            reach = self.radius * math.sqrt(max(0.0, 1.0 - along * along))
            low.append(min(start, end) - reach)
            high.append(max(start, end) + reach)
        return np.array([*low, *high])

    def along_lines(self, points: Values, direction: Values) -> tuple[Values, Values]:
        axis, start = np.array(self.axis), np.array(self.start)
        w = points - start
        d_axis, w_axis = float(direction @ axis), w @ axis
        d_across, w_across = direction - d_axis * axis, w - w_axis[:, None] * axis
        low, high = _slab(w_axis, d_axis, 0.0, self.length)
        a, b = float(d_across @ d_across), w_across @ d_across
        c = np.einsum("ij,ij->i", w_across, w_across) - self.radius**2
        if a < SQUARE:
            return np.where(c <= 0, low, 1.0), np.where(c <= 0, high, 0.0)
        root = b * b - a * c
        span = np.sqrt(np.maximum(root, 0.0))
        low, high = np.maximum(low, (-b - span) / a), np.minimum(high, (-b + span) / a)
        return np.where(root > 0, low, 1.0), np.where(root > 0, high, 0.0)


@dataclass(frozen=True)
class Prism:
    """A convex piece, panel frame: its planes, its corners and its edges' ends by number."""

    normals: Values
    offsets: Values
    corners: Values
    edges: NDArray[np.intp]

    @property
    def plan(self) -> Values | None:
        """Its corners in (x, y), None if it does not stand square on the face."""
        ring = self.corners[: len(self.corners) // 2]
        upright = np.ptp(ring[:, 2]) < SQUARE and (np.abs(self.normals[:, 2]) % 1.0 < SQUARE).all()
        return ring[:, :2] if upright else None

    def box(self) -> Values:
        return np.concatenate([self.corners.min(axis=0), self.corners.max(axis=0)])

    def along_lines(self, points: Values, direction: Values) -> tuple[Values, Values]:
        low = np.full(len(points), -1e9)
        high = np.full(len(points), 1e9)
        for normal, offset in zip(self.normals, self.offsets, strict=True):
            room, rise = offset - points @ normal, float(direction @ normal)
            if abs(rise) < 1e-12:
                high = np.where(room < 0, -1e9, high)
            elif rise > 0:
                high = np.minimum(high, room / rise)
            else:
                low = np.maximum(low, room / rise)
        return low, high


Body = Cylinder | Prism


def bore_cylinder(part: Part, bore: Bore) -> Cylinder:
    """Return a bore's cylinder, drawn out past a slanted mouth so that it cuts it whole."""
    into = unit(bore.into)
    outward = surface_frame(part, bore.surface).k
    steep = min(1.0, abs(dot(into, outward)))
    extra = 0.0
    if 1.0 - steep > SQUARE and steep > 1e-6:
        extra = bore.diameter / 2 * math.sqrt(1.0 - steep * steep) / steep
    start = add(bore.mouth, scaled(into, -extra))
    length = bore.depth + extra * (2 if bore.through else 1)
    return Cylinder(start, into, bore.diameter / 2, length)


def groove_prisms(part: Part, groove: Groove) -> list[Prism]:
    """Return a groove's convex prisms: its plan is (x, y) of the panel, of an edge (i, j)."""
    if groove.surface == "face":
        z0, z1, frame = -groove.depth, 0.0, None
    elif groove.surface == "back":
        z0, z1, frame = -part.thickness, groove.depth - part.thickness, None
    else:
        z0, z1, frame = -groove.depth, 0.0, surface_frame(part, groove.surface)
    return [_prism_between(piece.polygon, z0, z1, frame) for piece in convex_pieces(groove.polygon)]


def slot_bodies(slot: Slot) -> list[Body]:
    axis = unit(cross(slot.into, slot.along))
    half = slot.width / 2
    if slot.disc is not None:
        radius = slot.disc / 2
        centre = add(slot.mouth, scaled(slot.into, slot.depth - radius))
        return [Cylinder(add(centre, scaled(axis, -half)), axis, radius, slot.width)]
    reach = slot.length / 2 - half
    frame = Frame(
        slot.mouth, slot.along, cross(scaled(slot.into, -1.0), slot.along), scaled(slot.into, -1.0)
    )
    plan = ((-reach, -half), (reach, -half), (reach, half), (-reach, half))
    ends = (add(slot.mouth, scaled(slot.along, side * reach)) for side in (-1.0, 1.0))
    return [
        _prism_between(plan, -slot.depth, 0.0, frame),
        *(Cylinder(end, unit(slot.into), half, slot.depth) for end in ends),
    ]


def _prism_between(
    polygon: Sequence[tuple[float, float]], z0: float, z1: float, frame: Frame | None = None
) -> Prism:
    """Return a convex prism; the polygon is counter-clockwise in the frame (default: panel)."""
    plan = np.asarray(polygon, dtype=np.float64)
    n = len(plan)
    along = np.roll(plan, -1, axis=0) - plan
    along /= np.linalg.norm(along, axis=1)[:, None]
    normals = np.zeros((n + 2, 3))
    normals[:n, 0], normals[:n, 1] = along[:, 1], -along[:, 0]
    normals[n, 2], normals[n + 1, 2] = 1.0, -1.0
    corners = np.zeros((2 * n, 3))
    corners[:n, :2], corners[n:, :2] = plan, plan
    corners[:n, 2], corners[n:, 2] = z1, z0
    if frame is not None:
        axes = np.array([frame.i, frame.j, frame.k])
        corners, normals = corners @ axes + np.array(frame.origin), normals @ axes
    on_plane = np.vstack([corners[:n], corners[:1], corners[n : n + 1]])
    ring = np.arange(n)
    starts = np.concatenate([ring, ring + n, ring])
    ends = np.concatenate([(ring + 1) % n, (ring + 1) % n + n, ring + n])
    edges = np.column_stack([starts, ends])
    return Prism(normals, np.einsum("ij,ij->i", normals, on_plane), corners, edges)


def panel_prism(piece: ConvexPiece) -> Prism:
    """Return a piece of a panel, with its bevels."""
    if not piece.cuts:
        return _prism_between(piece.polygon, piece.z0, piece.z1)
    corners, normals, offsets, edges = piece_hull(piece)
    return Prism(normals, offsets, corners, edges)


def _slab(position: Values, rise: float, low: float, high: float) -> tuple[Values, Values]:
    """Return the stretch of each line between two planes; empty ones end before they start."""
    if abs(rise) < 1e-12:
        there = (position >= low) & (position <= high)
        return np.where(there, -1e9, 1.0), np.where(there, 1e9, 0.0)
    a, b = (low - position) / rise, (high - position) / rise
    return np.minimum(a, b), np.maximum(a, b)
