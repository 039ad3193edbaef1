"""Rows of bores for loose shelves, and the supports that a shelf needs in them.

Source:
    32 mm system: pitch 32, bore Ø5, front row 37 behind the front edge: common practice,
    no source. A balanced panel has the same distance a below its lowest bore as above its
    highest, so its height is 2a + 32n (computed).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.diagnostics import Path, Problem, error, warning
from kdkit.frames import Frame, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.members import Member
from kdkit.model.resolved import Part, RowsSpec, Standpoint
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "Row",
    "balanced_heights",
    "row_heights",
    "rows_ahead",
    "rows_on",
    "supports_for",
    "upright_frame",
]

_MOST_BORES = 2000
_UPRIGHT = 0.5  # cosine to the vertical below which a surface stands
_REACH = 4.0  # how far out of the surface a support is asked whether a shelf lies over it
_REST = 0.5  # a shelf may stand this far over its supports


@dataclass(frozen=True)
class Row:
    """One upright row: fastener frames from the lowest bore up, and their heights."""

    part: str
    surface: str
    side: str
    frames: tuple[Frame, ...]
    heights: tuple[float, ...]


def row_heights(first: float, last: float, pitch: float) -> tuple[float, ...]:
    """Return the heights of a row's bores, from ``first`` up, none past ``last``."""
    return tuple(first + n * pitch for n in range(math.floor((last - first) / pitch + 1e-6) + 1))


def balanced_heights(first: float, last: float, pitch: float) -> tuple[float, ...]:
    """Return the heights of a row's bores, as far from ``first`` below as ``last`` above."""
    gaps = math.floor((last - first) / pitch + 1e-6)
    start = first + (last - first - gaps * pitch) / 2
    return tuple(start + n * pitch for n in range(gaps + 1))


def upright_frame(part: Part, surface: str, origin: Vec3, seen: Standpoint) -> Frame:
    """Return a fixture's frame on a surface: k out of it, j up (on a lying one: back).

    Args:
        origin: in the product, on the surface.
        seen: who says the fixture; up and back are the sayer's.
    """
    k = part.frame.vector_to_outer(surface_frame(part, surface).k)
    wanted = seen.way("+z") if abs(dot(k, seen.way("+z"))) < 0.9 else seen.way("+y")
    j = unit(sub(wanted, scaled(k, dot(wanted, k))))
    return Frame(origin, cross(j, k), j, k)


def rows_ahead(frame: Frame, seen: Standpoint) -> int:
    """Return 1 where i of an upright frame runs to the sayer's back (or right), else −1."""
    deep, across = dot(frame.i, seen.way("+y")), dot(frame.i, seen.way("+x"))
    return -1 if (deep if abs(deep) > abs(across) else across) < 0 else 1


def rows_on(
    member: Member,
    surface: str,
    rows: RowsSpec,
    balanced: bool,
    seen: Standpoint,
    path: Path,
    where: str,
) -> tuple[tuple[Row, ...], tuple[Problem, ...]]:
    """Return the front and the back row on one surface of an upright part.

    Front and back are the part's ends along the surface, so that a mirrored part has
    mirrored rows; on a surface that looks to the front or back, left and right.
    """
    part = member.part
    frame = upright_frame(part, surface, part.frame.point_to_outer(_corner(part, surface)), seen)
    problem = _bad_rows(rows, frame, path, where)
    if problem is not None:
        return (), (problem,)
    heights = (balanced_heights if balanced else row_heights)(rows.first, rows.last, rows.pitch)
    along = scaled(frame.i, float(rows_ahead(frame, seen)))
    reach = [
        dot(sub(part.frame.point_to_outer((x, y, 0.0)), frame.origin), along)
        for x, y in part.outline
    ]
    found = []
    for side, place in (
        ("front", None if rows.front is None else min(reach) + rows.front),
        ("back", None if rows.back is None else max(reach) - rows.back),
    ):
        if place is None:
            continue
        frames = []
        for height in heights:
            up = (height - frame.origin[2]) / frame.j[2]
            origin = add(frame.origin, add(scaled(along, place), scaled(frame.j, up)))
            frames.append(Frame(origin, frame.i, frame.j, frame.k))
        found.append(Row(part.name, surface, side, tuple(frames), heights))
    return tuple(found), ()


