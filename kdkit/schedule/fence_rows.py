"""Bores as a drill with a fence makes them: rows at one distance, stops along the fence.

A row is what one bit at one depth makes along a fence. The fence stands behind the bit, the
reference end meets a stop to the left or to the right of it. On an edge the panel stands
upright with its face against the fence; on face and back one of the datum's two edges is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from kdkit.schedule.hole_kinds import HoleKind, hole_kind
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView

__all__ = [
    "FenceRow",
    "Setting",
    "count_changes",
    "fence_rows",
    "fewest_changes",
    "from_far_end",
    "row_of",
]

_SAME = 2  # decimals of a millimetre within which two places are one stop

Setting = tuple[float, bool, float, float]
"""Bit, whether it is a countersink, depth stop (0 for through), distance of the fence."""


@dataclass(frozen=True, kw_only=True)
class FenceRow:
    """Bores of one kind in one line of one surface.

    Args:
        fence: what lies against the fence: ``face``, or ``x`` or ``y`` for the datum's edge
            where that is 0.
        distance: from the fence to the middle of the bit.
        positions: from the reference end, rising.
        stop: ``left`` or ``right`` of the bit, for who stands before the fence.
        straight: the panel has a straight edge where the fence is to meet it, and one where
            the stop is.
        towards: which way slanted bores run, as of ``DrillLine``.
    """

    panel: PanelViews
    view: SurfaceView
    kind: HoleKind
    fence: str
    distance: float
    positions: tuple[float, ...]
    stop: str
    straight: bool
    bores: tuple[DrillLine, ...]
    towards: float | None = None

    @property
    def setting(self) -> Setting:
        """What is set on the drill for this row."""
        return (self.kind[0], self.kind[3], self.kind[1], round(self.distance, _SAME))


def fence_rows(panel: PanelViews) -> tuple[FenceRow, ...]:
    """Return the rows of a panel; every bore is in one of them."""
    return tuple(row for view in panel.views for row in _rows_of(panel, view))


def _rows_of(panel: PanelViews, view: SurfaceView) -> Iterator[FenceRow]:
    def alike(bore: DrillLine) -> tuple[HoleKind, float]:
        return hole_kind(bore), -1.0 if bore.towards_deg is None else bore.towards_deg

    for _, found in groupby(sorted(view.bores, key=alike), key=alike):
        left = list(found)
        while left:
            axis, line = _longest_line(left, view)
            yield row_of(panel, view, line, axis)
            left = [bore for bore in left if bore not in line]


def _longest_line(bores: Sequence[DrillLine], view: SurfaceView) -> tuple[int, list[DrillLine]]:
    """Return the line that holds the most bores, along x before along y."""
    lines: dict[tuple[int, float], list[DrillLine]] = {}
    for bore in bores:
        lines.setdefault((1, round(bore.y, _SAME)), []).append(bore)
        if not view.is_edge:
            lines.setdefault((0, round(bore.x, _SAME)), []).append(bore)
    (axis, _), line = max(lines.items(), key=lambda item: (len(item[1]), item[0][0], -item[0][1]))
    return axis, line


def row_of(panel: PanelViews, view: SurfaceView, bores: Sequence[DrillLine], axis: int) -> FenceRow:
    """Return bores of one kind as a row; ``axis``: which of x (0) and y (1) they have alike."""
    first = bores[0]
    # With the fence's side turned to the back: which way does the other axis run?
    rightwards = view.y_down if axis == 1 else not view.y_down
    return FenceRow(
        panel=panel,
        view=view,
        kind=hole_kind(first),
        fence="face" if view.is_edge else "xy"[axis],
        distance=(first.x, first.y)[axis],
        positions=tuple(sorted((bore.x, bore.y)[1 - axis] for bore in bores)),
        stop="left" if rightwards else "right",
        straight=view.is_edge or (_edge_at(view, axis) and _edge_at(view, 1 - axis)),
        bores=tuple(sorted(bores, key=lambda b: (b.x, b.y)[1 - axis])),
        towards=first.towards_deg,
    )


def _edge_at(view: SurfaceView, axis: int) -> bool:
    """Tell whether the outline has a side where an axis is 0."""
    return any(
        abs(p[axis]) < 0.01 and abs(ring[(n + 1) % len(ring)][axis]) < 0.01
        for ring in view.outlines
        for n, p in enumerate(ring)
    )


def fewest_changes(rows: Iterable[FenceRow]) -> tuple[FenceRow, ...]:
    """Return rows in an order in which the drill is set anew as seldom as can be.

    Each bit goes in once, wide ones first, as a wide bore leaves no wood to centre it where a
    narrow one was before; countersinks last, which centre themselves in a bore. Under a bit
    each depth is set once. Then a fence stays where it is from one depth or bit to the next
    wherever both need it there.
    """
    ordered = sorted(rows, key=lambda row: (row.kind[3], -row.kind[0], -row.kind[1]))
    groups = [list(found) for _, found in groupby(ordered, key=lambda row: row.setting[:3])]
    fences = _chain([sorted({row.setting[3] for row in group}) for group in groups])
    return tuple(
        row
        for group, distances in zip(groups, fences, strict=True)
        for distance in distances
        for row in group
        if row.setting[3] == distance
    )


def _chain(sets: Sequence[Sequence[float]]) -> list[list[float]]:
    """Return every set in an order; as many as can be end with what the next begins with.

    A value that two neighbours share can link them; a set with several values links to both
    sides by two different ones, a set with one value by that one. The best choice is found
    from the back, as which value a set begins with decides all that comes before.
    """
    best: list[dict[tuple[float, float], tuple[int, tuple[float, float] | None]]] = []
    for n in range(len(sets) - 1, -1, -1):
        values = sets[n]
        ends = [(a, b) for a in values for b in values if a != b or len(values) == 1]
        later = best[-1] if best else {}
        told: dict[tuple[float, float], tuple[int, tuple[float, float] | None]] = {}
        for a, b in ends:
            choices = [((b == pair[0]) + score, pair) for pair, (score, _) in later.items()]
            told[a, b] = max(choices, key=lambda c: (c[0], -c[1][0])) if choices else (0, None)
        best.append(told)
    best.reverse()
    found = []
    pair = max(best[0], key=lambda p: best[0][p][0]) if best else None
    for values, told in zip(sets, best, strict=True):
        assert pair is not None
        first, last = pair
        inner = [v for v in values if v not in pair]
        found.append([first, *inner, last] if len(values) > 1 else [first])
        pair = told[pair][1]
    return found


def count_changes(rows: Iterable[FenceRow]) -> tuple[int, int, int]:
    """Return how often bit, depth stop and fence are set if rows are made in this order."""
    bits = depths = fences = 0
    last: Setting | None = None
    for row in rows:
        new = row.setting
        if last is None or new[:2] != last[:2]:
            bits += 1
        if last is None or new[:3] != last[:3]:
            depths += 1
        if last is None or new[3] != last[3]:
            fences += 1
        last = new
    return bits, depths, fences


def from_far_end(row: FenceRow, size: float) -> FenceRow:
    """Return a row measured from the other end of a side so long; the stop changes sides."""
    return replace(
        row,
        positions=tuple(sorted(size - p for p in row.positions)),
        stop="left" if row.stop == "right" else "right",
    )
