"""From visible stretches to strokes: no line twice, pieces joined end to end."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from kdkit.frames import Vec2
from kdkit.illustrate.bodies.body import Body, Wire
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.hidden_lines.visible_lines import Stretch

__all__ = ["Stroke", "drop_doubles", "join_strokes"]

_BESIDE = 5e-3  # mm; parallel lines nearer than this are one line
_MEET = 4  # decimals of mm on which ends meet
_LEAST = 0.02  # mm; shorter remains of a double are dropped

_RANK = {"outline": 0, "contact": 1, "edge": 2, "recess": 3, "bore": 3, "mark": 4, "guide": 5}


@dataclass(frozen=True, kw_only=True, slots=True)
class Stroke:
    """A visible polyline, paper mm.

    ``kind``: ``outline`` (a body against something farther or the background),
    ``contact`` (two bodies that touch), ``edge`` (within a body), or the kind of
    the mark or wire.
    """

    body: str
    role: str
    kind: str
    points: tuple[Vec2, ...]
    closed: bool = False


def drop_doubles(stretches: Sequence[Stretch], order: NDArray[np.intp]) -> list[Stretch]:
    """Return the stretches with every line kept once: that which comes first in an order."""
    if not stretches:
        return []
    ends = np.array([(s.start, s.end) for s in stretches])
    p, q = ends[:, 0], ends[:, 1]
    length = np.hypot(*(q - p).T)
    along = (q - p) / np.maximum(length, 1e-12)[:, None]
    low, high = np.minimum(p, q) - _BESIDE, np.maximum(p, q) + _BESIDE
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    i, j = shapely.STRtree(boxes).query(boxes)
    place = np.empty(len(stretches), dtype=np.intp)
    place[order] = np.arange(len(stretches))
    i, j = i[place[j] < place[i]], j[place[j] < place[i]]
    to_p, to_q = p[j] - p[i], q[j] - p[i]
    normal = np.stack([-along[i, 1], along[i, 0]], axis=1)
    beside = np.maximum(np.abs((to_p * normal).sum(1)), np.abs((to_q * normal).sum(1))) < _BESIDE
    t0, t1 = (to_p * along[i]).sum(1), (to_q * along[i]).sum(1)
    start, stop = np.maximum(np.minimum(t0, t1), 0.0), np.minimum(np.maximum(t0, t1), length[i])
    # Very short lines are beside anything; they double only what goes their way.
    way = np.abs((along[i] * along[j]).sum(1)) > 0.999
    real = beside & way & (stop - start > 1e-6)
    taken: dict[int, list[tuple[float, float]]] = {}
    for pair in np.flatnonzero(real).tolist():
        taken.setdefault(int(i[pair]), []).append((float(start[pair]), float(stop[pair])))
    kept: list[Stretch] = []
    for n, stretch in enumerate(stretches):
        if n not in taken:
            kept.append(stretch)
            continue
        at = 0.0
        for a, b in [*sorted(taken[n]), (float(length[n]), float(length[n]))]:
            if a - at > _LEAST:
                s, e = p[n] + along[n] * at, p[n] + along[n] * a
                kept.append(
                    Stretch(
                        owner=stretch.owner,
                        kind=stretch.kind,
                        start=(float(s[0]), float(s[1])),
                        end=(float(e[0]), float(e[1])),
                        depth=stretch.depth,
                        beside=stretch.beside,
                        shaded=stretch.shaded,
                        segment=stretch.segment,
                    )
                )
            at = max(at, b)
    return kept


def join_strokes(
    bodies: Sequence[Body], wires: Sequence[Wire], stretches: Sequence[Stretch], view: View
) -> tuple[Stroke, ...]:
    """Return the strokes on paper; ends of one body and kind that meet are joined.

    Of two lines in one place the heavier stays: outline before contact before edge,
    a new part's before another's, the nearer before the farther.
    """

    def role(owner: int) -> str:
        return bodies[owner].role if owner >= 0 else "wire"

    kept = drop_doubles(stretches, _heaviest_first(stretches, [role(s.owner) for s in stretches]))
    groups: dict[tuple[int, str], list[int]] = {}
    for n, s in enumerate(kept):
        groups.setdefault((s.owner, s.kind), []).append(n)
    knots = _knots(kept)
    found = []
    (dx, dy), scale = view.origin, view.scale
    for (owner, kind), lines in groups.items():
        name = bodies[owner].name if owner >= 0 else wires[-1 - owner].name
        for points, closed in _chains(kept, knots, lines):
            on_paper = tuple([(dx + scale * x, dy + scale * y) for x, y in points])
            found.append(
                Stroke(body=name, role=role(owner), kind=kind, points=on_paper, closed=closed)
            )
    return tuple(found)


def _heaviest_first(stretches: Sequence[Stretch], roles: Sequence[str]) -> NDArray[np.intp]:
    """Return the stretches' numbers, that first which stays where several lie in one place."""
    return np.lexsort(
        (
            np.round([s.depth for s in stretches], 3),
            np.array([role != "new" for role in roles], dtype=bool),
            np.array([_RANK.get(s.kind, 3) for s in stretches], dtype=int),
            np.array([s.shaded for s in stretches], dtype=bool),
        )
    )


