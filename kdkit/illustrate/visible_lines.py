"""Visible lines: which stretches of edges, marks and wires the viewer sees.

Every line is looked at a hair to its left and a hair to its right on paper. On
each side the faces that lie there form intervals along the line; where something
nearer covers both sides the line is hidden. A line that runs along the border of
what covers it is thus kept, one that passes behind the joint of two faces is not.
What is seen beside the line says what the line means: a body against the
background or something farther is an outline, two bodies that touch a contact,
the rest is an edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from kdkit.frames import Vec3
from kdkit.illustrate.depth_order import TOUCH
from kdkit.illustrate.front_faces import Scene
from kdkit.illustrate.solids import Wire
from kdkit.illustrate.surfaces import Surfaces

__all__ = ["Segment", "Stretch", "find_stretches", "list_segments"]

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

_HAIR = 1e-3  # mm beside the line
_SHORT = 0.02  # mm; shorter visible stretches and gaps are noise
_STEP = 0.3  # mm; a smaller step in depth beside an edge is no outline
_CHUNK = 1500  # lines handled in one sweep, to bound the memory


@dataclass(frozen=True, kw_only=True)
class Segment:
    """A straight line to test: product frame; ``kind`` "" lets its surroundings decide."""

    owner: int  # body number, or −1 − wire number
    start: Vec3
    end: Vec3
    kind: str = ""
    known: bool = False  # seen in its whole length, needs no test


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A visible stretch on the paper plane (product mm), with depths at its ends.

    ``beside``: the bodies seen at its two sides, −1 for the background. ``shaded``:
    something nearer covers one side, so that a nearer line runs along here.
    """

    owner: int
    kind: str
    start: tuple[float, float]
    end: tuple[float, float]
    depth: float
    beside: tuple[int, int]
    shaded: bool
    segment: int


def list_segments(scene: Scene, surfaces: Surfaces, wires: Sequence[Wire] = ()) -> list[Segment]:
    """Return everything that may be seen as a line.

    Of the edges: sharp ones with a face toward the viewer, smooth ones between a
    face toward and a face away. What lies on faces that are covered altogether is
    left out, and marks on surface that nothing covers are known to be seen.
    """
    whole = [*scene.shapes, *(shape for _, shape, _ in scene.paints)]
    seen = surfaces.seen
    gone = {n for n, shape in enumerate(seen) if shape.is_empty and n not in surfaces.shared}
    paint_of = {
        (int(scene.body[row]), mark): len(scene.shapes) + n
        for n, (row, _, mark) in enumerate(scene.paints)
    }
    found: list[Segment] = []
    for b, body in enumerate(scene.bodies):
        front = {f: scene.row_of[b, f] for f in range(len(body.faces)) if (b, f) in scene.row_of}
        for edge in body.edges:
            rows = [front[f] for f in edge.faces if f in front]
            if not rows or (not edge.sharp and len(rows) == len(edge.faces)):
                continue
            if not gone.issuperset(rows):
                found.append(Segment(owner=b, start=edge.start, end=edge.end))
        for m, mark in enumerate(body.marks):
            if mark.face not in front:
                continue
            place = paint_of.get((b, m), front[mark.face])
            if place in gone:
                continue
            known = seen[place] is whole[place]
            ends = mark.points[1:] + (mark.points[:1] if mark.closed else ())
            found.extend(
                Segment(owner=b, start=p, end=q, kind=mark.kind, known=known)
                for p, q in zip(mark.points, ends, strict=False)
            )
    for crossing in surfaces.crossings:
        a = crossing.rows[0]
        start, end = (_lifted(scene, a, p) for p in (crossing.start, crossing.end))
        found.append(Segment(owner=int(scene.body[a]), start=start, end=end))
    for w, wire in enumerate(wires):
        found.extend(
            Segment(owner=-1 - w, start=p, end=q, kind=wire.kind)
            for p, q in zip(wire.points, wire.points[1:], strict=False)
        )
    return found


def _lifted(scene: Scene, row: int, at: tuple[float, float]) -> Vec3:
    """Return the point of a face's plane that is seen at a place on the paper plane."""
    a, b, c = scene.planes[row]
    depth = a * at[0] + b * at[1] + c
    right, up, toward = scene.view.axes
    x, y, z = (at[0] * right[n] - at[1] * up[n] - depth * toward[n] for n in range(3))
    return (float(x), float(y), float(z))


def find_stretches(scene: Scene, segments: list[Segment]) -> list[Stretch]:
    """Return the visible stretches of the segments."""
    found: list[Stretch] = []
    for first in range(0, len(segments), _CHUNK):
        found.extend(_sweep(scene, segments, first, min(len(segments), first + _CHUNK)))
    return found


