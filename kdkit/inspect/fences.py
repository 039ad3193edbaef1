"""Cots and bunk beds: how high their fences stand, what goes through them. Lengths in mm.

A fence is all that stands along one side of a bed's level, seen square to that side. Plain
measures that published rules ask; they are compared, nothing is tested.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.catalogue.kinds import Measure
from kdkit.diagnostics import Path, Problem, warning
from kdkit.geometry.surfaces import corners_of, part_box
from kdkit.inspect.bearing import large_levels
from kdkit.inspect.furniture import kind_names, kinds_of
from kdkit.inspect.inspection import Inspection
from kdkit.model.resolved import Part
from kdkit.units import mm_text

__all__ = ["check_kind_measures", "widest_opening"]

_NEAR = 80.0  # mm from the level's side within which a part stands in its fence
_LOOSE = 0.25  # mm in a diameter that nobody measures
_BAR_GAP = 100.0  # mm between bars that make one fence
_COLUMNS = 40  # at which a fence's height is taken
_LONGEST = 2000.0  # mm; openings are not followed further


@dataclass(frozen=True)
class _Fence:
    """One side of a level: what of it is closed, seen square to it, and its frame."""

    side: str
    closed: BaseGeometry
    low: float  # along the side
    high: float
    base: float  # the level's top
    top: float  # of what stands there, where it is lowest


def check_kind_measures(inspection: Inspection) -> Iterable[Problem]:
    """Compare the measures that a kind's rules ask with those of the product."""
    said = inspection.resolved.said
    names = kind_names(said)
    for name, kind in kinds_of(inspection.resolved.said, inspection.catalogue).items():
        path: Path = ("kind",) if isinstance(said.kind, str) else ("kind", names.index(name))
        levels = large_levels(inspection.assembly.parts)
        for measure in kind.measures.values():
            for level in levels:
                base = max(float(part_box(part)[5]) for part in level)
                if base >= measure.above:
                    yield from _compared(inspection, level, base, measure, path)


def _compared(
    inspection: Inspection, level: Sequence[Part], base: float, measure: Measure, path: Path
) -> Iterator[Problem]:
    if measure.what == "level":
        yield from _told(measure, base, f"the level at {mm_text(base, 0)} mm", path, level)
    elif measure.what == "slats":
        gap, between = _widest_gap(level)
        if between:
            yield from _told(measure, gap, f"the gap between {between}", path, level)
    else:
        fences = list(_fences(inspection, level, base))
        faults = []
        for fence in fences:
            if measure.what == "fence":
                value = max(0.0, fence.top - base)
                what = f"the {fence.side} side, over the level at {mm_text(base, 0)} mm,"
            else:
                value = widest_opening(_open(fence, measure))
                what = f"an opening in the {fence.side} side"
            faults.append((value, [*_told(measure, value, what, path, level)]))
        # the worst may be the way in
        worst = sorted((f for f in faults if f[1]), key=lambda f: abs(f[0] - _asked(measure)))
        for _, told in worst[: max(0, len(worst) - measure.ways_in)]:
            yield from told


def _asked(measure: Measure) -> float:
    return measure.least if measure.least is not None else measure.most or 0.0


def _told(
    measure: Measure, value: float, what: str, path: Path, level: Sequence[Part]
) -> Iterator[Problem]:
    least, most = measure.least, measure.most
    has = {
        "opening": f"lets a ball of {mm_text(value)} mm through",
        "fence": f"stands {mm_text(value)} mm high",
        "slats": f"is {mm_text(value)} mm wide",
        "level": f"lies {mm_text(value)} mm high",
    }[measure.what]
    if least is not None and value < least - _LOOSE:
        limit = f"{mm_text(least)} mm is the least"
    elif most is not None and value > most + _LOOSE:
        limit = f"{mm_text(most)} mm is the most"
    else:
        return
    yield warning(
        "kind-measure",
        f"{what} {has}; {limit}",
        path,
        where=", ".join(part.name for part in level[:4]),
        help=f"source: {measure.source}. One measure of many: the rule itself asks more",
    )


