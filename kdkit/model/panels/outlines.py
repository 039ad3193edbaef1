"""Outlines with their notches cut, and the openings inside them; plane coordinates, mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import difference
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Vec2
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.panels.slabs import AXIS_NAMES, side_name
from kdkit.model.words import SizeOrSpan
from kdkit.units import TOLERANCE, mm_text

__all__ = ["Plane", "check_outline", "cut_notches", "read_cutouts", "without_straight_corners"]

_CORNER_STEPS = 12
"""Sides for a rounded corner of an opening, as of a round opening: see ``_square_opening``."""
_SLIVER = 1e-3  # mm²
_GRID = 1e-6  # mm; so that a notch that ends at an edge but for rounding does end there
_SIDE_AXIS = {"left": 0, "right": 0, "front": 1, "back": 1, "bottom": 2, "top": 2}


@dataclass(frozen=True)
class Plane:
    """The plane of one panel: its axes, and where its box lies on them."""

    panel: str
    axes: tuple[int, int]
    least: Vec2
    largest: Vec2

    def index_of(self, axis: int) -> int | None:
        """Return which of the two plane axes an axis is, None for the thickness axis."""
        return self.axes.index(axis) if axis in self.axes else None


def check_outline(points: tuple[Vec2, ...], path: Path, panel: str) -> Problem | None:
    """Return what is wrong with a panel's outline, or None."""
    polygon = Polygon(points)
    if not polygon.is_valid:
        return error("bad-outline", "the outline crosses or touches itself", path, where=panel)
    if polygon.area < 1.0:
        return error("bad-outline", "the outline encloses nothing", path, where=panel)
    for n, point in enumerate(points):
        if math.dist(point, points[(n + 1) % len(points)]) < TOLERANCE:
            return error(
                "bad-outline",
                f"corner {n + 1} and the next are the same point",
                (*path, n),
                where=panel,
                help="the outline closes by itself: do not repeat the first corner",
            )
    return None


def cut_notches(
    outline: tuple[Vec2, ...],
    notches: tuple[says.Notch, ...],
    plane: Plane,
    lengths: Lengths,
    path: Path,
) -> tuple[tuple[Vec2, ...], tuple[bool, ...]]:
    """Return the outline without its notches, and for each segment whether one made it."""
    if not notches:
        return outline, (False,) * len(outline)
    whole = Polygon(outline)
    left = whole
    for n, notch in enumerate(notches):
        at = (*path, n)
        taken = _notch_box(notch, plane, lengths, at)
        if taken is None:
            continue
        rest = _one_piece(difference(left, taken, grid_size=_GRID))
        if rest is None:
            lengths.problems.append(
                error(
                    "bad-notch",
                    "the notch cuts the panel apart or leaves nothing of it",
                    at,
                    where=plane.panel,
                    help="make it smaller; an opening inside the panel belongs under `cutouts`",
                )
            )
        elif rest.area > left.area - TOLERANCE:
            lengths.problems.append(
                error("bad-notch", "the notch takes nothing off", at, where=plane.panel)
            )
        else:
            left = rest
    points = without_straight_corners(
        [(float(c[0]), float(c[1])) for c in left.exterior.coords[:-1]]
    )
    edge = whole.exterior
    made_by_notch = []
    for n, start in enumerate(points):
        end = points[(n + 1) % len(points)]
        middle = LineString([start, end]).interpolate(0.5, normalized=True)
        made_by_notch.append(edge.distance(middle) > TOLERANCE)
    return tuple(points), tuple(made_by_notch)