def _sweep(scene: Scene, segments: list[Segment], first: int, last: int) -> Iterator[Stretch]:
    """Yield the visible stretches of segments ``first`` to ``last``, known ones first."""
    ends = np.array([(s.start, s.end) for s in segments[first:last]], dtype=float)
    placed = scene.view.project_many(ends.reshape(-1, 3)).reshape(-1, 2, 3)
    p, q = placed[:, 0], placed[:, 1]
    length = np.hypot(*(q - p)[:, :2].T)
    known = np.array([s.known for s in segments[first:last]], dtype=bool)
    for n in np.flatnonzero(known & (length > 1e-6)).tolist():
        (x0, y0, depth0), (x1, y1, depth1) = placed[n].tolist()
        yield Stretch(
            owner=segments[first + n].owner,
            kind=segments[first + n].kind,
            start=(x0, y0),
            end=(x1, y1),
            depth=(depth0 + depth1) / 2,
            beside=(segments[first + n].owner,) * 2,
            shaded=False,
            segment=first + n,
        )
    long = np.flatnonzero(~known & (length > 1e-6))
    if not len(long):
        return
    p, q, length = p[long], q[long], length[long]
    slope = (q - p) / length[:, None]  # per mm along the line on paper: dx, dy, d depth
    owner = np.array([segments[first + int(n)].owner for n in long], dtype=np.intp)
    spans = _Spans.over(scene, p, slope, length)
    lines = np.concatenate([p, slope], axis=1).tolist()
    which = (first + long).tolist()
    for n, t0, t1, look in _merged(_pieces(scene, spans, owner, length), length):
        segment = segments[which[n]]
        x, y, depth, dx, dy, rise = lines[n]
        yield Stretch(
            owner=segment.owner,
            kind=segment.kind or look[0],
            start=(x + dx * t0, y + dy * t0),
            end=(x + dx * t1, y + dy * t1),
            depth=depth + rise * (t0 + t1) / 2,
            beside=(look[1], look[2]),
            shaded=look[3],
            segment=which[n],
        )


@dataclass(frozen=True, kw_only=True)
class _Spans:
    """Intervals along lines where a face lies beside them, sorted by line.

    ``gap``: depth of the face less depth of the line, at both ends of the interval.
    """

    starts: Rows
    side: Rows
    row: Rows
    low: Array
    high: Array
    gap: Array

    @classmethod
    def over(cls, scene: Scene, p: Array, slope: Array, length: Array) -> _Spans:
        """Find the spans of all lines against all faces in one sweep."""
        count = len(p)
        q = p + slope * length[:, None]
        boxes = shapely.box(
            np.minimum(p, q)[:, 0] - 2 * _HAIR,
            np.minimum(p, q)[:, 1] - 2 * _HAIR,
            np.maximum(p, q)[:, 0] + 2 * _HAIR,
            np.maximum(p, q)[:, 1] + 2 * _HAIR,
        )
        line, row = scene.tree.query(boxes) if len(scene.shapes) else (np.zeros(0, int),) * 2
        # Faces as a flat list of sides (x0, y0, x1, y1), rings closed.
        at, ring = shapely.get_coordinates(shapely.get_rings(scene.shapes), return_index=True)
        ring_row = shapely.get_rings(scene.shapes, return_index=True)[1]
        inner = np.flatnonzero(ring[1:] == ring[:-1])
        side_row = ring_row[ring[inner]]
        from_at, to_at = at[inner], at[inner + 1]
        per_row = np.bincount(side_row, minlength=len(scene.shapes))
        first_side = np.cumsum(per_row) - per_row

        each = per_row[row]
        pair = np.repeat(np.arange(len(row)), each)
        within = np.arange(len(pair)) - np.repeat(np.cumsum(each) - each, each)
        edge = first_side[row][pair] + within
        k = line[pair]
        ux, uy = slope[k, 0], slope[k, 1]
        ax, ay = from_at[edge, 0] - p[k, 0], from_at[edge, 1] - p[k, 1]
        bx, by = to_at[edge, 0] - p[k, 0], to_at[edge, 1] - p[k, 1]
        off_a, off_b = ax * -uy + ay * ux, bx * -uy + by * ux
        t_a, t_b = ax * ux + ay * uy, bx * ux + by * uy
        parts = []
        for side in (0, 1):
            shift = _HAIR if side == 0 else -_HAIR
            cut = np.flatnonzero((off_a > shift) != (off_b > shift))
            share = (shift - off_a[cut]) / (off_b[cut] - off_a[cut])
            t = t_a[cut] + (t_b[cut] - t_a[cut]) * share
            order = np.lexsort((t, pair[cut]))
            t, owner = t[order].reshape(-1, 2), pair[cut][order].reshape(-1, 2)[:, 0]
            low, high = np.maximum(t[:, 0], 0.0), np.minimum(t[:, 1], length[line[owner]])
            keep = high - low > 1e-9
            parts.append((owner[keep], np.full(keep.sum(), side), low[keep], high[keep]))
        owner, sides, low, high = (np.concatenate(column) for column in zip(*parts, strict=True))
        order = np.argsort(line[owner], kind="stable")
        owner, sides, low, high = owner[order], sides[order], low[order], high[order]
        k, f = line[owner], row[owner]
        a, b, c = scene.planes[f].T
        start = a * p[k, 0] + b * p[k, 1] + c - p[k, 2]
        rise = a * slope[k, 0] + b * slope[k, 1] - slope[k, 2]
        gap = np.stack([start + rise * low, start + rise * high], axis=1)
        return cls(
            starts=np.searchsorted(k, np.arange(count + 1)).astype(np.intp),
            side=sides.astype(np.intp),
            row=f.astype(np.intp),
            low=low,
            high=high,
            gap=gap,
        )


