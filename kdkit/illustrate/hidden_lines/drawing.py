"""From bodies and a view to a drawing: visible regions and visible lines on paper.

Takes bodies in the product frame, gives regions and strokes in paper mm; what is
hidden is gone, and no line is there twice. Nothing here knows what a pen or a
tone looks like.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kdkit.areas import join, join_touching
from kdkit.frames import Vec2
from kdkit.illustrate.bodies.body import Body, Wire
from kdkit.illustrate.hidden_lines.front_faces import FrontFaces, find_front_faces
from kdkit.illustrate.hidden_lines.strokes import Stroke, join_strokes
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.hidden_lines.visible_lines import find_stretches, list_segments
from kdkit.illustrate.hidden_lines.visible_surfaces import find_visible_surfaces
from kdkit.illustrate.paper.figure import Area, Line, Primitive

__all__ = ["Drawing", "Region", "Stroke", "draw_bodies"]

_WELD = 1e-3  # mm of product: grid on which neighbouring pieces of a tint are joined


@dataclass(frozen=True, kw_only=True, slots=True)
class Region:
    """A visible piece of surface, paper mm.

    ``tint``: ``top``, ``under``, ``front``, ``side`` by its direction, or a mark's tone.
    """

    body: str
    role: str
    tint: str
    outer: tuple[Vec2, ...]
    holes: tuple[tuple[Vec2, ...], ...] = ()
    is_mark: bool = False


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """What is seen, in paper mm.

    ``shown``: for each body the visible share (0 to 1) of the surface that it turns
    toward the viewer; ``facing``: how large that surface is, seen from there, in mm² of
    product.
    """

    view: View
    regions: tuple[Region, ...]
    strokes: tuple[Stroke, ...]
    shown: Mapping[str, float] = field(default_factory=dict)
    facing: Mapping[str, float] = field(default_factory=dict)

    def bounds(self) -> tuple[float, float, float, float]:
        """Return ``(x0, y0, x1, y1)`` of everything drawn; zeros for nothing."""
        points = [p for r in self.regions for p in r.outer]
        points += [p for s in self.strokes for p in s.points]
        if not points:
            return (0.0, 0.0, 0.0, 0.0)
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return (min(xs), min(ys), max(xs), max(ys))

    def scaled(self, by: Vec2, factor: float) -> Drawing:
        """Return the drawing scaled about (0, 0), then shifted; its view goes along.

        What is seen under parallel projection does not depend on the scale, so this saves
        drawing it again.
        """
        dx, dy = by

        def at(points: Sequence[Vec2]) -> tuple[Vec2, ...]:
            return tuple([(x * factor + dx, y * factor + dy) for x, y in points])

        return replace(
            self,
            view=self.view.at_scale(self.view.scale * factor).placed(by),
            regions=tuple(
                replace(r, outer=at(r.outer), holes=tuple(at(h) for h in r.holes))
                for r in self.regions
            ),
            strokes=tuple(replace(s, points=at(s.points)) for s in self.strokes),
        )

    def primitives(self) -> tuple[Primitive, ...]:
        """Return areas and lines in the order of painting.

        Tone ``<role>-<tint>`` (marks: ``<role>-<tone>``), pen ``<role>-<kind>``; the
        style falls back from those to plainer names. Heavy lines come last, new
        parts after existing ones.
        """
        areas = [
            Area(outer=r.outer, holes=r.holes, tone=f"{r.role}-{r.tint}")
            for r in sorted(self.regions, key=lambda r: r.is_mark)
        ]
        weight = {"mark": 0, "bore": 1, "recess": 1, "guide": 2, "edge": 3, "contact": 4}
        order = sorted(self.strokes, key=lambda s: (s.role == "new", weight.get(s.kind, 5)))
        lines = [Line(points=s.points, pen=f"{s.role}-{s.kind}", closed=s.closed) for s in order]
        return (*areas, *lines)


def draw_bodies(bodies: Sequence[Body], view: View, wires: Sequence[Wire] = ()) -> Drawing:
    """Return the drawing of bodies, hidden surface and hidden lines left out.

    Args:
        bodies: in the product frame; they may touch and may cut into each other.
        view: where from, in which posture, at which scale and place on paper.
        wires: lines in space that the bodies hide as well (guide lines).

    Source:
        Object-space hidden-line removal by comparing faces pair by pair; the depth
        of a plane under parallel projection is linear in the paper coordinates.
    """
    fronts = find_front_faces(bodies, view)
    surfaces = find_visible_surfaces(fronts)
    segments = list_segments(fronts, surfaces, wires)
    stretches = find_stretches(fronts, segments)
    regions = _regions(fronts, surfaces.seen, view)
    strokes = join_strokes(fronts.bodies, tuple(wires), stretches, view)
    count = len(fronts.shapes)
    facing, shown = _shares(fronts, surfaces.seen[:count])
    return Drawing(
        view=view,
        regions=tuple(regions),
        strokes=strokes,
        shown=shown,
        facing=facing,
    )


def _shares(
    fronts: FrontFaces, seen: Sequence[BaseGeometry]
) -> tuple[dict[str, float], dict[str, float]]:
    """Return for each body the area of its faces, mm², and the share that is seen, 0 to 1."""
    full: dict[str, float] = {}
    part: dict[str, float] = {}
    areas = zip(shapely.area(fronts.shapes).tolist(), shapely.area(seen).tolist(), strict=True)
    for b, (all_of, part_of) in zip(fronts.body.tolist(), areas, strict=True):
        name = fronts.bodies[b].name
        full[name] = full.get(name, 0.0) + all_of
        part[name] = part.get(name, 0.0) + part_of
    full = {name: area for name, area in full.items() if area > 0}
    return full, {name: min(1.0, part[name] / full[name]) for name in full}


def _regions(fronts: FrontFaces, surfaces: Sequence[BaseGeometry], view: View) -> list[Region]:
    """Return regions, pieces of one body and tint joined where they meet."""
    count = len(fronts.shapes)
    curved = _tint_of_curves(fronts)
    gathered: dict[tuple[int, str, bool], list[BaseGeometry]] = {}
    clipped: set[tuple[int, str, bool]] = set()
    for n, shape in enumerate(surfaces):
        if shape.is_empty:
            continue
        if n < count:
            b, f = int(fronts.body[n]), int(fronts.face[n])
            group = fronts.bodies[b].form.faces[f].group
            tint = curved.get((b, group)) or view.orientation(fronts.normal(n))
            gathered.setdefault((b, tint, False), []).append(shape)
            if shape is not fronts.shapes[n]:
                clipped.add((b, tint, False))
        else:
            row, _, mark = fronts.paints[n - count]
            b = int(fronts.body[row])
            tone = fronts.bodies[b].form.marks[mark].tone
            gathered.setdefault((b, tone, True), []).append(shape)
    found = []
    for (b, tint, is_mark), shapes in gathered.items():
        body = fronts.bodies[b]
        if len(shapes) == 1:
            joined = shapes[0]
        elif is_mark or (b, tint, is_mark) in clipped:
            joined = join_touching(shapes, _WELD)
        else:
            joined = _whole_faces(shapes)
        for part in shapely.get_parts(joined):
            if part.geom_type != "Polygon" or part.is_empty:
                continue
            outer, *holes = (_on_paper(ring, view) for ring in (part.exterior, *part.interiors))
            found.append(
                Region(
                    body=body.name,
                    role=body.role,
                    tint=tint,
                    outer=outer,
                    holes=tuple(holes),
                    is_mark=is_mark,
                )
            )
    return found


def _whole_faces(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the faces of a body as one: as a rule they meet corner to corner.

    In a piece of hardware made of several shapes they may not, and take longer to join.
    """
    try:
        return shapely.coverage_union_all(shapes)
    except shapely.errors.GEOSException:
        return join(shapes, _WELD)


def _tint_of_curves(fronts: FrontFaces) -> dict[tuple[int, int], str]:
    """Return one tint for each curved surface: that of its broadest visible side."""
    widths: dict[tuple[int, int], dict[str, float]] = {}
    areas = shapely.area(fronts.shapes).tolist()
    for n, area in enumerate(areas):
        b = int(fronts.body[n])
        group = fronts.bodies[b].form.faces[int(fronts.face[n])].group
        if group >= 0:
            tints = widths.setdefault((b, group), {})
            tint = fronts.view.orientation(fronts.normal(n))
            tints[tint] = tints.get(tint, 0.0) + area
    return {key: max(tints, key=lambda t: (tints[t], t)) for key, tints in widths.items()}


def _on_paper(ring: BaseGeometry, view: View) -> tuple[Vec2, ...]:
    """Return the corners of a ring in paper mm."""
    at = shapely.get_coordinates(ring)[:-1] * view.scale + np.array(view.origin)
    return tuple([(x, y) for x, y in at.tolist()])
