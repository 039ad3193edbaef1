"""What moves: every part as convex pieces, with the hardware that sticks out of it.

Grooves are taken out of the parts. Hardware counts as soon as it is fitted
before mating: what is fitted in the workshop always, what is fitted at home only
while the joint (or the loose part) that it is meant for is there, because it
can be fitted as late as that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from kdkit.catalogue.entries import Catalogue, Fitting, Piece
from kdkit.frames import Frame, Vec2, Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.clipping import piece_hull
from kdkit.geometry.convex import ConvexPiece, convex_pieces, round_polygon, without_bevels
from kdkit.geometry.surfaces import edge_frame
from kdkit.joinery.axes import Protrusion, protrusions
from kdkit.joinery.placed import Fastener, Groove, Joinery
from kdkit.model.resolved import Part
from kdkit.plan.motion.sweep import Polytope, prism

__all__ = ["Body", "collect_bodies", "fitted_in_workshop", "part_polytopes"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Body:
    """One convex piece that moves with a part.

    Args:
        part: the part it belongs to.
        shape: in the product frame, finished.
        fastener: the fastener whose item sticks out; None for the part's own wood.
        mate: the part of the same fastener at which the item is aimed; it never
            collides with that one, whose bore takes it.
        needs: the body is there only while all these parts are; () means always.
        axis: the direction in which the item sticks out, product frame.
    """

    part: str
    shape: Polytope
    fastener: str | None = None
    item: str = ""
    mate: str | None = None
    needs: tuple[str, ...] = ()
    axis: Vec3 | None = None


def collect_bodies(
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    covered: Mapping[str, Sequence[frozenset[str]]] | None = None,
) -> tuple[Body, ...]:
    """Return all bodies, part by part in the assembly's order.

    Args:
        covered: fasteners of fixtures that must go on before some parts cover them; they
            are there once these parts are.
    """
    grooves: dict[str, list[Groove]] = {}
    for groove in joinery.grooves:
        grooves.setdefault(groove.part, []).append(groove)
    found: list[Body] = []
    for part in assembly.parts:
        found += [
            Body(part=part.name, shape=shape)
            for shape in part_polytopes(part, grooves.get(part.name, ()))
        ]
    names = {part.name for part in assembly.parts}
    fasteners = {f.id: f for f in joinery.fasteners}
    for sticking in protrusions(joinery, catalogue):
        if sticking.part in names:
            fastener = fasteners[sticking.fastener]
            found += _hardware(sticking, fastener, joinery, (covered or {}).get(fastener.id, ()))
    return tuple(found)


def part_polytopes(part: Part, grooves: Sequence[Groove]) -> tuple[Polytope, ...]:
    """Return the convex pieces of a part less its grooves, in the product frame.

    The part is cut into slabs at the depth of each groove, and at the sides of grooves
    in edges; in each slab the grooves that reach it are openings. A groove that runs
    aslant over an edge is taken out as the upright strip around it.
    """
    t = part.thickness
    spans, polygons = [], []
    for groove in grooves:
        span, plan = _cut(part, groove)
        spans.append(span)
        polygons.append(plan)
    levels = sorted({-t, 0.0, *(round(z, 6) for span in spans for z in span if -t < z < 0)})
    rounds = tuple(round_polygon(r) for r in part.round_cutouts)
    shapes = []
    for z0, z1 in pairwise(levels):
        middle = (z0 + z1) / 2
        openings = [
            polygon
            for polygon, (low, high) in zip(polygons, spans, strict=True)
            if low < middle < high
        ]
        pieces = convex_pieces(part.outline, (*part.cutouts, *rounds, *openings), z0, z1)
        for piece in without_bevels(part, pieces):
            shapes.append(_polytope(part.frame, piece))
    return tuple(shapes)


def _polytope(frame: Frame, piece: ConvexPiece) -> Polytope:
    if not piece.cuts:
        return prism(frame, piece.polygon, piece.z0, piece.z1)
    rotation = np.array([frame.i, frame.j, frame.k])
    corners, normals, _, ends = piece_hull(piece)
    along = corners[ends[:, 1]] - corners[ends[:, 0]]
    along /= np.linalg.norm(along, axis=1)[:, None]
    unique: list[int] = []
    for n, edge in enumerate(along):
        if all(abs(float(edge @ along[m])) < 1.0 - 1e-12 for m in unique):
            unique.append(n)
    return Polytope(
        corners @ rotation + np.array(frame.origin), along[unique] @ rotation, normals @ rotation
    )


def _cut(part: Part, groove: Groove) -> tuple[tuple[float, float], tuple[Vec2, ...]]:
    """Return what a groove takes out: from z to z of the panel, over a plan."""
    t = part.thickness
    if groove.surface == "face":
        return (-groove.depth, 0.0), groove.polygon
    if groove.surface == "back":
        return (-t, -t + groove.depth), groove.polygon
    edge = edge_frame(part, int(groove.surface.removeprefix("edge:")))
    along = [p[0] for p in groove.polygon]
    across = [p[1] for p in groove.polygon]
    corners = [
        edge.point_to_outer((s, 0.0, k))
        for s, k in (
            (min(along), 0.0),
            (max(along), 0.0),
            (max(along), -groove.depth),
            (min(along), -groove.depth),
        )
    ]
    return (min(across), max(across)), tuple((x, y) for x, y, _ in corners)


def fitted_in_workshop(item: str, fitting: Fitting | None) -> bool:
    """Tell whether an item is already in its part when the product is unpacked."""
    if fitting is None:
        return False
    for action in fitting.actions:
        if action.item == item:
            return action.stage == "workshop"
    return False


def _hardware(
    sticking: Protrusion,
    fastener: Fastener,
    joinery: Joinery,
    covered: Sequence[frozenset[str]],
) -> list[Body]:
    """One body around the round pieces of an item, one for each of its boxes."""
    mate: str | None = None
    if fastener.butting is not None:
        mate = fastener.receiving if sticking.part == fastener.butting else fastener.butting
    companies: list[tuple[str, ...]]
    if fitted_in_workshop(sticking.item, joinery.fittings.get(fastener.fitting)):
        companies = [()]
    elif mate is not None:
        companies = [(mate,)]
    else:  # a foot or a handle is fixed when nothing is in its way, if it can be
        carries = next((f.carries for f in joinery.fixtures if f.name == fastener.joint), ())
        companies = [carries] if carries else []
        companies += [tuple(sorted(others)) for others in covered]
    return [
        Body(
            part=sticking.part,
            shape=shape,
            fastener=sticking.fastener,
            item=sticking.item,
            mate=mate,
            needs=needs,
            axis=sticking.frame.k,
        )
        for needs in companies
        for shape in _around(sticking.frame, sticking.pieces)
    ]


def _around(frame: Frame, pieces: Sequence[Piece]) -> list[Polytope]:
    shapes = []
    for piece in pieces:
        if piece.kind in ("box", "lens"):
            x, y = piece.d0 / 2, (piece.d1 or piece.d0) / 2
            (u, v) = piece.at
            corners = ((u - x, v - y), (u + x, v - y), (u + x, v + y), (u - x, v + y))
            shapes.append(prism(frame, corners, piece.z0, piece.z1))
    turned = [p for p in pieces if p.kind not in ("box", "lens")]
    if turned:
        across = max(
            max(p.d0, (p.d1 or 0.0) if p.kind == "cone" else 0.0) + 2 * math.hypot(*p.at)
            for p in turned
        )
        low, high = min(p.z0 for p in turned), max(p.z1 for p in turned)
        shapes.append(prism(frame, _ring(8, across / 2), low, high))
    return shapes


def _ring(sides: int, inner_radius: float) -> tuple[Vec2, ...]:
    """A regular polygon around a circle."""
    radius = inner_radius / math.cos(math.pi / sides)
    turns = [(n + 0.5) * 2 * math.pi / sides for n in range(sides)]
    return tuple((radius * math.cos(a), radius * math.sin(a)) for a in turns)