def _knots(stretches: Sequence[Stretch]) -> list[tuple[int, int]]:
    """Return for each stretch the numbers of its ends; ends that meet have one number."""
    if not stretches:
        return []
    ends = np.array([(s.start, s.end) for s in stretches]).reshape(-1, 2)
    whole = np.rint(ends * 10.0 ** (_MEET - 1)).astype(np.int64)
    low = whole.min(axis=0)
    place = (whole[:, 0] - low[0]) * (int(whole[:, 1].max()) - int(low[1]) + 1)
    _, number = np.unique(place + whole[:, 1] - low[1], return_inverse=True)
    return [(a, b) for a, b in number.reshape(-1, 2).tolist()]


def _chains(
    stretches: Sequence[Stretch], knots: Sequence[tuple[int, int]], lines: Sequence[int]
) -> list[tuple[list[Vec2], bool]]:
    """Return polylines through the knots where exactly two of some lines meet."""
    at: dict[int, list[int]] = {}
    for n in lines:
        first, last = knots[n]
        at.setdefault(first, []).append(n)
        at.setdefault(last, []).append(n)
    used: set[int] = set()

    def follow(n: int, tip: int) -> list[Vec2]:
        """Go on from the tip of line n as far as the way is the only one."""
        path: list[Vec2] = []
        while True:
            here = at[tip]
            if len(here) != 2:
                return path
            n = here[0] if here[1] == n else here[1]
            if n in used:
                return path
            used.add(n)
            first, last = knots[n]
            forward = first == tip
            tip = last if forward else first
            path.append(stretches[n].end if forward else stretches[n].start)

    found = []
    for n in lines:
        if n in used:
            continue
        used.add(n)
        first, last = knots[n]
        ahead, behind = follow(n, last), follow(n, first)
        path = [*reversed(behind), stretches[n].start, stretches[n].end, *ahead]
        closed = len(path) > 3 and _key(path[0]) == _key(path[-1])
        if closed:
            path.pop()
        found.append((_straightened(path, closed), closed))
    return found


def _key(p: Vec2) -> Vec2:
    return (round(p[0], _MEET - 1), round(p[1], _MEET - 1))


def _straightened(path: list[Vec2], closed: bool) -> list[Vec2]:
    """Return the path without corners that are none."""
    kept = [path[0]]
    for a, b in itertools.pairwise(path):
        o = kept[-1]
        reach = math.dist(o, b)
        off = abs((b[0] - o[0]) * (a[1] - o[1]) - (b[1] - o[1]) * (a[0] - o[0]))
        forward = (a[0] - o[0]) * (b[0] - a[0]) + (a[1] - o[1]) * (b[1] - a[1]) >= 0
        if reach < 1e-9 or off / reach > 1e-4 or not forward:
            kept.append(a)
    if len(path) > 1:
        kept.append(path[-1])
    return kept
