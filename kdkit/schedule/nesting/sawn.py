"""A sheet with panels on it, and the cuts from side to side that free them.

A saw for boards cuts right through, so every layout is guillotine: each cut runs from
side to side of the piece that it parts; that the cuts are found proves it. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

__all__ = ["Cut", "Laid", "Rect", "SheetPlan", "find_cuts", "rect_area", "sawn"]

_NEAR = 0.02  # of places counted in hundredths, mm
_LEAST_OFFCUT = 100.0  # narrower pieces are waste; common practice

Rect = tuple[float, float, float, float]
"""Least x and y, greatest x and y, from a corner of the sheet as bought."""


@dataclass(frozen=True)
class Laid:
    """One panel on a sheet: its letter, its place, whether its length lies across."""

    letter: str
    place: Rect
    turned: bool


@dataclass(frozen=True)
class Cut:
    """One cut right across a piece: ``across_x`` at x = ``at``, else at y = ``at``."""

    piece: Rect
    across_x: bool
    at: float


@dataclass(frozen=True)
class SheetPlan:
    """One sheet: its panels, its cuts in order, the offcuts worth keeping."""

    size: tuple[float, float]
    laid: tuple[Laid, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Rect, ...]


def sawn(laid: Sequence[Laid], size: tuple[float, float], kerf: float, trim: float) -> SheetPlan:
    """Return a sheet with its cuts and offcuts."""
    ordered = tuple(sorted(laid, key=lambda piece: (piece.place[1], piece.place[0])))
    inner = (trim, trim, size[0] - trim, size[1] - trim)
    cuts, offcuts = find_cuts(inner, [piece.place for piece in ordered], kerf)
    return SheetPlan(size, ordered, cuts, offcuts)


def find_cuts(
    piece: Rect, panels: Sequence[Rect], kerf: float
) -> tuple[tuple[Cut, ...], tuple[Rect, ...]]:
    """Return the cuts, in order, that free every panel from a piece, and the offcuts.

    Raises:
        ValueError: no cut from side to side parts the panels: the layout is not one
            that a saw can cut (a fault in kdkit).
    """
    cuts: list[Cut] = []
    offcuts: list[Rect] = []
    open_pieces = [(piece, list(panels))]
    while open_pieces:
        whole, inside = open_pieces.pop(0)
        if not inside:
            if min(whole[2] - whole[0], whole[3] - whole[1]) >= _LEAST_OFFCUT:
                offcuts.append(whole)
            continue
        if len(inside) == 1 and _same(whole, inside[0], kerf):
            continue
        cut, parts = _first_cut(whole, inside, kerf)
        cuts.append(cut)
        open_pieces = [*parts, *open_pieces]
    return tuple(cuts), tuple(sorted(offcuts, key=lambda o: -rect_area(o)))


def _same(whole: Rect, panel: Rect, kerf: float) -> bool:
    """Tell whether nothing is left beside a panel, or less than the saw takes."""
    return all(
        panel[axis] - whole[axis] <= kerf + _NEAR
        and whole[axis + 2] - panel[axis + 2] <= kerf + _NEAR
        for axis in (0, 1)
    )


def _first_cut(
    whole: Rect, inside: Sequence[Rect], kerf: float
) -> tuple[Cut, list[tuple[Rect, list[Rect]]]]:
    """Return a cut through a piece and its two parts with what lies in them.

    Of all cuts the one is taken that leaves the larger empty part; without such a one,
    the first.
    """
    best: tuple[float, Cut, list[tuple[Rect, list[Rect]]]] | None = None
    for axis, at in _candidates(whole, inside, kerf):
        low = [p for p in inside if p[axis + 2] <= at + _NEAR]
        high = [p for p in inside if p[axis] >= at + kerf - _NEAR]
        if len(low) + len(high) < len(inside) or whole[axis + 2] - at < _NEAR:
            continue
        x0, y0, x1, y1 = whole
        beyond = min(at + kerf, whole[axis + 2])
        near: Rect = (x0, y0, at, y1) if axis == 0 else (x0, y0, x1, at)
        far: Rect = (beyond, y0, x1, y1) if axis == 0 else (x0, beyond, x1, y1)
        empty = (0.0 if high else rect_area(far)) + (0.0 if low else rect_area(near))
        if best is None or empty > best[0]:
            best = (empty, Cut(whole, axis == 0, at), [(near, low), (far, high)])
    if best is None:
        raise ValueError("no cut from side to side parts these panels")
    return best[1], best[2]


def _candidates(whole: Rect, inside: Sequence[Rect], kerf: float) -> Iterator[tuple[int, float]]:
    """Yield where a saw may go: behind a panel, or before one with room there."""
    for axis in (0, 1):
        behind = {round(p[axis + 2], 3) for p in inside}
        before = {round(p[axis] - kerf, 3) for p in inside if p[axis] - whole[axis] > kerf + _NEAR}
        for at in sorted(behind | before):
            yield axis, at


def rect_area(rect: Rect) -> float:
    return max(0.0, rect[2] - rect[0]) * max(0.0, rect[3] - rect[1])
