"""Every surface of every panel laid flat, as drawings, machine files and jigs need it.

A surface is seen from outside, x to the right. The lengths are those of the drilling
schedule, from the same datum; where the datum's axes run the other way round for
somebody who looks at the surface (on one panel of a mirrored pair, on every back), y
runs down instead of up, and the numbers stay the same.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from kdkit.frames import Vec2
from kdkit.joinery.placed import Joinery
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part, Resolved
from kdkit.plan.plan import Plan
from kdkit.schedule.drilling import Edge, edge_lean, list_drilling, read_edges
from kdkit.schedule.grouping import Group, group_parts
from kdkit.schedule.schedules import CutLine, DrillLine, GrooveLine, Schedules, SlotLine

__all__ = ["BandedEdge", "BevelledEdge", "PanelViews", "SurfaceView", "list_views", "slot_corners"]


@dataclass(frozen=True)
class BandedEdge:
    """A banded stretch of the outline, from the datum; ``thickness`` of the band."""

    start: Vec2
    end: Vec2
    thickness: float


@dataclass(frozen=True)
class BevelledEdge:
    """A bevelled edge as face or back show it, from the datum.

    Args:
        start, end: of the edge at this surface.
        angle_deg: off square.
        is_long: the long point lies on this surface.
    """

    start: Vec2
    end: Vec2
    angle_deg: float
    is_long: bool


@dataclass(frozen=True, kw_only=True)
class SurfaceView:
    """One surface, in mm from its datum, as in ``DrillLine``.

    Args:
        surface: the name that the drilling schedule gives it.
        y_down: seen from outside with x to the right, y runs down.
        outlines: closed polygons; more than one where several edges have one name.
        openings, rounds: cut-outs, polygonal and round (centre, diameter).
        bands: on face and back, the banded edges.
        bevels: on face and back, the bevelled edges.
        far: on face and back of a bevelled panel, the outline of the other one.
        leans: of a bevelled edge, degrees off square; it is seen square to its slope.
        slants: of a slanted edge, degrees off the nearer side of the panel; with the edge up
            and level, the panel leans by so much.
        above: of an edge, how far other wood of the panel stands out beyond it, mm: in a
            notch, or where several edges of one name lie at several heights.
    """

    surface: str
    y_down: bool
    outlines: tuple[tuple[Vec2, ...], ...]
    openings: tuple[tuple[Vec2, ...], ...] = ()
    rounds: tuple[tuple[Vec2, float], ...] = ()
    bands: tuple[BandedEdge, ...] = ()
    bevels: tuple[BevelledEdge, ...] = ()
    far: tuple[Vec2, ...] = ()
    leans: float = 0.0
    slants: float = 0.0
    above: float = 0.0
    bores: tuple[DrillLine, ...] = ()
    grooves: tuple[GrooveLine, ...] = ()
    slots: tuple[SlotLine, ...] = ()

    @property
    def is_edge(self) -> bool:
        """True for the edges, False for face and back."""
        return self.surface.startswith("edge:")

    @property
    def shows_bevel(self) -> bool:
        """True for an edge that is bevelled, or whose ends are."""
        return self.is_edge and (
            self.leans != 0
            or any(len({round(p[0], 6) for p in outline}) > 2 for outline in self.outlines)
        )

    @property
    def is_worked(self) -> bool:
        """True if anything is bored, grooved or slotted here."""
        return bool(self.bores or self.grooves or self.slots)

    def seen(self, p: Vec2) -> Vec2:
        """Return a point from the datum as it is seen: x to the right, y up."""
        return (p[0], -p[1]) if self.y_down else p

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least x and y, greatest x and y of the outlines as they are seen, hidden ones too."""
        points = [self.seen(p) for outline in (*self.outlines, self.far) for p in outline]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, kw_only=True)
class PanelViews:
    """One letter of the cut list with all its surfaces, face and back first.

    ``datum``, ``x_runs``, ``y_runs`` as in ``DrilledPanel``; ``is_glass``: a pane, which no
    tool for wood works.
    """

    cut: CutLine
    datum: str
    x_runs: str
    y_runs: str
    views: tuple[SurfaceView, ...]
    is_glass: bool = False

    @property
    def letter(self) -> str:
        """Return the letter."""
        return self.cut.letter

    def view(self, surface: str) -> SurfaceView:
        """Return the view of a surface; KeyError if the panel has none of that name."""
        for view in self.views:
            if view.surface == surface:
                return view
        raise KeyError(surface)


def slot_corners(slot: SlotLine) -> tuple[Vec2, Vec2, Vec2, Vec2]:
    """Return the corners of the rectangle round a slot's mouth, from the datum."""
    (x0, y0), (x1, y1) = slot.start, slot.end
    length = math.dist(slot.start, slot.end)
    dx, dy = (x1 - x0) / length * slot.width / 2, (y1 - y0) / length * slot.width / 2
    return ((x0 - dy, y0 + dx), (x0 + dy, y0 - dx), (x1 + dy, y1 - dx), (x1 - dy, y1 + dx))


def list_views(
    resolved: Resolved,
    joinery: Joinery,
    plan: Plan | None,
    schedules: Schedules,
    glass: Collection[str] = (),
) -> tuple[PanelViews, ...]:
    """Return the surfaces of every panel of the cut list, in its order.

    ``glass`` are the materials that are glass.
    """
    groups = {group.letter: group for group in group_parts(resolved, joinery, plan)}
    return tuple(
        replace(_panel(line, groups[line.letter], joinery), is_glass=line.material in glass)
        for line in schedules.cut
    )


