"""How far two parts are apart, and how much they overlap. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from kdkit.frames import Frame
from kdkit.geometry.convex import ConvexPiece, part_pieces
from kdkit.geometry.surfaces import corners_of, surfaces_of
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE

__all__ = ["Overlap", "Prism", "gap_between", "overlap_between", "overlap_of_prisms", "part_prisms"]

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Overlap:
    """What two parts have in common: volume in mm³, and how deep one stands in the other.

    ``depth`` is the shortest way that parts the deepest pair of convex pieces.
    """

    volume: float
    depth: float


class Prism:
    """A convex prism in the product: its corners, its planes and its edge directions.

    Args:
        piece: in the panel frame.
        frame: the panel frame in the product.
    """

    def __init__(self, piece: ConvexPiece, frame: Frame) -> None:
        plan = np.asarray(piece.polygon, dtype=np.float64)
        n = len(plan)
        axes = np.array([frame.i, frame.j, frame.k])
        origin = np.array(frame.origin)
        flat = np.zeros((n, 3))
        flat[:, :2] = plan
        self.bottom: Points = (flat + np.array([0.0, 0.0, piece.z0])) @ axes + origin
        self.top: Points = (flat + np.array([0.0, 0.0, piece.z1])) @ axes + origin
        self.points: Points = np.vstack([self.bottom, self.top])
        along = np.roll(plan, -1, axis=0) - plan
        along /= np.linalg.norm(along, axis=1)[:, None]
        normals = np.zeros((n + 2, 3))
        normals[:n, 0], normals[:n, 1] = along[:, 1], -along[:, 0]
        normals[n], normals[n + 1] = [0.0, 0.0, 1.0], [0.0, 0.0, -1.0]
        self.normals: Points = normals @ axes
        on_plane = np.vstack([self.bottom, self.top[:1], self.bottom[:1]])
        self.offsets: Points = np.einsum("ij,ij->i", self.normals, on_plane)
        directions = np.zeros((n + 1, 3))
        directions[:n, :2] = along
        directions[n] = [0.0, 0.0, 1.0]
        self.directions: Points = directions @ axes
        self.low: Points = self.points.min(axis=0)
        self.high: Points = self.points.max(axis=0)

    def faces(self) -> list[Points]:
        """Return the boundary as polygons, counter-clockwise seen from outside."""
        n = len(self.bottom)
        found = [self.bottom[::-1], self.top]
        for at in range(n):
            to = (at + 1) % n
            quad = [self.bottom[at], self.bottom[to], self.top[to], self.top[at]]
            found.append(np.array(quad))
        return found


def part_prisms(part: Part) -> tuple[Prism, ...]:
    """Return the convex prisms of a part in the product."""
    return tuple(Prism(piece, part.frame) for piece in part_pieces(part))


def overlap_between(a: Part, b: Part) -> Overlap:
    """Return the common volume of two parts and its depth; both 0 when they only touch.

    Pieces that stand in each other by no more than ``TOLERANCE`` only touch.
    """
    return overlap_of_prisms(part_prisms(a), part_prisms(b))


def overlap_of_prisms(a: Sequence[Prism], b: Sequence[Prism]) -> Overlap:
    """Return the common volume of two sets of prisms, each free of overlaps in itself."""
    volume, deepest = 0.0, 0.0
    for n, m in _boxes_that_meet(a, b):
        depth = _shared_depth(a[n], b[m])
        if depth > TOLERANCE:
            volume += _common_volume(a[n], b[m])
            deepest = max(deepest, depth)
    return Overlap(volume, deepest)


def _boxes_that_meet(a: Sequence[Prism], b: Sequence[Prism]) -> list[tuple[int, int]]:
    """Return the pairs of prisms whose boxes meet; many pieces of a part never do."""
    if not a or not b:
        return []
    low_a, high_a = np.array([p.low for p in a]), np.array([p.high for p in a])
    low_b, high_b = np.array([p.low for p in b]), np.array([p.high for p in b])
    some = ((low_a <= high_b.max(axis=0)) & (high_a >= low_b.min(axis=0))).all(axis=1).nonzero()[0]
    others = (
        ((low_b <= high_a.max(axis=0)) & (high_b >= low_a.min(axis=0))).all(axis=1).nonzero()[0]
    )
    low_a, high_a, low_b, high_b = low_a[some], high_a[some], low_b[others], high_b[others]
    meet = (low_a[:, None] <= high_b[None]) & (low_b[None] <= high_a[:, None])
    rows, columns = meet.all(axis=2).nonzero()
    return list(zip(some[rows].tolist(), others[columns].tolist(), strict=True))


def _shared_depth(a: Prism, b: Prism) -> float:
    """Return the least overlap over all separating directions; ≤ 0 when apart.

    Source:
        The separating axis theorem for convex polyhedra: the normals of both and the
        products of their edge directions suffice.
    """
    crossed = np.cross(a.directions[:, None, :], b.directions[None, :, :]).reshape(-1, 3)
    length = np.linalg.norm(crossed, axis=1)
    crossed = crossed[length > 1e-7] / length[length > 1e-7, None]
    axes = np.vstack([a.normals, b.normals, crossed])
    on_a, on_b = axes @ a.points.T, axes @ b.points.T
    shared = np.minimum(on_a.max(axis=1) - on_b.min(axis=1), on_b.max(axis=1) - on_a.min(axis=1))
    return float(shared.min())


def _common_volume(a: Prism, b: Prism) -> float:
    """Return the volume of one prism clipped by the planes of the other."""
    centre = (np.maximum(a.low, b.low) + np.minimum(a.high, b.high)) / 2
    faces = [face - centre for face in a.faces()]
    for normal, offset in zip(b.normals, b.offsets, strict=True):
        faces = _clip(faces, normal, float(offset - normal @ centre))
        if not faces:
            return 0.0
    volume = 0.0
    for face in faces:
        for n in range(1, len(face) - 1):
            volume += float(face[0] @ np.cross(face[n], face[n + 1]))
    return max(volume / 6.0, 0.0)


def _clip(faces: list[Points], normal: Points, offset: float) -> list[Points]:
    """Return a closed convex surface cut off where normal · p > offset, the cut closed."""
    kept: list[Points] = []
    rim: list[Points] = []
    cut = False
    for face in faces:
        heights = face @ normal - offset
        heights[np.abs(heights) < 1e-9] = 0.0
        if (heights <= 0).all():
            kept.append(face)
            rim += [p for p, h in zip(face, heights, strict=True) if h == 0]
            continue
        cut = True
        ring: list[Points] = []
        for n in range(len(face)):
            p, q = face[n], face[(n + 1) % len(face)]
            hp, hq = heights[n], heights[(n + 1) % len(face)]
            if hp <= 0:
                ring.append(p)
                if hp == 0:
                    rim.append(p)
            if hp * hq < 0:
                crossing = p + (q - p) * (hp / (hp - hq))
                ring.append(crossing)
                rim.append(crossing)
        if len(ring) >= 3:
            kept.append(np.array(ring))
    if not cut:
        return faces
    cap = _ring_about(rim, normal)
    if cap is not None:
        kept.append(cap)
    return kept


def _ring_about(points: list[Points], normal: Points) -> Points | None:
    """Return points of one plane in order about the normal, doubles dropped."""
    if len(points) < 3:
        return None
    cloud = np.array(points)
    spread = cloud - cloud.mean(axis=0)
    first = spread[int(np.argmax(np.einsum("ij,ij->i", spread, spread)))]
    if np.linalg.norm(first) < 1e-9:
        return None
    i = first / np.linalg.norm(first)
    j = np.cross(normal, i)
    order = np.argsort(np.arctan2(spread @ j, spread @ i), kind="stable")
    ring = cloud[order]
    far = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1) > 1e-9
    ring = ring[far]
    return ring if len(ring) >= 3 else None


def gap_between(a: Part, b: Part) -> float:
    """Return the shortest distance between two parts, 0 when they touch or overlap."""
    if overlap_between(a, b).depth > 0:
        return 0.0
    return min(
        _corners_to_surfaces(a, b),
        _corners_to_surfaces(b, a),
        _edges_to_edges(_edges_of(a), _edges_of(b)),
    )


def _corners_to_surfaces(a: Part, b: Part) -> float:
    """Return the least distance from a corner of a straight down to a surface of b."""
    corners = corners_of(a)
    best = float("inf")
    for surface in surfaces_of(b):
        frame = surface.frame
        local = (corners - np.array(frame.origin)) @ np.array([frame.i, frame.j, frame.k]).T
        over = shapely.intersects_xy(surface.polygon, local[:, 0], local[:, 1])
        if over.any():
            best = min(best, float(np.abs(local[over, 2]).min()))
    return best


def _edges_of(part: Part) -> tuple[Points, Points]:
    """Return the starts and the ends of a prism's edges, shape (m, 3) each, openings included."""
    rings = [part.outline, *part.cutouts]
    starts, ends = [], []
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    for ring in rings:
        face = np.array([(x, y, 0.0) for x, y in ring])
        back = face - np.array([0.0, 0.0, part.thickness])
        for plane in (face, back):
            starts.append(plane)
            ends.append(np.roll(plane, -1, axis=0))
        starts.append(face)
        ends.append(back)
    origin = np.array(part.frame.origin)
    return np.vstack(starts) @ axes + origin, np.vstack(ends) @ axes + origin


def _edges_to_edges(a: tuple[Points, Points], b: tuple[Points, Points]) -> float:
    """Return the least distance between two sets of segments.

    Source:
        Closest points of two segments, from memory of C. Ericson, Real-Time
        Collision Detection, 2005, section 5.1.9.
    """
    p, q = a[0][:, None, :], b[0][None, :, :]
    u, v = a[1][:, None, :] - p, b[1][None, :, :] - q
    w = p - q
    uu, vv = (u * u).sum(-1), (v * v).sum(-1)
    uv, uw, vw = (u * v).sum(-1), (u * w).sum(-1), (v * w).sum(-1)
    spread = uu * vv - uv * uv
    skew = spread > 1e-12 * uu * vv
    s = np.where(skew, (uv * vw - uw * vv) / np.where(skew, spread, 1.0), 0.0).clip(0.0, 1.0)
    t = (uv * s + vw) / vv
    clipped = t.clip(0.0, 1.0)
    s = np.where(t == clipped, s, ((clipped * uv - uw) / uu).clip(0.0, 1.0))
    apart = w + s[..., None] * u - clipped[..., None] * v
    return float(np.sqrt((apart * apart).sum(-1)).min())
