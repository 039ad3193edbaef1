"""Convex bodies as closed rings of corners, and what is left of them beyond a plane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kdkit.geometry.convex import ConvexPiece

__all__ = ["Hull", "Points", "clip", "piece_faces", "piece_hull"]

Points = NDArray[np.float64]

_SAME = 1e-7  # mm

Hull = tuple[Points, Points, Points, NDArray[np.intp]]
"""Corners (n, 3); normals (f, 3) and how far their planes lie out along them; the two ends of
each edge as numbers of corners (e, 2)."""


def piece_faces(piece: ConvexPiece) -> list[Points]:
    """Return the boundary of a convex piece, each face counter-clockwise seen from outside."""
    plan = np.asarray(piece.polygon, dtype=np.float64)
    n = len(plan)
    low = np.column_stack([plan, np.full(n, piece.z0)])
    high = np.column_stack([plan, np.full(n, piece.z1)])
    faces = [low[::-1], high]
    for at in range(n):
        to = (at + 1) % n
        faces.append(np.array([low[at], low[to], high[to], high[at]]))
    for normal, offset in piece.cuts:
        faces = clip(faces, np.array(normal), offset)
    return faces


def piece_hull(piece: ConvexPiece) -> Hull:
    """Return a convex piece's corners, planes and edges, panel frame."""
    faces = piece_faces(piece)
    corners: list[Points] = []
    edges: dict[tuple[int, int], None] = {}
    normals, offsets = [], []
    for face in faces:
        ring: list[int] = []
        for p in face:
            at = next(
                (n for n, c in enumerate(corners) if np.abs(c - p).max() < _SAME), len(corners)
            )
            if at == len(corners):
                corners.append(p)
            if not ring or ring[-1] != at:
                ring.append(at)
        if len(ring) > 1 and ring[0] == ring[-1]:
            ring.pop()
        if len(ring) < 3:
            continue
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            edges.setdefault((min(a, b), max(a, b)))
        turned = np.zeros(3)
        for n in range(1, len(ring) - 1):
            one, other = corners[ring[n]] - face[0], corners[ring[n + 1]] - face[0]
            turned += np.cross(one, other)
        normal = turned / np.linalg.norm(turned)
        normals.append(normal)
        offsets.append(float(normal @ corners[ring[0]]))
    return (
        np.array(corners),
        np.array(normals),
        np.array(offsets),
        np.array(list(edges), dtype=np.intp),
    )


def clip(faces: list[Points], normal: Points, offset: float) -> list[Points]:
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
