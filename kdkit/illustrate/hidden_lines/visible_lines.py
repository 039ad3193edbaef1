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

from kdkit.illustrate.bodies.body import Wire
from kdkit.illustrate.hidden_lines.depth_order import TOUCH
from kdkit.illustrate.hidden_lines.front_faces import FrontFaces
from kdkit.illustrate.hidden_lines.visible_surfaces import VisibleSurfaces

__all__ = ["Segments", "Stretch", "find_stretches", "list_segments"]

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

_HAIR = 1e-3  # mm beside the line
_SHORT = 0.02  # mm; shorter visible stretches and gaps are noise
_STEP = 0.3  # mm; a smaller step in depth beside an edge is no outline
_CHUNK = 1500  # lines handled in one sweep, to bound the memory


@dataclass(frozen=True, kw_only=True)
class Segments:
    """Straight lines to test, each one row.

    Args:
        owner: body number, or −1 − wire number.
        start, end: (x, y, depth) in product mm.
        kind: "" lets the surroundings decide.
        known: seen in its whole length, needs no test.
    """

    owner: Rows
    start: Array
    end: Array
    kind: tuple[str, ...]
    known: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, slots=True)
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


def list_segments(
    fronts: FrontFaces, surfaces: VisibleSurfaces, wires: Sequence[Wire] = ()
) -> Segments:
    """Return everything that may be seen as a line.

    Of the edges: sharp ones with a face toward the viewer, smooth ones between a
    face toward and a face away. What lies on faces that are covered altogether is
    left out, and marks on surface that nothing covers are known to be seen.
    """
    whole = [*fronts.shapes, *(shape for _, shape, _ in fronts.paints)]
    gone = shapely.is_empty(np.array(surfaces.seen, dtype=object))
    gone[list(surfaces.shared)] = False
    free = np.array([a is b for a, b in zip(surfaces.seen, whole, strict=True)], dtype=bool)
    paints: dict[int, list[tuple[int, int]]] = {}
    for n, (row, _, mark) in enumerate(fronts.paints):
        paints.setdefault(int(fronts.body[row]), []).append((mark, len(fronts.shapes) + n))
    owners: list[int] = []
    ends: list[tuple[Array, Array]] = []
    kinds: list[str] = []
    known: list[NDArray[np.bool_]] = []

    def add(
        owner: int, start: Array, end: Array, kind: Sequence[str], sure: object = False
    ) -> None:
        owners.extend([owner] * len(start))
        ends.append((start, end))
        kinds.extend(kind)
        known.append(np.broadcast_to(np.asarray(sure, dtype=bool), len(start)))

    for b, body in enumerate(fronts.bodies):
        form, at = body.form, fronts.placed[b]
        front = np.append(fronts.rows_of(b), -1)
        rows = front[form.edge_faces]
        is_front = rows >= 0
        bends = form.sharp | (is_front.sum(axis=1) < (form.edge_faces >= 0).sum(axis=1))
        drawn = bends & (is_front & ~gone[rows]).any(axis=1) if len(rows) else bends
        if body.drawn is not None:
            drawn = drawn & body.drawn[: len(drawn)]
        first = form.edges_at + 2 * np.flatnonzero(drawn)
        add(b, at[first], at[first + 1], [""] * len(first))
        if not form.marks:
            continue
        place = front[[mark.face for mark in form.marks]]
        shown = place >= 0
        for m, row in paints.get(b, ()):
            place[m] = row
        shown &= ~gone[place]
        if body.drawn is not None:
            shown = shown & body.drawn[len(form.edges) :]
        which, start, end = form.mark_sides
        which, start, end = which[shown[which]], start[shown[which]], end[shown[which]]
        add(
            b,
            at[start],
            at[end],
            [form.marks[m].kind for m in which.tolist()],
            free[place[which]],
        )
    for crossing in surfaces.crossings:
        row = crossing.rows[0]
        line = np.array([crossing.start, crossing.end])
        depth = line @ fronts.planes[row, :2] + fronts.planes[row, 2]
        p, q = np.column_stack([line, depth])
        add(int(fronts.body[row]), p[None], q[None], [""])
    for w, wire in enumerate(wires):
        at = fronts.view.project_many(np.array(wire.points, dtype=float))
        add(-1 - w, at[:-1], at[1:], [wire.kind] * (len(at) - 1))
    return Segments(
        owner=np.array(owners, dtype=np.intp),
        start=np.concatenate([np.zeros((0, 3)), *(start for start, _ in ends)]),
        end=np.concatenate([np.zeros((0, 3)), *(end for _, end in ends)]),
        kind=tuple(kinds),
        known=np.concatenate([np.zeros(0, dtype=bool), *known]),
    )


