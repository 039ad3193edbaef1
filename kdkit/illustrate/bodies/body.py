"""Things to draw: planar faces, edges and marks in the product frame, mm."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import PRODUCT, Frame, Vec3

__all__ = ["Body", "Edge", "Face", "Form", "Mark", "Wire", "close_body"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]
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
class Form:
    """A closed solid as it was made, or several that belong together.

    The corners of everything stand in one array, so that a form is turned and projected
    in one go: those of all faces (outer loop, then holes), of all edges, of all marks.
    """

    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    marks: tuple[Mark, ...] = ()

    @cached_property
    def points(self) -> Array:
        """All corners in their order, (N, 3)."""
        at: list[Vec3] = []
        for face in self.faces:
            at.extend(face.outer)
            for hole in face.holes:
                at.extend(hole)
        for edge in self.edges:
            at += (edge.start, edge.end)
        for mark in self.marks:
            at.extend(mark.points)
        return np.array(at, dtype=float).reshape(-1, 3)

    @cached_property
    def normals(self) -> Array:
        """The faces' normals, (F, 3)."""
        return np.array([face.normal for face in self.faces], dtype=float).reshape(-1, 3)

    @cached_property
    def rings(self) -> tuple[tuple[slice, ...], ...]:
        """For each face where its outer loop and its holes stand in ``points``."""
        found = []
        at = 0
        for face in self.faces:
            spans = []
            for loop in (face.outer, *face.holes):
                spans.append(slice(at, at + len(loop)))
                at += len(loop)
            found.append(tuple(spans))
        return tuple(found)

    @cached_property
    def corner_rows(self) -> Rows:
        """Where the corners of all outer loops stand in ``points``."""
        spans = [np.arange(outer.start, outer.stop) for outer, *_ in self.rings]
        return np.concatenate(spans) if spans else np.zeros(0, dtype=np.intp)

    @cached_property
    def edges_at(self) -> int:
        """Where the edges start in ``points``, two corners each."""
        return sum(ring.stop - ring.start for rings in self.rings for ring in rings)

    @cached_property
    def edge_faces(self) -> Rows:
        """The faces at each edge, −1 for none, (E, most at one edge)."""
        most = max((len(edge.faces) for edge in self.edges), default=1)
        padded = [(*edge.faces, *(-1,) * (most - len(edge.faces))) for edge in self.edges]
        return np.array(padded, dtype=np.intp).reshape(-1, most)

    @cached_property
    def sharp(self) -> Flags:
        """Which edges are sharp."""
        return np.array([edge.sharp for edge in self.edges], dtype=bool)

    @cached_property
    def mark_spans(self) -> tuple[slice, ...]:
        """Where each mark stands in ``points``."""
        sizes = [len(mark.points) for mark in self.marks]
        ends = np.cumsum([self.edges_at + 2 * len(self.edges), *sizes]).tolist()
        return tuple(slice(a, b) for a, b in itertools.pairwise(ends))

    @cached_property
    def mark_sides(self) -> tuple[Rows, Rows, Rows]:
        """Of all sides of marks the mark, and where start and end stand in ``points``."""
        which: list[int] = []
        starts: list[int] = []
        for m, (mark, span) in enumerate(zip(self.marks, self.mark_spans, strict=True)):
            sides = range(span.start, span.stop if mark.closed else span.stop - 1)
            which += [m] * len(sides)
            starts += sides
        mark_of, start = np.array(which, dtype=np.intp), np.array(starts, dtype=np.intp)
        firsts = np.array([span.start for span in self.mark_spans], dtype=np.intp)
        lasts = np.array([span.stop - 1 for span in self.mark_spans], dtype=np.intp)
        end = start + 1
        if len(start):
            end = np.where(start == lasts[mark_of], firsts[mark_of], end)
        return mark_of, start, end


@dataclass(frozen=True, kw_only=True)
class Body:
    """A form in its place, to be drawn.

    Args:
        frame: where the form stands.
        role: picks pens and tones: ``new``, ``existing``, ``hardware``, or any other that
            the style knows.
        drawn: of edges, then marks, which are drawn; None for all.

    Bodies may touch and may cut into each other.
    """

    name: str
    form: Form
    frame: Frame = PRODUCT
    role: str = "existing"
    drawn: Flags | None = field(default=None, compare=False)

    @cached_property
    def points(self) -> Array:
        """The form's points in the product frame."""
        frame = self.frame
        if frame is PRODUCT:
            return self.form.points
        turn = np.array([frame.i, frame.j, frame.k])
        placed: Array = self.form.points @ turn + np.array(frame.origin)
        return placed

    @cached_property
    def normals(self) -> Array:
        """The faces' normals in the product frame."""
        frame = self.frame
        if frame is PRODUCT:
            return self.form.normals
        turned: Array = self.form.normals @ np.array([frame.i, frame.j, frame.k])
        return turned

    @property
    def faces(self) -> tuple[Face, ...]:
        """The faces in the product frame."""
        to, form = self.frame.vector_to_outer, self.form
        loops = ([self._loop(span) for span in rings] for rings in form.rings)
        return tuple(
            Face(outer=outer, holes=tuple(holes), normal=to(face.normal), group=face.group)
            for face, (outer, *holes) in zip(form.faces, loops, strict=True)
        )

    @property
    def edges(self) -> tuple[Edge, ...]:
        """The edges in the product frame."""
        at = self.form.edges_at
        ends = [self._loop(slice(at + 2 * n, at + 2 * n + 2)) for n in range(len(self.form.edges))]
        return tuple(
            Edge(start=start, end=end, faces=edge.faces, sharp=edge.sharp)
            for edge, (start, end) in zip(self.form.edges, ends, strict=True)
        )

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The marks in the product frame."""
        return tuple(
            replace(mark, points=self._loop(span))
            for mark, span in zip(self.form.marks, self.form.mark_spans, strict=True)
        )

    def _loop(self, span: slice) -> Loop:
        return tuple((x, y, z) for x, y, z in self.points[span].tolist())

    def moved(self, by: Vec3) -> Body:
        """Return the body shifted by a vector of the product frame."""
        return self.placed(Frame(by, PRODUCT.i, PRODUCT.j, PRODUCT.k))

    def placed(self, frame: Frame) -> Body:
        """Return the body, made at the origin of a frame, in that frame's place."""
        return replace(self, frame=frame.frame_to_outer(self.frame))

    def in_role(self, role: str) -> Body:
        """Return the body with another role."""
        return replace(self, role=role)

    def corners(self) -> Iterator[Vec3]:
        """Yield the corners of all outer loops."""
        yield from ((x, y, z) for x, y, z in self.points[self.form.corner_rows].tolist())


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
    form = Form(faces=tuple(faces), edges=tuple(edges), marks=tuple(marks))
    return Body(name=name, form=form, role=role)


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
