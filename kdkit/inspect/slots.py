"""Slots: deep enough and not too deep, inside their surface, clear of bores and grooves."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.ops import nearest_points

from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import Frame, Vec3, add, cross, dot, norm, scaled, sub
from kdkit.geometry.boxes import near_pairs
from kdkit.geometry.surfaces import surface_frame, surfaces_of
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.resolved import Part
from kdkit.parts.cut_boxes import cut_box, groove_plan
from kdkit.parts.words import surface_words, with_article
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_slot_crossings", "check_slot_mates", "check_slots_fit"]

_GRAZE = 5 * TOLERANCE
_ROUNDS = 400

SLOT_TOLERANCE = 0.1
"""By this the two slots of a biscuit may differ across: a tenth, so that the faces come flush.
That they must match there and may float along the slot: common practice, no source."""

_Nearest = Callable[[Vec3], Vec3]


def check_slots_fit(inspection: Inspection) -> Iterable[Problem]:
    """A slot keeps inside its surface and leaves a skin (3 mm: common practice, no source)."""
    for slot in inspection.joinery.slots:
        part = inspection.part(slot.part)
        where = _words(inspection, slot)
        room = inspection.members[slot.part].depth_through(slot.mouth, slot.into)
        fitting = _fitting_limits(inspection, slot)
        left = room - slot.depth
        if left <= TOLERANCE:
            yield error(
                "slot-too-deep",
                f"slot is {mm_text(slot.depth)} mm deep in {mm_text(room)} mm of wood",
                slot.path,
                where=where,
                help="use a smaller fitting or a thicker board",
            )
        elif left < fitting - TOLERANCE:
            yield warning(
                "slot-skin-thin",
                f"slot {mm_text(slot.depth)} mm deep leaves a skin of {mm_text(left, 2)} mm,"
                f" {mm_text(fitting)} mm is the least",
                slot.path,
                where=where,
                help="use a smaller fitting or a thicker board",
            )
        surface = next((s for s in surfaces_of(part) if s.name == slot.surface), None)
        frame = part.frame.frame_to_outer(surface_frame(part, slot.surface))
        plan = _plan(slot, part.frame, frame)
        if surface is not None and not surface.polygon.buffer(TOLERANCE).covers(plan):
            yield error(
                "slot-breaks-out",
                f"slot {mm_text(slot.length)} × {mm_text(slot.width)} runs out of"
                f" {with_article(surface_words(part, slot.surface))}",
                slot.path,
                where=where,
                help="move it in with `ends` or `at`, or choose a smaller fitting",
            )


def check_slot_crossings(inspection: Inspection) -> Iterable[Problem]:
    """No slot runs into another one, into a bore or into a groove, unless its fitting says so."""
    by_part: dict[str, list[Slot]] = {}
    for slot in inspection.joinery.slots:
        by_part.setdefault(slot.part, []).append(slot)
    for name, slots in by_part.items():
        part = inspection.part(name)
        others: list[Slot | Bore | Groove] = [
            *slots,
            *inspection.bores.get(name, ()),
            *inspection.grooves.get(name, ()),
        ]
        boxes = np.array([cut_box(part, one) for one in others])
        for n, m in near_pairs(boxes):
            if min(n, m) >= len(slots):
                continue  # bores and grooves among themselves have checks of their own
            slot, other = slots[min(n, m)], others[max(n, m)]
            if _meant_to_meet(slot, other) or not _meet(part, slot, other):
                continue
            yield error(
                "slot-crosses",
                f"{slot.purpose} runs into {_named(other)}",
                slot.path,
                where=_words(inspection, slot),
                help="move one of the two along, or choose a smaller fitting",
            )


def _meant_to_meet(slot: Slot, other: Slot | Bore | Groove) -> bool:
    """Tell whether a fitting cuts one recess within or into the other."""
    if isinstance(other, Groove) or slot.fastener is None or slot.fastener != other.fastener:
        return False
    return other.purpose in slot.meets or slot.purpose in other.meets


def check_slot_mates(inspection: Inspection) -> Iterable[Problem]:
    """The two slots of a biscuit or tenon lie at one distance from the face.

    Along the slot a biscuit may float by what the slot is longer than it.
    """
    pairs: dict[tuple[str, str], list[Slot]] = {}
    for slot in inspection.joinery.slots:
        if slot.fastener is not None and slot.mate is not None:
            pairs.setdefault((slot.fastener, slot.mate), []).append(slot)
    for slots in pairs.values():
        first = slots[0]
        frame = inspection.part(first.part).frame
        mouth, along = frame.point_to_outer(first.mouth), frame.vector_to_outer(first.along)
        for other in slots[1:]:
            there = inspection.part(other.part).frame
            off = sub(there.point_to_outer(other.mouth), mouth)
            off = sub(off, scaled(along, dot(off, along)))
            turned = norm(cross(along, there.vector_to_outer(other.along))) > 1e-3
            if turned or norm(off) > SLOT_TOLERANCE:
                yield error(
                    "slots-do-not-meet",
                    f"the two slots of a {first.purpose.removesuffix(' slot')} lie"
                    f" {mm_text(norm(off), 2)} mm apart across"
                    if not turned
                    else "the two slots of one fitting run different ways",
                    other.path,
                    where=f"{_words(inspection, first)}; {_words(inspection, other)}",
                    help="give both the same distance from the face; only along the slot may it"
                    " float (common practice, no source)",
                )


def _fitting_limits(inspection: Inspection, slot: Slot) -> float:
    fastener = inspection.fasteners.get(slot.fastener or "")
    fitting = inspection.fitting(fastener.fitting) if fastener is not None else None
    return fitting.limits.skin if fitting is not None else 3.0


def _words(inspection: Inspection, slot: Slot) -> str:
    part = inspection.part(slot.part)
    x, y, z = (mm_text(c) for c in part.frame.point_to_outer(slot.mouth))
    surface = surface_words(part, slot.surface)
    return f"{slot.part}, {surface}, {slot.purpose} at ({x}, {y}, {z})"


def _named(other: Slot | Bore | Groove) -> str:
    if isinstance(other, Bore):
        return f"{other.purpose} Ø{mm_text(other.diameter)} × {mm_text(other.depth)}"
    return (
        f"the groove of {other.joint}" if isinstance(other, Groove) else f"another {other.purpose}"
    )


def _plan(slot: Slot, panel: Frame, surface: Frame) -> Polygon:
    """Return the rectangle around a slot's mouth, in (i, j) of its surface."""
    across = cross(slot.into, slot.along)
    corners = []
    for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        offset = add(scaled(slot.along, a * slot.length / 2), scaled(across, b * slot.width / 2))
        corner = surface.point_to_inner(panel.point_to_outer(add(slot.mouth, offset)))
        corners.append(corner[:2])
    return Polygon(corners)