def find_stretches(fronts: FrontFaces, segments: Segments) -> list[Stretch]:
    """Return the visible stretches of the segments."""
    found: list[Stretch] = []
    for first in range(0, len(segments.owner), _CHUNK):
        found.extend(_sweep(fronts, segments, np.arange(len(segments.owner))[first:][:_CHUNK]))
    return found


def _sweep(fronts: FrontFaces, segments: Segments, rows: Rows) -> Iterator[Stretch]:
    """Yield the visible stretches of some segments, known ones first."""
    length = np.hypot(*(segments.end[rows] - segments.start[rows])[:, :2].T)
    rows, length = rows[length > 1e-6], length[length > 1e-6]
    known = segments.known[rows]
    for n, p, q, owner in zip(
        rows[known].tolist(),
        segments.start[rows[known]].tolist(),
        segments.end[rows[known]].tolist(),
        segments.owner[rows[known]].tolist(),
        strict=True,
    ):
        yield Stretch(
            owner=owner,
            kind=segments.kind[n],
            start=(p[0], p[1]),
            end=(q[0], q[1]),
            depth=(p[2] + q[2]) / 2,
            beside=(owner, owner),
            shaded=False,
            segment=n,
        )
    rows, length = rows[~known], length[~known]
    if not len(rows):
        return
    p, q = segments.start[rows], segments.end[rows]
    slope = (q - p) / length[:, None]  # per mm along the line on paper: dx, dy, d depth
    owner = segments.owner[rows]
    spans = _Spans.over(fronts, p, slope, length)
    lines = np.concatenate([p, slope], axis=1).tolist()
    which, owners = rows.tolist(), owner.tolist()
    for n, t0, t1, look in _merged(_pieces(fronts, spans, owner, length), length):
        x, y, depth, dx, dy, rise = lines[n]
        yield Stretch(
            owner=owners[n],
            kind=segments.kind[which[n]] or look[0],
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
    def over(cls, fronts: FrontFaces, p: Array, slope: Array, length: Array) -> _Spans:
        """Find the spans of all lines against all faces in one sweep."""
        count = len(p)
        q = p + slope * length[:, None]
        boxes = shapely.box(
            np.minimum(p, q)[:, 0] - 2 * _HAIR,
            np.minimum(p, q)[:, 1] - 2 * _HAIR,
            np.maximum(p, q)[:, 0] + 2 * _HAIR,
            np.maximum(p, q)[:, 1] + 2 * _HAIR,
        )
        line, row = fronts.tree.query(boxes) if len(fronts.shapes) else (np.zeros(0, int),) * 2
        # Faces as a flat list of sides (x0, y0, x1, y1), rings closed.
        at, ring = shapely.get_coordinates(shapely.get_rings(fronts.shapes), return_index=True)
        ring_row = shapely.get_rings(fronts.shapes, return_index=True)[1]
        inner = np.flatnonzero(ring[1:] == ring[:-1])
        side_row = ring_row[ring[inner]]
        from_at, to_at = at[inner], at[inner + 1]
        per_row = np.bincount(side_row, minlength=len(fronts.shapes))
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
        a, b, c = fronts.planes[f].T
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


def _pieces(fronts: FrontFaces, spans: _Spans, owner: Rows, length: Array) -> Iterator[_Piece]:
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
    body = fronts.body[spans.row[span]]
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
