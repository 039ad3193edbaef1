"""Wood between bores, under grooves and beside them."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from kdkit.diagnostics import Problem, advice
from kdkit.frames import Vec2, cross, dot, norm, scaled, sub
from kdkit.geometry.boxes import near_pairs
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.resolved import Part
from kdkit.parts.cut_boxes import cut_box
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_bore_walls", "check_grooves_fit"]

WALL = 1.0
"""Wood that should stay between two bores side by side, mm. Common practice, no source."""

SKIN = 3.0
"""Wood under a groove, and on both sides of one in an edge. Common practice, no source."""

LIP = 5.0
"""Wood between a groove and the edge that it runs along. Common practice, no source: a back's
groove is set back 10 to 20."""

_PRACTICE = "common practice, no source"


def check_bore_walls(inspection: Inspection) -> Iterable[Problem]:
    """Two bores side by side, of different fasteners, leave a wall between them."""
    for name, bores in inspection.bores.items():
        part = inspection.part(name)
        boxes = np.array([cut_box(part, bore) for bore in bores])
        for n, m in near_pairs(boxes, WALL):
            a, b = bores[n], bores[m]
            if a.fastener is not None and a.fastener == b.fastener:
                continue
            wall = _wall(a, b)
            if wall is not None and TOLERANCE < wall < WALL - TOLERANCE:
                yield advice(
                    "bore-wall-thin",
                    f"{a.purpose} Ø{mm_text(a.diameter)} and {b.purpose} Ø{mm_text(b.diameter)}"
                    f" leave {mm_text(wall, 2)} mm of wood between them",
                    a.path,
                    where=f"{inspection.bore_words(a)}; {inspection.bore_words(b)}",
                    help=f"{mm_text(WALL)} mm and more stay whole ({_PRACTICE})",
                )


def _wall(a: Bore, b: Bore) -> float | None:
    """Return the wood between two parallel bores that lie beside each other, else None."""
    if norm(cross(a.into, b.into)) > 1e-6:
        return None
    offset = sub(b.mouth, a.mouth)
    along = dot(offset, a.into)
    far = along + b.depth * dot(a.into, b.into)
    if min(max(along, far), a.depth) - max(min(along, far), 0.0) <= TOLERANCE:
        return None
    return norm(sub(offset, scaled(a.into, along))) - (a.diameter + b.diameter) / 2


def check_grooves_fit(inspection: Inspection) -> Iterable[Problem]:
    """A groove leaves a skin under it and a lip beside it."""
    for groove in inspection.joinery.grooves:
        part = inspection.part(groove.part)
        where = f"{groove.part}, groove of {groove.joint}"
        if groove.surface.startswith("edge:"):
            heights = [abs(p[1]) for p in groove.polygon]
            left = min(min(heights), part.thickness - max(heights))
            if TOLERANCE < left < SKIN - TOLERANCE:
                yield advice(
                    "groove-skin-thin",
                    f"the groove leaves {mm_text(left, 2)} mm of the edge beside it,"
                    f" {mm_text(SKIN)} mm is the least",
                    groove.path,
                    where=where,
                    help=f"make it narrower, or the board thicker ({_PRACTICE})",
                )
            continue
        left = part.thickness - groove.depth
        if TOLERANCE < left < SKIN - TOLERANCE:
            yield advice(
                "groove-skin-thin",
                f"a groove {mm_text(groove.depth)} mm deep leaves a skin of {mm_text(left, 2)} mm,"
                f" {mm_text(SKIN)} mm is the least",
                groove.path,
                where=where,
                help=f"let the part stand in less deep ({_PRACTICE})",
            )
        lip = _lip(part, groove)
        if lip is not None and lip < LIP - TOLERANCE:
            yield advice(
                "groove-near-edge",
                f"the groove leaves a lip of {mm_text(lip, 2)} mm to the edge,"
                f" {mm_text(LIP)} mm is the least",
                groove.path,
                where=where,
                help=f"set it back 10 to 20 mm, or let it run out as a rebate ({_PRACTICE})",
            )


def _lip(part: Part, groove: Groove) -> float | None:
    """Return the least wood between a side of a groove and an edge that runs along it.

    None where no edge does, or the groove is open to it, as a rebate is.
    """
    found = []
    outline, plan = part.outline, groove.polygon
    for c, d in zip(outline, (*outline[1:], outline[0]), strict=True):
        sides = zip(plan, (*plan[1:], plan[0]), strict=True)
        beside = [apart for a, b in sides if (apart := _beside(a, b, c, d)) is not None]
        if beside and min(beside) > 0.05:
            found.append(min(beside))
    return min(found, default=None)


def _beside(a: Vec2, b: Vec2, c: Vec2, d: Vec2) -> float | None:
    """Return how far two parallel segments that pass each other lie apart, else None."""
    length, other = math.dist(a, b), math.dist(c, d)
    if length < TOLERANCE or other < TOLERANCE:
        return None
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    vx, vy = (d[0] - c[0]) / other, (d[1] - c[1]) / other
    if abs(ux * vy - uy * vx) > 1e-6:
        return None
    along = sorted((p[0] - a[0]) * ux + (p[1] - a[1]) * uy for p in (c, d))
    if min(along[1], length) - max(along[0], 0.0) < 1.0:
        return None
    return abs((c[0] - a[0]) * uy - (c[1] - a[1]) * ux)
