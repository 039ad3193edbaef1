"""The drilling of every letter: each bore, groove and slot from the datum of its surface.

Bores in a bevel are measured down its slope, and no program drills them. A drill stands
square to the slope, the panel tilted: a set-up that the programs do not know.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2, Vec3, add, dot, scaled
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Bore, Groove, Joinery, Slot
from kdkit.model.resolved import Part
from kdkit.parts.cuts import by_part
from kdkit.parts.words import edge_side
from kdkit.schedule.datum import face_side
from kdkit.schedule.grouping import Group
from kdkit.schedule.schedules import DrilledPanel, DrillLine, GrooveLine, SlotLine
from kdkit.units import SQUARE_WITHIN, TOLERANCE

__all__ = ["Edge", "edge_lean", "list_drilling", "read_edges"]


@dataclass(frozen=True)
class Edge:
    """An outline segment as read from the datum: its name, nearer end and direction."""

    name: str
    start: Vec2
    along: Vec2


def read_edges(group: Group) -> dict[int, Edge]:
    """Return the edges by outline segment.

    An edge is named for the side it looks to ("edge:front"); one that looks to none
    has a number, counted round from the datum, x side first. x on an edge grows as
    the panel's x or y does, from the datum; on a slanted edge, along the edge from
    the end nearer to the datum.
    """
    part, datum = group.part, group.datum
    corners = [datum.measure(p) for p in part.outline]
    n_corners = len(corners)
    turned = datum.far_x != datum.far_y  # the corners then run clockwise
    first = min(range(n_corners), key=lambda n: (math.hypot(*corners[n]), corners[n][0]))
    edges = {}
    for n in range(n_corners):
        p, q = corners[n], corners[(n + 1) % n_corners]
        place = (first - 1 - n) % n_corners if turned else (n - first) % n_corners
        name = f"edge:{edge_side(part, n) or place + 1}"
        if abs(p[1] - q[1]) < 0.01:
            edges[n] = Edge(name, (0.0, p[1]), (1.0, 0.0))
        elif abs(p[0] - q[0]) < 0.01:
            edges[n] = Edge(name, (p[0], 0.0), (0.0, 1.0))
        else:
            start, end = sorted((p, q), key=lambda c: (math.hypot(*c), c))
            length = math.dist(start, end)
            edges[n] = Edge(
                name, start, ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
            )
    return edges


def list_drilling(groups: Sequence[Group], joinery: Joinery) -> tuple[DrilledPanel, ...]:
    """Return the machining of every letter that has any."""
    panels = []
    every_bore, every_groove = by_part(joinery.bores), by_part(joinery.grooves)
    every_slot = by_part(joinery.slots)
    for group in groups:
        edges = read_edges(group)
        name = group.part.name
        bores = [_drill_line(group, edges, b) for b in every_bore.get(name, ())]
        grooves = [_groove_line(group, edges, g) for g in every_groove.get(name, ())]
        slots = [_slot_line(group, edges, s) for s in every_slot.get(name, ())]
        if bores or grooves or slots:
            panels.append(
                DrilledPanel(
                    letter=group.letter,
                    title=group.title,
                    quantity=len(group.pieces),
                    datum=group.datum.corner,
                    x_runs=group.datum.x_runs,
                    y_runs=group.datum.y_runs,
                    bores=tuple(sorted(bores, key=_bore_order)),
                    grooves=tuple(
                        sorted(grooves, key=lambda g: (_surface_order(g.surface), g.x, g.y))
                    ),
                    slots=tuple(
                        sorted(slots, key=lambda s: (_surface_order(s.surface), s.start, s.end))
                    ),
                    named_on=name,
                    face_looks=face_side(group.part),
                )
            )
    return tuple(panels)


def _surface_order(surface: str) -> tuple[int, str]:
    return ({"face": 0, "back": 1}.get(surface, 2), surface)


def _bore_order(line: DrillLine) -> tuple[object, ...]:
    """By surface, then as a drill walks: row by row along the length."""
    place = (round(line.y, 3), round(line.x, 3))
    return (*_surface_order(line.surface), *place, line.diameter, line.depth, line.purpose)


def _drill_line(group: Group, edges: dict[int, Edge], bore: Bore) -> DrillLine:
    x, y = _place(group, edges, bore.surface, bore.mouth)
    angle, towards = _lean(group, edges, bore)
    edge = _edge_number(bore.surface)
    return DrillLine(
        surface=bore.surface if edge is None else edges[edge].name,
        x=x,
        y=y,
        diameter=bore.diameter,
        depth=bore.depth,
        through=bore.through,
        purpose=bore.purpose,
        sloped=bore.sloped,
        stage=bore.stage,
        fastener=bore.fastener,
        spare=bore.spare,
        angle_deg=angle,
        towards_deg=towards,
        asked=bore.asked,
    )


def _edge_number(surface: str) -> int | None:
    return int(surface.removeprefix("edge:")) if surface.startswith("edge:") else None


def _place(group: Group, edges: dict[int, Edge], surface: str, p: Vec3) -> Vec2:
    u, v = group.datum.measure((p[0], p[1]))
    number = _edge_number(surface)
    if number is None:
        return (u, v)
    edge = edges[number]
    along = (u - edge.start[0]) * edge.along[0] + (v - edge.start[1]) * edge.along[1]
    return (along, -p[2] / math.cos(edge_lean(group.part, number)))


def edge_lean(part: Part, n: int) -> float:
    """Return how far an edge leans off square, radians; above 0 in below the face."""
    return math.radians(part.bevels[n]) if part.bevels else 0.0


def _lean(group: Group, edges: dict[int, Edge], bore: Bore) -> tuple[float, float | None]:
    """Return the angle between axis and surface, and which way a slanted axis runs.

    The second is the direction of the bore's bottom seen from its mouth, in the
    surface's x and y, degrees from x towards y; None for a square bore
    (``SQUARE_WITHIN``).
    """
    u, v = group.datum.direction((bore.into[0], bore.into[1]))
    number = _edge_number(bore.surface)
    if number is None:
        across = (u, v)
    else:
        along = edges[number].along
        slope = surface_frame(group.part, bore.surface).j
        across = (u * along[0] + v * along[1], -dot(slope, bore.into))
    sideways = math.hypot(*across)
    if sideways < math.sin(math.radians(SQUARE_WITHIN)):
        return (90.0, None)
    towards = math.degrees(math.atan2(across[1], across[0])) % 360.0
    return (math.degrees(math.acos(min(1.0, sideways))), towards)


def _groove_line(group: Group, edges: dict[int, Edge], groove: Groove) -> GrooveLine:
    number = _edge_number(groove.surface)
    if number is None:
        corners = [group.datum.measure(p) for p in groove.polygon]
        surface = groove.surface
    else:
        corners = [
            _place(group, edges, groove.surface, _on_edge(group.part, number, s, z))
            for s, z in groove.polygon  # 0 on the face, less below it
        ]
        surface = edges[number].name
    xs, ys = [c[0] for c in corners], [c[1] for c in corners]
    return GrooveLine(
        surface=surface,
        x=(min(xs), max(xs)),
        y=(min(ys), max(ys)),
        depth=groove.depth,
        slanted=any(
            min(x - min(xs), max(xs) - x) > TOLERANCE or min(y - min(ys), max(ys) - y) > TOLERANCE
            for x, y in corners
        ),
    )


def _slot_line(group: Group, edges: dict[int, Edge], slot: Slot) -> SlotLine:
    number = _edge_number(slot.surface)
    start, end = sorted(
        _place(group, edges, slot.surface, add(slot.mouth, scaled(slot.along, half)))
        for half in (-slot.length / 2, slot.length / 2)
    )
    return SlotLine(
        surface=slot.surface if number is None else edges[number].name,
        start=start,
        end=end,
        width=slot.width,
        depth=slot.depth,
        disc=slot.disc,
        purpose=slot.purpose,
        stage=slot.stage,
        fastener=slot.fastener,
    )


def _on_edge(part: Part, n: int, s: float, z: float) -> Vec3:
    """Return the panel-frame point at s along outline segment n, at height z on the edge."""
    if part.bevels:
        return surface_frame(part, f"edge:{n}").point_to_outer((s, z, 0.0))
    a, b = part.outline[n], part.outline[(n + 1) % len(part.outline)]
    share = s / math.dist(a, b)
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share, z)
