"""Bores that run into each other or into a groove. Growth: n log n in bores per part."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from shapely.geometry import Point, Polygon

from kdkit.areas import shared
from kdkit.diagnostics import Problem, error
from kdkit.frames import add, cross, dot, norm, scaled, sub
from kdkit.geometry.boxes import near_pairs
from kdkit.geometry.surfaces import surface_frame
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.resolved import Part
from kdkit.parts.cut_boxes import cut_box, groove_plan
from kdkit.units import TOLERANCE, mm_text

__all__ = ["bores_cross", "check_bore_crossings", "check_groove_crossings"]

_TOUCH = 5 * TOLERANCE  # bores that graze each other by less are not crossing


def check_bore_crossings(inspection: Inspection) -> Iterable[Problem]:
    """Two bores of a part keep apart, unless the fitting means them to meet."""
    for name, bores in inspection.bores.items():
        part = inspection.part(name)
        boxes = np.array([cut_box(part, bore) for bore in bores])
        for n, m in near_pairs(boxes):
            a, b = bores[n], bores[m]
            if _meant_to_meet(a, b) or not bores_cross(a, b):
                continue
            if a.fastener is not None and b.fastener is None and not b.spare:
                a, b = b, a  # the one typed by hand is easier to move
            yield error(
                "bore-crosses-bore",
                f"{a.purpose} Ø{mm_text(a.diameter)} × {mm_text(a.depth)} runs into"
                f" {b.purpose} Ø{mm_text(b.diameter)} × {mm_text(b.depth)}",
                a.path,
                where=f"{inspection.bore_words(a)}; {inspection.bore_words(b)}",
                help="move one of the two along, or drill less deep",
            )


def _meant_to_meet(a: Bore, b: Bore) -> bool:
    if a.fastener is not None and a.fastener == b.fastener:
        return b.purpose in a.meets or a.purpose in b.meets
    by_hand = a.fastener is None and b.fastener is None and not a.spare and not b.spare
    if not by_hand or a.diameter == b.diameter:
        return False
    # a counterbore typed by hand: one line, one mouth, two diameters
    return norm(cross(a.into, b.into)) < 1e-6 and norm(sub(a.mouth, b.mouth)) < TOLERANCE


def bores_cross(a: Bore, b: Bore) -> bool:
    """Tell whether two flat-bottomed bores of one part share more than a graze.

    Axes that pass each other inside both bores are judged by their distance; bores
    that meet at an end by projecting from one to the other in turn, which converges for
    convex bodies.

    Source:
        Alternating projections onto convex sets (Bregman 1965; from memory).
    """
    radii = (a.diameter + b.diameter) / 2 - _TOUCH
    offset = sub(b.mouth, a.mouth)
    turned = cross(a.into, b.into)
    if norm(turned) < 1e-9:
        along = dot(offset, a.into)
        if norm(sub(offset, scaled(a.into, along))) >= radii:
            return False
        far = along + b.depth * dot(a.into, b.into)
        low, high = min(along, far), max(along, far)
        return min(high, a.depth) - max(low, 0.0) > _TOUCH
    square = dot(turned, turned)
    s = dot(cross(offset, b.into), turned) / square
    t = dot(cross(offset, a.into), turned) / square
    apart = abs(dot(offset, turned)) / math.sqrt(square)
    if apart >= radii:
        return False
    if _TOUCH <= s <= a.depth - _TOUCH and _TOUCH <= t <= b.depth - _TOUCH:
        return True
    return _bodies_meet(a, b)


def _bodies_meet(a: Bore, b: Bore) -> bool:
    p = add(b.mouth, scaled(b.into, b.depth / 2))
    for _ in range(400):
        q = _nearest_in(a, p)
        p = _nearest_in(b, q)
        if norm(sub(p, q)) < TOLERANCE / 10:
            return True
    return False


def _nearest_in(bore: Bore, p: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return the point of a bore, drawn in by half a graze, that is nearest to p."""
    offset = sub(p, bore.mouth)
    along = dot(offset, bore.into)
    across = sub(offset, scaled(bore.into, along))
    edge = _TOUCH / 2
    along = min(max(along, edge), max(bore.depth - edge, edge))
    radius, size = bore.diameter / 2 - edge, norm(across)
    if size > radius:
        across = scaled(across, radius / size)
    return add(bore.mouth, add(scaled(bore.into, along), across))


def check_groove_crossings(inspection: Inspection) -> Iterable[Problem]:
    """No bore runs into a groove."""
    for name, grooves in inspection.grooves.items():
        part = inspection.part(name)
        bores = inspection.bores.get(name, ())
        for groove in grooves:
            for bore in bores:
                if not _bore_meets_groove(part, bore, groove):
                    continue
                yield error(
                    "bore-crosses-groove",
                    f"bore Ø{mm_text(bore.diameter)} × {mm_text(bore.depth)} runs into the groove"
                    f" of {groove.joint}",
                    bore.path,
                    where=inspection.bore_words(bore),
                    help="move the bore away from the groove, or set the groove further back",
                )


def _bore_meets_groove(part: Part, bore: Bore, groove: Groove) -> bool:
    """Tell whether a bore, square or parallel to the groove's surface, runs into the groove.

    In the frame of the groove's surface the groove fills −depth ≤ z ≤ 0 over its plan.
    """
    frame = surface_frame(part, groove.surface)
    plan = Polygon(groove_plan(groove))
    mouth, into = frame.point_to_inner(bore.mouth), frame.vector_to_inner(bore.into)
    bottom = add(mouth, scaled(into, bore.depth))
    low, high = min(mouth[2], bottom[2]), max(mouth[2], bottom[2])
    radius = bore.diameter / 2
    if norm((into[0], into[1], 0.0)) < 1e-6:
        overlaps = min(high, 0.0) - max(low, -groove.depth) > _TOUCH
        return overlaps and bool(plan.distance(Point(mouth[:2])) < radius - _TOUCH)
    steps = 1 if abs(into[2]) < 1e-6 else 16
    for n in range(steps):
        start = add(mouth, scaled(into, bore.depth * n / steps))
        end = add(mouth, scaled(into, bore.depth * (n + 1) / steps))
        height = (start[2] + end[2]) / 2
        off = max(height, 0.0) + max(-groove.depth - height, 0.0)
        if off >= radius - _TOUCH:
            continue
        half = math.sqrt(radius * radius - off * off) - _TOUCH
        length = math.hypot(into[0], into[1])
        side = (-into[1] / length * half, into[0] / length * half)
        strip = Polygon(
            [
                (start[0] - side[0], start[1] - side[1]),
                (end[0] - side[0], end[1] - side[1]),
                (end[0] + side[0], end[1] + side[1]),
                (start[0] + side[0], start[1] + side[1]),
            ]
        )
        if shared(strip, plan).area > _TOUCH * _TOUCH:
            return True
    return False