def _meet(part: Part, a: Slot, b: Slot | Bore | Groove) -> bool:
    """Tell whether two cuts share more than a graze.

    Source:
        Projections onto convex sets in turn (Bregman 1965; from memory): they settle in
        a common point if there is one, else they go on moving.
    """
    sets = [*_sets(part, a), *_sets(part, b)]
    p = add(a.mouth, scaled(a.into, a.depth / 2))
    for _ in range(_ROUNDS):
        moved = 0.0
        for nearest in sets:
            q = nearest(p)
            moved = max(moved, norm(sub(q, p)))
            p = q
        if moved < TOLERANCE / 10:
            return True
    return False


def _sets(part: Part, one: Slot | Bore | Groove) -> list[_Nearest]:
    """Return convex sets whose common part is the cut, each as its nearest-point function."""
    edge = _GRAZE / 2
    if isinstance(one, Bore):
        bore = one
        return [lambda p: _in_cylinder(bore.mouth, bore.into, bore.diameter / 2, bore.depth, p)]
    if isinstance(one, Groove):
        frame = surface_frame(part, one.surface)
        plan, depth = Polygon(groove_plan(one)).buffer(-edge), one.depth
        return [lambda p: _in_prism(frame, plan, depth, p)]
    slot, half = one, one.width / 2
    if slot.disc is not None:
        axis = cross(slot.into, slot.along)
        centre = add(slot.mouth, scaled(slot.into, slot.depth - slot.disc / 2))
        start, radius = add(centre, scaled(axis, -half)), slot.disc / 2
        return [
            lambda p: _in_cylinder(start, axis, radius, slot.width, p),
            lambda p: add(
                p, scaled(slot.into, max(0.0, edge - dot(sub(p, slot.mouth), slot.into)))
            ),
        ]
    out = scaled(slot.into, -1.0)
    frame = Frame(slot.mouth, slot.along, cross(out, slot.along), out)
    reach = slot.length / 2 - half
    plan = shapely.LineString([(-reach, 0), (reach, 0)]).buffer(half - edge)
    return [lambda p: _in_prism(frame, plan, slot.depth, p)]


def _in_cylinder(start: Vec3, axis: Vec3, radius: float, length: float, p: Vec3) -> Vec3:
    """Return the nearest point of a cylinder drawn in by half a graze."""
    edge = _GRAZE / 2
    offset = sub(p, start)
    along = dot(offset, axis)
    across = sub(offset, scaled(axis, along))
    along = min(max(along, edge), max(length - edge, edge))
    size = norm(across)
    if size > radius - edge:
        across = scaled(across, (radius - edge) / size)
    return add(start, add(scaled(axis, along), across))


def _in_prism(frame: Frame, plan: Polygon, depth: float, p: Vec3) -> Vec3:
    edge = _GRAZE / 2
    x, y, z = frame.point_to_inner(p)
    if not shapely.intersects_xy(plan, x, y):
        nearest, _ = nearest_points(plan, Point(x, y))
        x, y = nearest.x, nearest.y
    return frame.point_to_outer((x, y, min(max(z, edge - depth), -edge)))
