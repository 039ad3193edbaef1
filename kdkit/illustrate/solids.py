"""Things to draw: planar faces, edges and marks in the product frame, mm."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import PRODUCT, Frame, Vec3

__all__ = ["Body", "Edge", "Face", "Mark", "Wire", "close_body"]

Loop = tuple[Vec3, ...]

_SAME = 1e-4  # mm; corners of one body nearer than this are one corner


@dataclass(frozen=True, kw_only=True)
class Face:
    """A planar face: outer loop and holes, in any sense of turning.

    ``normal``: unit vector out of the solid. ``group``: faces of one body with the
    same group ≥ 0 stand for one curved surface; −1 stands alone.
    """

    outer: Loop
    normal: Vec3
    holes: tuple[Loop, ...] = ()
    group: int = -1


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A straight edge between faces (by number). Not ``sharp``: drawn as silhouette only."""

    start: Vec3
    end: Vec3
    faces: tuple[int, ...]
    sharp: bool = True


@dataclass(frozen=True, kw_only=True)
class Mark:
    """Something on a surface that is no edge: a bore's mouth, a thread, a recess.

    ``points`` lie in the plane of face number ``face``. ``tone`` fills a closed mark
    with that tone of the style; "" leaves it a line.
    """

    points: Loop
    face: int
    kind: str = "mark"
    closed: bool = False
    tone: str = ""


@dataclass(frozen=True, kw_only=True)
class Body:
    """A closed solid to draw, or several that belong together.

    ``role`` picks pens and tones: ``new``, ``existing``, ``hardware``, or any other
    that the style knows. Bodies may touch and may cut into each other.
    """

    name: str
    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    marks: tuple[Mark, ...] = ()
    role: str = "existing"

    def moved(self, by: Vec3) -> Body:
        """Return the body shifted by a vector of the product frame."""
        return self.placed(Frame(by, PRODUCT.i, PRODUCT.j, PRODUCT.k))

    def placed(self, frame: Frame) -> Body:
        """Return the body, made at the origin of a frame, in that frame's place."""
        points: list[Vec3] = []
        for face in self.faces:
            points.extend(face.outer)
            for hole in face.holes:
                points.extend(hole)
        for edge in self.edges:
            points += (edge.start, edge.end)
        for mark in self.marks:
            points.extend(mark.points)
        turn = np.array([frame.i, frame.j, frame.k])
        outer = np.array(points, dtype=float).reshape(-1, 3) @ turn + np.array(frame.origin)
        place = iter([(x, y, z) for x, y, z in outer.tolist()])

        def taken(loop: Loop) -> Loop:
            return tuple(itertools.islice(place, len(loop)))

        return Body(
            name=self.name,
            faces=tuple(
                Face(
                    outer=taken(f.outer),
                    holes=tuple(taken(hole) for hole in f.holes),
                    normal=frame.vector_to_outer(f.normal),
                    group=f.group,
                )
                for f in self.faces
            ),
            edges=tuple(
                Edge(start=next(place), end=next(place), faces=e.faces, sharp=e.sharp)
                for e in self.edges
            ),
            marks=tuple(
                Mark(points=taken(m.points), face=m.face, kind=m.kind, closed=m.closed, tone=m.tone)
                for m in self.marks
            ),
            role=self.role,
        )

    def in_role(self, role: str) -> Body:
        """Return the body with another role."""
        return replace(self, role=role)

    def corners(self) -> Iterator[Vec3]:
        """Yield the corners of all outer loops."""
        for face in self.faces:
            yield from face.outer


@dataclass(frozen=True, kw_only=True)
class Wire:
    """A line in space that is no part of a body, hidden by bodies: a guide line."""

    name: str
    points: Loop
    kind: str = "guide"


def close_body(
    name: str, faces: Sequence[Face], marks: Sequence[Mark] = (), role: str = "existing"
) -> Body:
    """Return the body that the faces enclose, its edges found where they meet.

    Faces may meet with a corner of one in the middle of another's side. Where two
    faces of one plane meet there is no edge; where two of one ``group`` meet it is
    smooth.
    """
    rings = [(n, ring) for n, face in enumerate(faces) for ring in (face.outer, *face.holes)]
    corners = np.array([p for _, ring in rings for p in ring], dtype=float)
    gaps = np.abs(corners[:, None, :] - corners[None, :, :]).max(axis=2)
    label = np.argmax(gaps < _SAME, axis=1)
    owner: list[int] = []
    follower: list[int] = []
    for number, ring in rings:
        first = len(owner)
        owner.extend([number] * len(ring))
        follower.extend([*range(first + 1, first + len(ring)), first])
    meeting: dict[tuple[int, int], list[int]] = {}
    for number, chain in zip(owner, _split(corners, label, label[follower]), strict=True):
        for a, b in itertools.pairwise(chain):
            sides = meeting.setdefault((min(a, b), max(a, b)), [])
            if number not in sides:
                sides.append(number)
    at: list[Vec3] = [(x, y, z) for x, y, z in corners.tolist()]
    edges = []
    for (low, high), sides in meeting.items():
        first_face, *others = (faces[n] for n in sides)
        flat = bool(others) and all(_same_way(first_face.normal, o.normal) for o in others)
        if flat:
            continue
        smooth = (
            bool(others)
            and first_face.group >= 0
            and len({o.group for o in (first_face, *others)}) == 1
        )
        edges.append(Edge(start=at[low], end=at[high], faces=tuple(sides), sharp=not smooth))
    return Body(name=name, faces=tuple(faces), edges=tuple(edges), marks=tuple(marks), role=role)


def _same_way(a: Vec3, b: Vec3) -> bool:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] > 1 - 1e-9


def _split(
    corners: NDArray[np.float64], start: NDArray[np.intp], end: NDArray[np.intp]
) -> list[list[int]]:
    """Return for each side the corners from its start over those that lie on it to its end."""
    single = np.unique(start)
    along = corners[end] - corners[start]
    length = np.sqrt((along**2).sum(axis=1))
    along = along / np.maximum(length, 1e-12)[:, None]
    rel = corners[single][None] - corners[start][:, None]
    t = (rel * along[:, None]).sum(axis=2)
    off = np.abs(rel - t[:, :, None] * along[:, None]).max(axis=2)
    on = (off < _SAME) & (t > _SAME) & (t < length[:, None] - _SAME)
    chains = [[a, b] if a != b else [] for a, b in zip(start.tolist(), end.tolist(), strict=True)]
    for side in np.flatnonzero(on.any(axis=1)).tolist():
        between = np.flatnonzero(on[side])
        between = between[np.argsort(t[side][between], kind="stable")]
        chains[side][1:1] = single[between].tolist()
    return chains
