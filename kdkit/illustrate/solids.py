"""Things to draw: planar faces, edges and marks in the product frame, mm."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3, add

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
        return replace(
            self,
            faces=tuple(
                replace(f, outer=_moved(f.outer, by), holes=tuple(_moved(h, by) for h in f.holes))
                for f in self.faces
            ),
            edges=tuple(replace(e, start=add(e.start, by), end=add(e.end, by)) for e in self.edges),
            marks=tuple(replace(m, points=_moved(m.points, by)) for m in self.marks),
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


def _moved(loop: Loop, by: Vec3) -> Loop:
    return tuple(add(p, by) for p in loop)


def close_body(
    name: str, faces: Sequence[Face], marks: Sequence[Mark] = (), role: str = "existing"
) -> Body:
    """Return the body that the faces enclose, its edges found where they meet.

    Faces may meet with a corner of one in the middle of another's side. Where two
    faces of one plane meet there is no edge; where two of one ``group`` meet it is
    smooth.
    """
    loops: list[tuple[int, NDArray[np.float64]]] = []
    for number, face in enumerate(faces):
        for ring in (face.outer, *face.holes):
            loops.append((number, np.array(ring, dtype=float)))
    corners = np.concatenate([loop for _, loop in loops])
    gaps = np.abs(corners[:, None, :] - corners[None, :, :]).max(axis=2)
    label = np.argmax(gaps < _SAME, axis=1)
    single = np.unique(label)
    at = corners[single]

    meeting: dict[tuple[int, int], list[int]] = {}
    offset = 0
    for number, loop in loops:
        marks_of = label[offset : offset + len(loop)]
        offset += len(loop)
        for a, b in zip(marks_of, np.roll(marks_of, -1), strict=True):
            for low, high in _split(int(a), int(b), corners, single, at):
                sides = meeting.setdefault((min(low, high), max(low, high)), [])
                if number not in sides:
                    sides.append(number)
    edges = []
    for (low, high), sides in meeting.items():
        first, *others = (faces[n] for n in sides)
        flat = bool(others) and all(_same_way(first.normal, o.normal) for o in others)
        if flat:
            continue
        smooth = bool(others) and first.group >= 0 and all(o.group == first.group for o in others)
        start, end = corners[low], corners[high]
        edges.append(
            Edge(
                start=(float(start[0]), float(start[1]), float(start[2])),
                end=(float(end[0]), float(end[1]), float(end[2])),
                faces=tuple(sides),
                sharp=not smooth,
            )
        )
    return Body(name=name, faces=tuple(faces), edges=tuple(edges), marks=tuple(marks), role=role)


def _same_way(a: Vec3, b: Vec3) -> bool:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] > 1 - 1e-9


def _split(
    a: int,
    b: int,
    corners: NDArray[np.float64],
    single: NDArray[np.intp],
    at: NDArray[np.float64],
) -> Iterator[tuple[int, int]]:
    """Yield the stretches of a side between the corners that lie on it."""
    if a == b:
        return
    along = corners[b] - corners[a]
    length = float(np.linalg.norm(along))
    along = along / length
    rel = at - corners[a]
    t = rel @ along
    off = np.abs(rel - t[:, None] * along).max(axis=1)
    on = (off < _SAME) & (t > _SAME) & (t < length - _SAME)
    between = single[on][np.argsort(t[on], kind="stable")]
    chain = [a, *(int(n) for n in between), b]
    yield from itertools.pairwise(chain)
