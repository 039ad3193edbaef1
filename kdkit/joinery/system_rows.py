"""System rows: where the bores of the 32 mm system lie on a panel.

A row leaves out the bores that would run into something else or off the panel. One that a
fitting's bore falls on is not drilled twice (``shared_bores``).

The rows are worked out again for the checks rather than carried along: they follow from the
panels alone.

Source:
    32 mm system: pitch 32, bore Ø5, front row 37 behind the front edge, a balanced panel
    H = 2a + 32n; the rear row a multiple of 32 behind the front row. Inset fronts: row at
    37 + front thickness. All of it common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, error
from kdkit.frames import Frame, Vec3, add, cross, dot, norm, scaled, sub
from kdkit.geometry.assembly import Contact
from kdkit.geometry.boxes import BoxTree
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.joinery.rows import Row, rows_ahead, upright_frame
from kdkit.joinery.shared_bores import SHARED, WALL, mouths_apart
from kdkit.joinery.standpoints import Middles
from kdkit.model.resolved import Resolved, RowsSpec, SystemRowsSpec
from kdkit.parts.cut_boxes import cut_box
from kdkit.units import mm_text

__all__ = [
    "LEAST_BACK",
    "LEAST_END",
    "SystemPanel",
    "on_rows",
    "row_bores",
    "system_panels",
    "without_clashes",
]

LEAST_END = 9.5
"""Least distance of the lowest bore to the panel's end, where nobody says another.
Common practice, no source."""

LEAST_BACK = 37.0
"""Least setback of a back row that follows from the grid: common practice, no source."""


_UPRIGHT = 0.5  # cosine to the vertical below which a surface stands
_MOST_BORES = 50_000
_MOST_IN_A_ROW = 500


@dataclass(frozen=True)
class SystemPanel:
    """The rows on one side of a panel, and the sizes that they follow from.

    Args:
        rows: with every bore of the grid, from the lowest up.
        low: z of the panel's lower end; height: between its ends, along the rows.
        deep: from its front to its back edge.
        end: from the outer bores to the panel's ends.
        reach: setback of each row from the front edge, by the row's side.
        along: 1 where i of the rows' frames runs from the front to the back, else −1.
    """

    spec: SystemRowsSpec
    part: str
    surface: str
    rows: tuple[Row, ...]
    low: float
    height: float
    deep: float
    end: float
    reach: Mapping[str, float]
    along: int

    def stretch(self, asked: RowsSpec) -> list[Row]:
        """Return the bores that a fixture asks for: rows and heights from first to last."""
        found = []
        for row in self.rows:
            if (asked.front if row.side == "front" else asked.back) is None:
                continue
            kept = [
                (frame, height)
                for frame, height in zip(row.frames, row.heights, strict=True)
                if asked.first - SHARED <= height <= asked.last + SHARED
            ]
            if kept:
                frames, heights = zip(*kept, strict=True)
                found.append(replace(row, frames=frames, heights=heights))
        return found


def system_panels(
    resolved: Resolved, members: Mapping[str, Member], middles: Middles
) -> tuple[tuple[SystemPanel, ...], tuple[Problem, ...]]:
    """Return the system rows of every panel that has some, side by side.

    Args:
        middles: of what each sayer holds; the inside of a panel looks there.
    """
    found: list[SystemPanel] = []
    problems: list[Problem] = []
    left = _MOST_BORES
    for spec in resolved.system_rows:
        for name in spec.on:
            member = members[name]
            sides = _sides(spec, member, middles.of(spec.seen_from))
            for surface in sides:
                panel = _panel(spec, member, surface)
                if isinstance(panel, Problem):
                    problems.append(panel)
                    break
                left -= sum(len(row.frames) for row in panel.rows)
                if left < 0:
                    problems.append(
                        error(
                            "too-many-parts",
                            f"system rows with more than {_MOST_BORES} bores",
                            (*spec.path, "pitch"),
                            help="the system pitch is 32",
                        )
                    )
                    return tuple(found), tuple(problems)
                found.append(panel)
    return tuple(found), tuple(problems)


def _sides(spec: SystemRowsSpec, member: Member, middle: Vec3) -> tuple[str, ...]:
    if spec.faces == "both" or spec.depth is None:
        return ("face", "back")
    if spec.faces != "inside":
        return (spec.faces,)
    towards = member.part.frame.point_to_inner(middle)[2]
    return ("face",) if towards > -member.part.thickness / 2 else ("back",)


def _panel(spec: SystemRowsSpec, member: Member, surface: str) -> SystemPanel | Problem:
    part = member.part
    corner = part.frame.point_to_outer(surface_frame(part, surface).origin)
    frame = upright_frame(part, surface, corner, spec.seen_from)
    if abs(frame.k[2]) > _UPRIGHT:
        return error(
            "rows-empty",
            "system rows need a part that stands upright",
            (*spec.path, "on"),
            where=part.name,
            help="put them on sides or dividers",
        )
    way = rows_ahead(frame, spec.seen_from)
    along = scaled(frame.i, float(way))
    corners = [sub(part.frame.point_to_outer((x, y, 0.0)), frame.origin) for x, y in part.outline]
    across = [dot(c, along) for c in corners]
    up = [dot(c, frame.j) for c in corners]
    height, deep = max(up) - min(up), max(across) - min(across)
    end = _end(spec, height)
    gaps = math.floor((height - 2 * end) / spec.pitch + 1e-6)
    setbacks = _setbacks(spec, deep)
    if gaps < 0 or not setbacks:
        return error(
            "rows-empty",
            f"{part.name} is {mm_text(height)} mm high and {mm_text(deep)} mm deep: no bore of a"
            " system row has a place on it",
            spec.path,
            where=part.name,
            help="leave the panel out of `on`, or set `front` and `end`",
        )
    if gaps > _MOST_IN_A_ROW:
        return error(
            "too-many-parts",
            f"a system row on {part.name} would have more than {_MOST_IN_A_ROW} bores",
            (*spec.path, "pitch"),
            where=part.name,
            help="the system pitch is 32",
        )
    rows = []
    for side, setback in setbacks.items():
        frames = []
        for n in range(gaps + 1):
            rise = min(up) + end + n * spec.pitch
            at = add(
                frame.origin,
                add(scaled(along, min(across) + setback), scaled(frame.j, rise)),
            )
            if _clear_of_edges(member, at, spec.bore / 2 + WALL):
                frames.append(Frame(at, frame.i, frame.j, frame.k))
        if frames:
            heights = tuple(f.origin[2] for f in frames)
            rows.append(Row(part.name, surface, side, tuple(frames), heights))
    low = add(frame.origin, scaled(frame.j, min(up)))[2]
    return SystemPanel(
        spec, part.name, surface, tuple(rows), low, height, deep, end, dict(setbacks), way
    )


def _end(spec: SystemRowsSpec, height: float) -> float:
    """Return the distance of the outer bores to the ends: as said, or alike at both."""
    if spec.end is not None:
        return spec.end
    gaps = math.floor((height - 2 * LEAST_END) / spec.pitch + 1e-6)
    return (height - max(gaps, 0) * spec.pitch) / 2


def _setbacks(spec: SystemRowsSpec, deep: float) -> dict[str, float]:
    """Return the setbacks of the front and the back row from the front edge."""
    front = spec.front + spec.inset
    if front > deep:
        return {}
    found = {"front": front}
    if spec.back is not None:
        found["back"] = deep - spec.back
    elif spec.has_back:
        gaps = math.floor((deep - front - LEAST_BACK) / spec.pitch + 1e-6)
        if gaps > 0:
            found["back"] = front + gaps * spec.pitch
    return found


def _clear_of_edges(member: Member, at: Vec3, radius: float) -> bool:
    x, y, _ = member.part.frame.point_to_inner(at)
    return member.covers((x, y)) and member.border_distance((x, y)) >= radius - 1e-6


def on_rows(
    positions: Sequence[float],
    start: Vec3,
    run: Vec3,
    contact: Contact,
    fitting: Fitting,
    panels: Sequence[SystemPanel],
) -> tuple[float, ...]:
    """Return positions along an upright run, moved so that a fitting's bores fall on a row.

    Positions stay where the receiving part has no rows, or the fitting bores otherwise.

    Args:
        start: where position 0 stands, in the product; ``run``: unit vector.

    Source:
        Hinge plates use two holes of the front row, 32 apart: common practice, no source.
    """
    here = (contact.receiving, contact.receiving_surface)
    panel = next((p for p in panels if (p.part, p.surface) == here and p.rows), None)
    if panel is None or abs(dot(run, panel.rows[0].frames[0].j)) < 1 - 1e-6:
        return tuple(positions)
    bores = [
        rule.at[0]
        for rule in fitting.bores
        if rule.member == "receiving" and rule.diameter == panel.spec.bore
    ]
    if not bores or isinstance(bores[0], str):
        return tuple(positions)
    pitch = panel.spec.pitch
    zero = dot(sub(panel.rows[0].frames[0].origin, start), run)
    found = []
    for position in positions:
        off = (zero - position - bores[0] + pitch / 2) % pitch - pitch / 2
        found.append(position + off)
    return tuple(found)


def row_bores(panels: Iterable[SystemPanel], members: Mapping[str, Member]) -> tuple[Bore, ...]:
    """Return the bores of all rows that are drilled in full, spare until something uses them."""
    found = []
    for panel in panels:
        spec = panel.spec
        if not spec.full or (spec.depth is None and panel.surface == "back"):
            continue
        part = members[panel.part].part
        for row in panel.rows:
            for frame in row.frames:
                found.append(
                    Bore(
                        part=panel.part,
                        surface=panel.surface,
                        mouth=part.frame.point_to_inner(frame.origin),
                        into=part.frame.vector_to_inner(scaled(frame.k, -1.0)),
                        diameter=spec.bore,
                        depth=part.thickness if spec.depth is None else spec.depth,
                        through=spec.depth is None,
                        purpose="system row",
                        path=spec.path,
                        spare=True,
                    )
                )
    return tuple(found)


def without_clashes(
    rows: Sequence[Bore],
    bores: Sequence[Bore],
    grooves: Sequence[Groove],
    slots: Sequence[Slot],
    members: Mapping[str, Member],
) -> tuple[Bore, ...]:
    """Return the bores of rows that keep 1 mm from everything that they are not one with."""
    others: dict[str, list[Bore | Groove | Slot]] = {}
    cuts: list[Bore | Groove | Slot] = [*bores, *grooves, *slots]
    for cut in cuts:
        others.setdefault(cut.part, []).append(cut)
    trees: dict[str, BoxTree] = {}
    found = []
    for row in rows:
        part = members[row.part].part
        there = others.get(row.part, [])
        if row.part not in trees:
            boxes = np.array([cut_box(part, cut) for cut in there]).reshape(-1, 6)
            trees[row.part] = BoxTree(boxes)
        near = trees[row.part].touching(cut_box(part, row), WALL)
        if not any(_clash(row, there[n]) for n in near):
            found.append(row)
    return tuple(found)


def _clash(row: Bore, other: Bore | Groove | Slot) -> bool:
    """Tell of two cuts with touching boxes whether the row's bore has to go."""
    if not isinstance(other, Bore) or norm(cross(row.into, other.into)) > 1e-6:
        return True
    apart = mouths_apart(row.mouth, other.mouth)
    return SHARED <= apart < (row.diameter + other.diameter) / 2 + WALL
