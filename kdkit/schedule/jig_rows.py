"""Rows for a doweling jig: both members of a joint from the same face and the same end.

Boards are a little thicker or thinner than they are said to be. If the butting edge is bored
from its face, and the receiving member from the line where that face comes, the faces meet
whatever the thickness is. The same holds of lengths: both members are measured from the end
that lies on one side of the product.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.schedule.datum import OPPOSITE, face_side
from kdkit.schedule.fence_rows import FenceRow, from_far_end, row_of
from kdkit.schedule.hole_kinds import hole_kind
from kdkit.schedule.schedules import DrilledPanel, DrillLine
from kdkit.schedule.views import PanelViews

__all__ = ["JigRow", "jig_rows", "run_towards"]


@dataclass(frozen=True, kw_only=True)
class JigRow:
    """One row of a joint in one of its members.

    Args:
        end: the side of the product where the reference end is; "" on a slanted edge, where
            it is the end nearer to the datum.
        mate: letter of the other member.
        line: on a receiving member, where the butting member's face comes, from ``line_from``;
            None if that is not told by the lists.
        beyond: the row lies on the far side of that line from ``line_from``.
        inset: the butting member's reference end lies so far inside the receiving one's.
    """

    row: FenceRow
    end: str
    mate: str
    line: float | None = None
    line_from: str = ""
    beyond: bool = False
    inset: float | None = None

    @property
    def distance(self) -> float:
        """What the jig is set to: from the fence, or from the line of the mate's face."""
        return self.row.distance if self.line is None else abs(self.row.distance - self.line)


def run_towards(panel: PanelViews | DrilledPanel, surface: str, axis: int) -> str:
    """Return the side towards which x (0) or y (1) of a surface grows, "" if to none.

    y of an edge runs away from the face.
    """
    if not surface.startswith("edge:"):
        return (panel.x_runs, panel.y_runs)[axis]
    side = surface.removeprefix("edge:")
    if side not in OPPOSITE or axis == 1:
        return ""
    across = side in (panel.x_runs, OPPOSITE[panel.x_runs])
    return panel.y_runs if across else panel.x_runs


def jig_rows(
    panels: Sequence[PanelViews], resolved: Resolved, joinery: Joinery
) -> tuple[JigRow, ...]:
    """Return the rows of all joints, of a letter once, edges before what they butt on."""
    joint_of = {f.id: f.joint for f in joinery.fasteners if f.butting is not None}
    members = {joint.name: (joint.butting, joint.receiving) for joint in joinery.joints}
    letters = {name: panel for panel in panels for name in panel.cut.parts}
    edges: dict[str, list[JigRow]] = {}
    faces: list[tuple[str, FenceRow]] = []
    for panel in panels:
        for joint, row in _rows(panel, joint_of):
            if not row.view.is_edge:
                faces.append((joint, row))
                continue
            end = OPPOSITE.get(run_towards(panel, row.view.surface, 0), "")
            other = _other(panel, members.get(joint, ("", "")))
            mate = letters[other].letter if other in letters else ""
            edges.setdefault(panel.letter, []).append(JigRow(row=row, end=end, mate=mate))
    found = [row for rows in edges.values() for row in rows]
    for joint, row in faces:
        butting, receiving = members.get(joint, ("", ""))
        if receiving not in row.panel.cut.parts:
            continue  # recesses for what turns in the butting member: no dowel stands there
        other = _other(row.panel, (butting, receiving))
        other_panel = letters.get(other)
        rows = edges.get(other_panel.letter, []) if other_panel else []
        if other_panel is None or not _stands_as(resolved, other, other_panel.cut.parts[0]):
            rows = []
        face = face_side(resolved.part(other)) if rows else ""
        found.append(_receiving(row, other_panel.letter if other_panel else "", rows, face))
    return _alike_once(found)


def _other(panel: PanelViews, pair: tuple[str, str]) -> str:
    return pair[1] if pair[0] in panel.cut.parts else pair[0]