def _fences(inspection: Inspection, level: Sequence[Part], base: float) -> Iterator[_Fence]:
    """Give the four sides of a level."""
    boxes = [part_box(part) for part in level]
    low = [min(float(b[n]) for b in boxes) for n in range(2)]
    high = [max(float(b[n + 3]) for b in boxes) for n in range(2)]
    inside = {part.name for part in level}
    for axis, names in ((1, ("front", "back")), (0, ("left", "right"))):
        along = 1 - axis
        for side, at in zip(names, (low[axis], high[axis]), strict=True):
            standing = [
                part
                for part in inspection.assembly.parts
                if part.name not in inside and _stands_at(part, axis, at, side)
            ]
            shapes = [_shadow(part, along) for part in standing]
            closed = together(shapes)
            top = _lowest_top(closed, low[along], high[along], base)
            yield _Fence(
                side=side, closed=closed, low=low[along], high=high[along], base=base, top=top
            )


def _lowest_top(closed: BaseGeometry, low: float, high: float, base: float) -> float:
    """Return how high a fence reaches where it is lowest; narrow gaps count as closed."""
    solid = closed.buffer(_BAR_GAP / 2, join_style="mitre").buffer(
        -_BAR_GAP / 2, join_style="mitre"
    )
    tops = []
    for n in range(_COLUMNS):
        x = low + (high - low) * (n + 0.5) / _COLUMNS
        column = shared(shapely.LineString([(x, base), (x, base + _LONGEST)]), solid)
        tops.append(column.bounds[3] if not column.is_empty else base)
    return float(min(tops))


def _stands_at(part: Part, axis: int, at: float, side: str) -> bool:
    """Tell whether a part stands along one side of a level, not across it."""
    box = part_box(part)
    near, far = float(box[axis]), float(box[axis + 3])
    if side in ("front", "left"):
        return near <= at + 1.0 and at - _NEAR <= far <= at + _NEAR
    return far >= at - 1.0 and at - _NEAR <= near <= at + _NEAR


def _shadow(part: Part, along: int) -> BaseGeometry:
    """Return what a part covers, seen square to a side: along it, and in height.

    Its broad side with its openings where that is seen, else the hull of its corners.
    """
    if abs(part.frame.k[1 - along]) > 0.999:
        rings = [part.outline, *part.cutouts]
        flat = []
        for ring in rings:
            points = [part.frame.point_to_outer((x, y, 0.0)) for x, y in ring]
            flat.append([(p[along], p[2]) for p in points])
        holes = [
            shapely.Point(
                *(
                    (p := part.frame.point_to_outer((*cut.centre, 0.0)))[along],
                    p[2],
                )
            ).buffer(cut.diameter / 2)
            for cut in part.round_cutouts
        ]
        whole: BaseGeometry = shapely.Polygon(flat[0], flat[1:]).buffer(0)
        return rest_of(whole, together(holes)) if holes else whole
    corners = corners_of(part)
    return MultiPoint([(float(c[along]), float(c[2])) for c in corners]).convex_hull


def _open(fence: _Fence, measure: Measure) -> BaseGeometry:
    """Return what is open between the level and the fence's top."""
    top = fence.top
    if top <= fence.base:
        return shapely.Polygon()
    return rest_of(shapely.box(fence.low, fence.base, fence.high, top), fence.closed)


def widest_opening(region: BaseGeometry) -> float:
    """Return the diameter of the largest circle within a region."""
    widest = 0.0
    for piece in getattr(region, "geoms", [region]):
        if isinstance(piece, Polygon) and piece.area >= 1.0:
            radius = shapely.maximum_inscribed_circle(piece, 0.05).length
            widest = max(widest, 2.0 * float(radius))
    return min(widest, _LONGEST)


def _widest_gap(level: Sequence[Part]) -> tuple[float, str]:
    """Return the widest gap between neighbours of a level, and their names."""
    best, names = 0.0, ""
    if len(level) < 2:
        return best, names
    boxes = np.array([part_box(part) for part in level])
    spread = boxes[:, 3:5].max(axis=0) - boxes[:, :2].min(axis=0)
    axis = int(spread.argmax())
    ordered = sorted(level, key=lambda p: float(part_box(p)[axis]))
    reach, last = float(part_box(ordered[0])[axis + 3]), ordered[0]
    for part in ordered[1:]:
        gap = float(part_box(part)[axis]) - reach
        if gap > best:
            best, names = gap, f"{last.name} and {part.name}"
        if float(part_box(part)[axis + 3]) > reach:
            reach, last = float(part_box(part)[axis + 3]), part
    return best, names