def _corner(part: Part, surface: str) -> Vec3:
    return surface_frame(part, surface).origin


def _bad_rows(rows: RowsSpec, frame: Frame, path: Path, where: str) -> Problem | None:
    if rows.pitch <= 0 or (rows.last - rows.first) / rows.pitch > _MOST_BORES:
        return error(
            "rows-empty",
            f"a pitch of {rows.pitch:g} mm from {mm_text(rows.first)} to {mm_text(rows.last)}",
            (*path, "rows", "pitch"),
            where=where,
            help="the system pitch is 32",
        )
    if rows.last < rows.first - TOLERANCE:
        return error(
            "rows-empty",
            f"the highest bore ({mm_text(rows.last)}) would lie below the lowest"
            f" ({mm_text(rows.first)})",
            (*path, "rows", "last"),
            where=where,
            help="let `last` be above `first`",
        )
    if rows.front is None and rows.back is None:
        return error(
            "rows-empty",
            "neither a front nor a back row is wanted",
            (*path, "rows"),
            where=where,
            help="give `front` or `back` a setback",
        )
    if abs(frame.k[2]) > _UPRIGHT:
        return error(
            "rows-empty",
            "rows need a part that stands upright",
            path,
            where=where,
            help="put them on sides or dividers",
        )
    return None


def supports_for(
    shelf: Member, rows: Sequence[Row], rest: float, path: Path
) -> tuple[tuple[tuple[int, int], ...], tuple[Problem, ...]]:
    """Return the bores that carry a shelf: in each row that it lies over, the nearest under it.

    Args:
        rest: how far the shelf's underside lies over the middle of a bore.

    Returns:
        (row, bore) indices in order, and warnings when the shelf hangs in the air.
    """
    part = shelf.part
    if abs(abs(part.frame.k[2]) - 1.0) > 1e-6:
        return (), (
            error(
                "shelf-unsupported",
                f"{part.name} does not lie level, so it cannot rest on supports",
                part.path,
                where=part.name,
            ),
        )
    underside = part.frame.origin[2] - (part.thickness if part.frame.k[2] > 0 else 0.0)
    found: list[tuple[int, int]] = []
    gaps: list[float] = []
    for n, row in enumerate(rows):
        x, y, _ = part.frame.point_to_inner(
            add(row.frames[0].origin, scaled(row.frames[0].k, _REACH))
        )
        if not shelf.covers((x, y)):
            continue
        below = [m for m, h in enumerate(row.heights) if h <= underside - rest + 5 * TOLERANCE]
        if below:
            found.append((n, below[-1]))
            gaps.append(underside - rest - row.heights[below[-1]])
    if len(found) < 3:
        return tuple(found), (
            warning(
                "shelf-unsupported",
                f"{part.name} lies on {len(found)} supports, it needs four",
                path,
                where=part.name,
                help="lay the shelf over the rows, with a bore under it in each",
            ),
        )
    if max(gaps) > _REST:
        resting = underside - max(gaps)
        above = [
            rows[n].heights[m + 1] + rest - underside
            for n, m in found
            if m + 1 < len(rows[n].heights)
        ]
        if len(above) == len(found) and max(above) - min(above) <= _REST < max(above) < max(gaps):
            resting = underside + max(above)
        return tuple(found), (
            warning(
                "shelf-unsupported",
                f"{part.name} hangs {mm_text(max(gaps))} mm over its supports",
                part.path,
                where=part.name,
                help=f"put its underside at {mm_text(resting, 2)}, {mm_text(rest)} over a bore",
            ),
        )
    return tuple(found), ()