def read_cutouts(
    cutouts: tuple[says.CutOut, ...],
    outline: tuple[Vec2, ...],
    plane: Plane,
    lengths: Lengths,
    path: Path,
) -> tuple[tuple[tuple[Vec2, ...], ...], tuple[tuple[Vec2, float], ...]]:
    """Return the polygonal and the round openings of a panel."""
    polygons: list[tuple[Vec2, ...]] = []
    rounds: list[tuple[Vec2, float]] = []
    board = Polygon(outline)
    taken: list[Polygon] = []
    for n, cutout in enumerate(cutouts):
        at = (*path, n)
        if cutout.outline is None and not _on_plane(cutout, plane, lengths.problems, at):
            continue
        if cutout.outline is None and cutout.diameter is not None:
            made = _round_opening(cutout, plane, lengths, at)
            if made is None:
                continue
            area = Point(made[0]).buffer(made[1] / 2, quad_segs=16)
        else:
            opening = _square_opening if cutout.outline is None else _drawn_opening
            corners = opening(cutout, plane, lengths, at)
            if corners is None:
                continue
            area = Polygon(corners)
        if not board.contains(area) or board.exterior.distance(area) < TOLERANCE:
            lengths.problems.append(
                error(
                    "bad-cutout",
                    "the opening reaches the panel's edge",
                    at,
                    where=plane.panel,
                    help="an opening at an edge belongs under `notches`",
                )
            )
            continue
        if any(area.distance(other) < TOLERANCE for other in taken):
            lengths.problems.append(
                error("bad-cutout", "the opening meets another one", at, where=plane.panel)
            )
            continue
        taken.append(area)
        if cutout.outline is None and cutout.diameter is not None:
            rounds.append(made)  # type: ignore[arg-type]  # checked above
        else:
            polygons.append(corners)  # type: ignore[arg-type]  # checked above
    return tuple(polygons), tuple(rounds)


def _on_plane(
    said: says.CutOut | says.Notch, plane: Plane, problems: list[Problem], at: Path
) -> bool:
    """Tell whether the two plane axes are given and the thickness axis is not."""
    fine = True
    for axis, name in enumerate(AXIS_NAMES):
        given = getattr(said, name) is not None
        if plane.index_of(axis) is None and given:
            problems.append(
                Problem(
                    code="wrong-axis",
                    message=f"{name} is the thickness of {plane.panel}: it is cut right through",
                    path=(*at, name),
                    help=f"delete {name}",
                    on_key=True,
                )
            )
            fine = False
        elif plane.index_of(axis) is not None and not given:
            problems.append(error("missing-key", f"{name} is missing", at, where=plane.panel))
            fine = False
    return fine


def _round_opening(
    cutout: says.CutOut, plane: Plane, lengths: Lengths, at: Path
) -> tuple[Vec2, float] | None:
    centre = []
    for axis in plane.axes:
        name = AXIS_NAMES[axis]
        said = getattr(cutout, name)
        if isinstance(said, tuple):
            lengths.problems.append(
                error(
                    "wrong-type",
                    f"a round opening has its centre here, not a span: {name}: 100",
                    (*at, name),
                    where=plane.panel,
                )
            )
            continue
        value = lengths.number(said, (*at, name))
        if value is not None:
            centre.append(value)
    assert cutout.diameter is not None  # the caller looked
    diameter = lengths.number(cutout.diameter, (*at, "diameter"))
    if len(centre) < 2 or diameter is None:
        return None
    if diameter < 0.5:
        lengths.problems.append(
            error("out-of-range", f"the diameter is {mm_text(diameter)} mm", (*at, "diameter"))
        )
        return None
    return (centre[0], centre[1]), diameter


def _drawn_opening(
    cutout: says.CutOut, plane: Plane, lengths: Lengths, at: Path
) -> tuple[Vec2, ...] | None:
    """Return an opening that is written as its corners."""
    for other in sorted(cutout.model_fields_set - {"outline"}):
        if getattr(cutout, other) is not None:
            lengths.problems.append(
                Problem(
                    code="wrong-value",
                    message=f"the outline says the whole opening, {other} has no place in it",
                    path=(*at, other),
                    where=plane.panel,
                    help=f"delete {other} or outline",
                    on_key=True,
                )
            )
            return None
    points = []
    for n, corner in enumerate(cutout.outline or ()):
        ends = lengths.numbers(corner, (*at, "outline", n))
        if ends is None:
            return None
        points.append((ends[0], ends[1]))
    fault = check_outline(tuple(points), (*at, "outline"), plane.panel)
    if fault is not None:
        lengths.problems.append(fault)
        return None
    return tuple(without_straight_corners(points))