_Look = tuple[str, int, int, bool]  # kind, bodies at both sides, shaded
_Piece = tuple[int, float, float, _Look]  # line, from, to


def _pieces(scene: Scene, spans: _Spans, owner: Rows, length: Array) -> Iterator[_Piece]:
    """Yield the visible pieces of lines between all places where something beside changes."""
    lines = len(length)
    each = spans.starts[1:] - spans.starts[:-1]
    of_span = np.repeat(np.arange(lines), each)
    low, high, gap = spans.low, spans.high, spans.gap
    rise = gap[:, 1] - gap[:, 0]
    passing = (gap.min(axis=1) < -TOUCH) & (gap.max(axis=1) > TOUCH)
    through = low - gap[:, 0] * (high - low) / np.where(passing, rise, 1.0)
    every = np.arange(lines)
    line = np.concatenate([every, every, of_span, of_span, of_span[passing]])
    cut = np.concatenate([np.zeros(lines), length, low, high, through[passing]])
    order = np.lexsort((cut, line))
    line, cut = line[order], cut[order]
    fresh = np.r_[True, (line[1:] != line[:-1]) | (np.diff(cut) > 1e-7)]
    line, cut = line[fresh], cut[fresh]
    start = np.flatnonzero(line[1:] == line[:-1])
    of_piece, a, b = line[start], cut[start], cut[start + 1]
    middle = (a + b) / 2

    count = each[of_piece]
    piece = np.repeat(np.arange(len(start)), count)
    within = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    span = spans.starts[of_piece][piece] + within
    at = middle[piece]
    hit = (low[span] < at) & (at < high[span])
    piece, span, at = piece[hit], span[hit], at[hit]
    depth = gap[span, 0] + rise[span] * (at - low[span]) / (high[span] - low[span])
    body = scene.body[spans.row[span]]
    # Among faces at one depth the line's own body comes first.
    ranked = depth - np.where(body == owner[of_piece][piece], TOUCH, 0.0)
    place = piece * 2 + spans.side[span]
    order = np.lexsort((ranked, place))
    place, depth, body = place[order], depth[order], body[order]
    heads = np.flatnonzero(np.r_[True, place[1:] != place[:-1]][: len(place)])
    nearest = np.full(2 * len(start), np.inf)
    seen_gap = np.full(2 * len(start), np.inf)
    seen = np.full(2 * len(start), -1, dtype=np.intp)
    if len(place):
        nearest[place[heads]] = np.minimum.reduceat(depth, heads)
        seen_gap[place[heads]] = depth[heads]
        seen[place[heads]] = body[heads]
    covered = (nearest < -TOUCH).reshape(-1, 2)
    other = (seen != np.repeat(owner[of_piece], 2)).reshape(-1, 2)
    apart = other & ((seen == -1) | (seen_gap > _STEP)).reshape(-1, 2)
    kind = np.where(apart.any(1), "outline", np.where(other.any(1), "contact", "edge"))
    shown = np.flatnonzero(~covered.all(axis=1))
    beside = seen.reshape(-1, 2)
    shaded = covered[shown, 0] | covered[shown, 1]
    for n, t0, t1, what, left, right, covers in zip(
        of_piece[shown].tolist(),
        a[shown].tolist(),
        b[shown].tolist(),
        kind[shown].tolist(),
        beside[shown, 0].tolist(),
        beside[shown, 1].tolist(),
        shaded.tolist(),
        strict=True,
    ):
        yield n, t0, t1, (what, left, right, covers)


def _merged(pieces: Iterator[_Piece], length: Array) -> Iterator[_Piece]:
    """Yield the pieces with like neighbours joined and specks given to their neighbours."""
    last: _Piece | None = None
    least = np.minimum(_SHORT, 0.9 * length).tolist()

    def is_worth_drawing(piece: _Piece) -> bool:
        return bool(piece[2] - piece[1] >= least[piece[0]])

    for piece in pieces:
        if last is not None and piece[0] == last[0] and piece[1] - last[2] < _SHORT:
            if last[3] == piece[3] or piece[2] - piece[1] < _SHORT:
                last = (last[0], last[1], piece[2], last[3])
                continue
            if last[2] - last[1] < _SHORT:
                last = (last[0], last[1], piece[2], piece[3])
                continue
        if last is not None and is_worth_drawing(last):
            yield last
        last = piece
    if last is not None and is_worth_drawing(last):
        yield last
