"""How far two parts are apart, and how much they overlap. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kdkit.frames import Frame, Vec3
from kdkit.geometry.clipping import Points, clip, piece_faces, piece_hull
from kdkit.geometry.convex import ConvexPiece, part_pieces
from kdkit.geometry.surfaces import corners_of, surfaces_of
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE

__all__ = [
    "Overlap",
    "Prism",
    "free_way",
    "gap_between",
    "overlap_between",
    "overlap_of_prisms",
    "part_prisms",
]


@dataclass(frozen=True)
class Overlap:
    """What two parts have in common: volume in mm³, and how deep one stands in the other.

    ``depth`` is the shortest way that parts the deepest pair of convex pieces.
    """

    volume: float
    depth: float


class Prism:
    """A convex piece of a part in the product: its corners, planes and edge directions.

    Args:
        piece: in the panel frame.
        frame: the panel frame in the product.
    """

    def __init__(self, piece: ConvexPiece, frame: Frame) -> None:
        axes = np.array([frame.i, frame.j, frame.k])
        origin = np.array(frame.origin)
        self._faces = [face @ axes + origin for face in piece_faces(piece)]
        if piece.cuts:
            corners, normals, _, ends = piece_hull(piece)
            along = corners[ends[:, 1]] - corners[ends[:, 0]]
            directions = along / np.linalg.norm(along, axis=1)[:, None]
        else:
            corners, normals, directions = _prism_parts(piece)
        self.points: Points = corners @ axes + origin
        self.normals: Points = normals @ axes
        self.directions: Points = directions @ axes
        self.offsets: Points = (self.points @ self.normals.T).max(axis=0)
        self.low: Points = self.points.min(axis=0)
        self.high: Points = self.points.max(axis=0)

    def faces(self) -> list[Points]:
        """Return the boundary as polygons, counter-clockwise seen from outside."""
        return self._faces


def _prism_parts(piece: ConvexPiece) -> tuple[Points, Points, Points]:
    """Return corners, normals and edge directions of an upright prism, panel frame."""
    plan = np.asarray(piece.polygon, dtype=np.float64)
    n = len(plan)
    corners = np.zeros((2 * n, 3))
    corners[:n, :2], corners[n:, :2] = plan, plan
    corners[:n, 2], corners[n:, 2] = piece.z0, piece.z1
    along = np.roll(plan, -1, axis=0) - plan
    along /= np.linalg.norm(along, axis=1)[:, None]
    normals = np.zeros((n + 2, 3))
    normals[:n, 0], normals[:n, 1] = along[:, 1], -along[:, 0]
    normals[n], normals[n + 1] = [0.0, 0.0, 1.0], [0.0, 0.0, -1.0]
    directions = np.zeros((n + 1, 3))
    directions[:n, :2] = along
    directions[n] = [0.0, 0.0, 1.0]
    return corners, normals, directions


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


def free_way(moving: Sequence[Prism], standing: Sequence[Prism], way: Vec3, length: float) -> float:
    """Return how far prisms move straight on before they run into others, at most ``length``.

    Prisms that overlap by no more than ``TOLERANCE`` only touch.

    Args:
        way: unit vector.
        length: mm.
    """
    free = length
    for a in moving:
        for b in standing:
            if _swept_depth(a, b, np.array(way) * free) <= TOLERANCE:
                continue
            low, high = 0.0, free
            while high - low > TOLERANCE:
                middle = (low + high) / 2
                if _swept_depth(a, b, np.array(way) * middle) > TOLERANCE:
                    high = middle
                else:
                    low = middle
            free = low
    return free


def _swept_depth(a: Prism, b: Prism, move: Points) -> float:
    """Return the least overlap of what a prism sweeps with another; ≤ 0 when apart.

    Source:
        The separating axis theorem for the sum of a convex polyhedron and a segment: the
        segment is one more edge direction of it.
    """
    low, high = np.minimum(a.low, a.low + move), np.maximum(a.high, a.high + move)
    if (low >= b.high).any() or (high <= b.low).any():
        return 0.0
    size = float(np.linalg.norm(move))
    directions = a.directions if size < TOLERANCE else np.vstack([a.directions, move / size])
    sides = np.cross(a.directions, move / size) if size >= TOLERANCE else np.zeros((0, 3))
    crossed = np.vstack(
        [np.cross(directions[:, None, :], b.directions[None, :, :]).reshape(-1, 3), sides]
    )
    length = np.linalg.norm(crossed, axis=1)
    crossed = crossed[length > 1e-7] / length[length > 1e-7, None]
    axes = np.vstack([a.normals, b.normals, crossed])
    on_a, on_b, along = axes @ a.points.T, axes @ b.points.T, axes @ move
    least = on_a.min(axis=1) + np.minimum(along, 0.0)
    most = on_a.max(axis=1) + np.maximum(along, 0.0)
    shared = np.minimum(most - on_b.min(axis=1), on_b.max(axis=1) - least)
    return float(shared.min())


def _common_volume(a: Prism, b: Prism) -> float:
    """Return the volume of one prism clipped by the planes of the other."""
    centre = (np.maximum(a.low, b.low) + np.minimum(a.high, b.high)) / 2
    faces = [face - centre for face in a.faces()]
    for normal, offset in zip(b.normals, b.offsets, strict=True):
        faces = clip(faces, normal, float(offset - normal @ centre))
        if not faces:
            return 0.0
    volume = 0.0
    for face in faces:
        for n in range(1, len(face) - 1):
            volume += float(face[0] @ np.cross(face[n], face[n + 1]))
    return max(volume / 6.0, 0.0)


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
    rings = [(face_ring(part), back_ring(part)), *((ring, ring) for ring in part.cutouts)]
    starts, ends = [], []
    axes = np.array([part.frame.i, part.frame.j, part.frame.k])
    for at_face, at_back in rings:
        face = np.array([(x, y, 0.0) for x, y in at_face])
        back = np.array([(x, y, -part.thickness) for x, y in at_back])
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