def _panel(line: CutLine, group: Group, joinery: Joinery) -> PanelViews:
    drilled = list_drilling([group], joinery)
    bores = drilled[0].bores if drilled else ()
    grooves = drilled[0].grooves if drilled else ()
    slots = drilled[0].slots if drilled else ()
    views = [_flat(group, surface) for surface in ("face", "back")]
    views += _edges(group)
    return PanelViews(
        cut=line,
        datum=group.datum.corner,
        x_runs=group.datum.x_runs,
        y_runs=group.datum.y_runs,
        views=tuple(
            replace(
                view,
                bores=tuple(b for b in bores if b.surface == view.surface),
                grooves=tuple(g for g in grooves if g.surface == view.surface),
                slots=tuple(s for s in slots if s.surface == view.surface),
            )
            for view in views
        ),
    )


def _flat(group: Group, surface: str) -> SurfaceView:
    part, measure = group.part, group.datum.measure
    rings = (face_ring(part), back_ring(part))
    near, other = rings if surface == "face" else rings[::-1]
    outline = tuple(measure(p) for p in near)
    turned = group.datum.far_x != group.datum.far_y
    return SurfaceView(
        surface=surface,
        y_down=turned if surface == "face" else not turned,
        outlines=(outline,),
        openings=tuple(tuple(measure(p) for p in ring) for ring in part.cutouts),
        rounds=tuple((measure(r.centre), r.diameter) for r in part.round_cutouts),
        bands=_bands(part, outline),
        bevels=_bevels(part, outline, surface),
        far=tuple(measure(p) for p in other) if part.bevels else (),
    )


def _bands(part: Part, outline: Sequence[Vec2]) -> tuple[BandedEdge, ...]:
    return tuple(
        BandedEdge(outline[n], outline[(n + 1) % len(outline)], band)
        for n, band in enumerate(part.bands)
        if band > 0
    )


def _bevels(part: Part, outline: Sequence[Vec2], surface: str) -> tuple[BevelledEdge, ...]:
    return tuple(
        BevelledEdge(
            outline[n],
            outline[(n + 1) % len(outline)],
            abs(angle),
            (angle > 0) == (surface == "face"),
        )
        for n, angle in enumerate(part.bevels)
        if angle
    )


def _edges(group: Group) -> list[SurfaceView]:
    """Return one view for each name of an edge, in the order of the drilling schedule."""
    part = group.part
    stretches: dict[str, list[tuple[Vec2, ...]]] = {}
    downs: dict[str, bool] = {}
    leans: dict[str, float] = {}
    slants: dict[str, float] = {}
    above: dict[str, float] = {}
    for n, edge in read_edges(group).items():
        m = (n + 1) % len(part.outline)
        # Along both sides of the edge in one order: of a bevelled panel they differ in length.
        (a0, b0), (a1, b1) = (
            [_along(edge, group.datum.measure(p)) for p in (ring[n], ring[m])]
            for ring in (face_ring(part), back_ring(part))
        )
        if a0 > b0:
            a0, b0, a1, b1 = b0, a0, b1, a1
        t = part.thickness / math.cos(edge_lean(part, n))
        stretches.setdefault(edge.name, []).append(((a0, 0.0), (b0, 0.0), (b1, t), (a1, t)))
        leans.setdefault(edge.name, abs(part.bevels[n]) if part.bevels else 0.0)
        slants.setdefault(edge.name, math.degrees(math.atan2(*sorted(map(abs, edge.along)))))
        above[edge.name] = max(above.get(edge.name, 0.0), _above(part, n))
        downs.setdefault(edge.name, _y_runs_down(group, n, edge))
    return [
        SurfaceView(
            surface=name,
            y_down=downs[name],
            outlines=tuple(sorted(stretches[name])),
            leans=leans[name],
            slants=slants[name],
            above=above[name],
        )
        for name in sorted(stretches)
    ]


def _above(part: Part, n: int) -> float:
    """Return how far a panel's outline goes out beyond one of its edges, mm."""
    a, b = part.outline[n], part.outline[(n + 1) % len(part.outline)]
    length = math.dist(a, b)
    # The outline runs counter-clockwise, so (d_y, −d_x) is out of segment d.
    out = ((b[1] - a[1]) / length, (a[0] - b[0]) / length)
    return max((p[0] - a[0]) * out[0] + (p[1] - a[1]) * out[1] for p in part.outline)


def _along(edge: Edge, p: Vec2) -> float:
    return (p[0] - edge.start[0]) * edge.along[0] + (p[1] - edge.start[1]) * edge.along[1]


def _y_runs_down(group: Group, n: int, edge: Edge) -> bool:
    """Tell whether y (from the face into the board) runs down for who looks at an edge.

    With x along u and y along −z of the panel, x × y = (−u_y, u_x, 0); y runs up if
    that looks out of the board. The outline runs counter-clockwise, so (d_y, −d_x) is
    out of segment d.
    """
    along = group.datum.direction(edge.along)  # the datum's axes are the panel's, some turned
    a, b = group.part.outline[n], group.part.outline[(n + 1) % len(group.part.outline)]
    length = math.dist(a, b)
    out = ((b[1] - a[1]) / length, (a[0] - b[0]) / length)
    return -along[1] * out[0] + along[0] * out[1] < 0