def _stands_as(resolved: Resolved, name: str, other: str) -> bool:
    """Tell whether a part stands as another one of its letter, so that side words hold for it."""
    one, two = resolved.part(name).frame, resolved.part(other).frame
    return all(math.dist(a, b) < 1e-6 for a, b in ((one.i, two.i), (one.k, two.k)))


def _rows(panel: PanelViews, joint_of: Mapping[str, str]) -> Iterator[tuple[str, FenceRow]]:
    """Yield the rows of every joint in a panel: square bores that its fasteners share."""
    for view in panel.views:
        kept: dict[str, list[DrillLine]] = {}
        for bore in view.bores:
            joint = joint_of.get(bore.fastener or "")
            if joint is not None and bore.towards_deg is None and not bore.sloped:
                kept.setdefault(joint, []).append(bore)
        for joint, bores in kept.items():
            axis = 1 if view.is_edge else _common_axis(bores)
            kinds = sorted({hole_kind(bore) for bore in bores})
            for kind in kinds:
                alike = [bore for bore in bores if hole_kind(bore) == kind]
                across = _common_axis(alike) if axis is None else axis
                if across is not None:
                    for line in _lines(alike, across):
                        yield joint, row_of(panel, view, line, across)


def _common_axis(bores: Sequence[DrillLine]) -> int | None:
    """Return which of x and y bores have alike, x for a single one; None if neither."""
    for axis in (0, 1):
        if len({round((b.x, b.y)[axis], 2) for b in bores}) == 1:
            return axis
    return None


def _lines(bores: Iterable[DrillLine], axis: int) -> Iterable[list[DrillLine]]:
    lines: dict[float, list[DrillLine]] = {}
    for bore in bores:
        lines.setdefault(round((bore.x, bore.y)[axis], 2), []).append(bore)
    return lines.values()


def _receiving(row: FenceRow, mate: str, edges: Sequence[JigRow], face: str) -> JigRow:
    """Return a row on a face with the line of the butting face, from the butting one's end.

    Args:
        edges: the rows on the butting member's edges, none where side words do not hold for it.
        face: the side to which that member's face looks.
    """
    panel, axis = row.panel, 0 if row.fence == "x" else 1
    along = run_towards(panel, row.view.surface, 1 - axis)
    across = run_towards(panel, row.view.surface, axis)
    line_from = OPPOSITE.get(across, "")
    found: dict[tuple[float, str], list[JigRow]] = {}
    for edge in edges:
        for end, turned in (
            (OPPOSITE.get(along, ""), row),
            (along, from_far_end(row, panel.cut.finished[1 - axis])),
        ):
            inset = _inset(edge.row.positions, turned.positions)
            if end and edge.end == end and inset is not None:
                line, beyond = None, False
                if face == across:
                    line = row.distance + edge.row.distance
                elif face == line_from:
                    line, beyond = row.distance - edge.row.distance, True
                told = JigRow(
                    row=turned, end=end, mate=mate, line=line, line_from=line_from,
                    beyond=beyond, inset=inset,
                )  # fmt: skip
                found.setdefault((round(edge.row.distance, 2), end), []).append(told)
    if len(found) == 1:
        ((first, *others),) = found.values()
        one = all(abs((told.inset or 0) - (first.inset or 0)) < 0.01 for told in others)
        return first if one else replace(first, inset=None)
    return JigRow(row=row, end=OPPOSITE.get(along, ""), mate=mate, line_from=line_from)


def _inset(butting: Sequence[float], receiving: Sequence[float]) -> float | None:
    """Return how far all places of the one lie behind those of the other, None if unevenly."""
    if len(butting) != len(receiving):
        return None
    apart = [q - p for p, q in zip(butting, receiving, strict=True)]
    return apart[0] if max(apart) - min(apart) < 0.01 else None


def _alike_once(rows: Iterable[JigRow]) -> tuple[JigRow, ...]:
    """Return rows without those that say again what one before says of the same surface."""
    kept: dict[object, JigRow] = {}
    for told in rows:
        row = told.row
        places = tuple(round(p, 2) for p in row.positions)
        key = (row.panel.letter, row.view.surface, row.setting, places, row.fence, told.end)
        kept.setdefault(key, told)
    return tuple(kept.values())