def _square_opening(
    cutout: says.CutOut, plane: Plane, lengths: Lengths, at: Path
) -> tuple[Vec2, ...] | None:
    spans = [
        _span(getattr(cutout, AXIS_NAMES[a]), lengths, (*at, AXIS_NAMES[a])) for a in plane.axes
    ]
    radius = (
        0.0
        if cutout.corner_radius is None
        else lengths.number(cutout.corner_radius, (*at, "corner_radius"))
    )
    if spans[0] is None or spans[1] is None or radius is None:
        return None
    (u0, u1), (v0, v1) = spans[0], spans[1]
    if radius < 0 or 2 * radius > min(u1 - u0, v1 - v0) + TOLERANCE:
        lengths.problems.append(
            error(
                "out-of-range",
                f"the corner radius of {mm_text(radius)} mm does not fit the opening",
                (*at, "corner_radius"),
                where=plane.panel,
            )
        )
        return None
    if radius < TOLERANCE:
        return ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    # Sides lie round the arc, so that a rod that fits the corner does not overlap the board.
    points = []
    reach = radius / math.cos(math.radians(45 / _CORNER_STEPS))
    centres = ((u1, v0, 270), (u1, v1, 0), (u0, v1, 90), (u0, v0, 180))
    for u, v, begin in centres:
        cu = u - radius if u == u1 else u + radius
        cv = v - radius if v == v1 else v + radius
        for step in range(_CORNER_STEPS):
            angle = math.radians(begin + 90 * (step + 0.5) / _CORNER_STEPS)
            points.append((cu + reach * math.cos(angle), cv + reach * math.sin(angle)))
    return tuple(without_straight_corners(points))


def _span(said: SizeOrSpan, lengths: Lengths, path: Path) -> Vec2 | None:
    if not isinstance(said, tuple):
        lengths.problems.append(
            error("wrong-type", "expected a span: [from, to]", path, help="or give a `diameter`")
        )
        return None
    ends = lengths.numbers(said, path)
    if ends is None:
        return None
    if ends[1] - ends[0] < TOLERANCE:
        lengths.problems.append(
            error("zero-size", f"the span is {mm_text(ends[1] - ends[0])} mm long", path)
        )
        return None
    return (ends[0], ends[1])


def _one_piece(cut: BaseGeometry) -> Polygon | None:
    """Return what is left when it is one piece without holes; slivers of rounding are none."""
    pieces = [
        piece
        for piece in getattr(cut, "geoms", [cut])
        if isinstance(piece, Polygon) and piece.area > _SLIVER
    ]
    if len(pieces) != 1 or any(Polygon(ring).area > _SLIVER for ring in pieces[0].interiors):
        return None
    return Polygon(pieces[0].exterior)


def _notch_box(notch: says.Notch, plane: Plane, lengths: Lengths, at: Path) -> Polygon | None:
    if not _on_plane(notch, plane, lengths.problems, at):
        return None
    by_axis: dict[int, str] = {}
    for n, side in enumerate(notch.at):
        axis = _SIDE_AXIS[side]
        if plane.index_of(axis) is None or axis in by_axis:
            lengths.problems.append(
                error(
                    "bad-notch",
                    f"{plane.panel} has no edge at its {side}"
                    if axis not in by_axis
                    else f"{side} and {by_axis[axis]} do not meet in a corner",
                    (*at, "at", n),
                    where=plane.panel,
                )
            )
            return None
        by_axis[axis] = side
    ends: list[Vec2] = []
    for index, axis in enumerate(plane.axes):
        name = AXIS_NAMES[axis]
        said = getattr(notch, name)
        if isinstance(said, tuple):
            span = _span(said, lengths, (*at, name))
            if span is None:
                return None
            ends.append(span)
            continue
        size = lengths.number(said, (*at, name))
        if size is None:
            return None
        if axis not in by_axis:
            lengths.problems.append(
                error(
                    "wrong-type",
                    f"a notch in the {notch.at[0]} edge needs a span on {name}: [from, to]",
                    (*at, name),
                    where=plane.panel,
                )
            )
            return None
        if size < TOLERANCE:
            lengths.problems.append(
                error("zero-size", f"the notch is {mm_text(size)} mm wide", (*at, name))
            )
            return None
        edge = (plane.least, plane.largest)[by_axis[axis] == side_name(axis, True)][index]
        ends.append((edge, edge + size) if edge == plane.least[index] else (edge - size, edge))
    (u0, u1), (v0, v1) = ends
    return box(u0, v0, u1, v1)


def without_straight_corners(points: list[Vec2]) -> list[Vec2]:
    """Return the outline without corners at which it does not turn."""
    kept = []
    for n, p in enumerate(points):
        before, after = points[n - 1], points[(n + 1) % len(points)]
        turn = (p[0] - before[0]) * (after[1] - p[1]) - (p[1] - before[1]) * (after[0] - p[0])
        if abs(turn) > 1e-9 * max(1.0, math.dist(before, p) * math.dist(p, after)):
            kept.append(p)
    return kept
