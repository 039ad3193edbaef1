"""Screws into the wall: reached by a driver, bored through all that they pass, two or more."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry import Polygon

from kdkit.areas import shared
from kdkit.diagnostics import Problem, advice, error, warning
from kdkit.frames import Vec3, cross, dot, norm, sub
from kdkit.geometry.assembly import ContactKind
from kdkit.inspect.furniture import kinds_of
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Fastener, PlacedItem
from kdkit.model.resolved import Part
from kdkit.units import mm_text

__all__ = ["check_wall_screws", "check_wall_screws_few"]

_DRIVER = 150.0
"""mm before a screw's head that a driver and the hand on it take. Common practice, no source."""

_LEAST = 2
"""Screws that a thing hangs by: one lets it turn. Common practice, no source."""

_ON_AXIS = 2.0
"""mm by which a bore may stand beside the screw's axis."""


def check_wall_screws(inspection: Inspection) -> Iterable[Problem]:
    """No part stands before a screw into the wall, or between it and the wall, unbored."""
    opens = _opens(inspection)
    for fastener in inspection.joinery.fasteners:
        for placed in fastener.items:
            item = inspection.catalogue.items.get(placed.item)
            if item is None or item.supplied:
                continue
            own = inspection.part(fastener.receiving)
            for part in inspection.assembly.parts:
                if part.name == own.name or part.name in opens:
                    continue
                found = _crossed(part, own, placed)
                if found is None or _is_bored(inspection, part, placed):
                    continue
                yield _covered(part, own, fastener, placed, *found)
                break


def check_wall_screws_few(inspection: Inspection) -> Iterable[Problem]:
    """What hangs on the wall hangs by two screws or more."""
    screws = [
        fastener
        for fastener in inspection.joinery.fasteners
        if (fitting := inspection.fitting(fastener.fitting)) is not None
        and "wall_hung" in fitting.cautions
    ]
    kinds = kinds_of(inspection.resolved.said, inspection.catalogue).values()
    tell = warning if any(kind.hangs for kind in kinds) else advice
    if 0 < len(screws) < _LEAST:
        yield tell(
            "wall-screws-few",
            "one screw holds it to the wall: it turns about it, and falls if that one lets go",
            screws[0].path,
            where=screws[0].receiving,
            help="set two or more, as far apart as the rail allows, where the wall holds them"
            " (common practice, no source)",
        )


def _opens(inspection: Inspection) -> frozenset[str]:
    """Return the parts that are out of the way when it is hung: doors, drawers, loose parts."""
    found = {part.name for part in inspection.assembly.parts if part.loose}
    moved: set[str] = set()
    for joint in inspection.joinery.joints:
        entries = [inspection.fitting(key) for key in joint.fittings]
        runs = any(a.do == "run-in" for e in entries if e is not None for a in e.actions)
        if runs or joint.contact.kind is ContactKind.HUNG:
            moved.add(joint.butting)
    carriers = {j.receiving for j in inspection.joinery.joints if j.butting in moved}
    while True:  # with all that is joined to them
        more = {
            name
            for joint in inspection.joinery.joints
            for name in (joint.butting, joint.receiving)
            if {joint.butting, joint.receiving} & moved and name not in carriers
        }
        if more <= moved:
            return frozenset(found | moved)
        moved |= more


def _crossed(part: Part, own: Part, placed: PlacedItem) -> tuple[float, bool] | None:
    """Return how far from a screw's own part its axis meets another, and whether before it.

    mm; before it is on the side from which it is driven, else towards the wall.
    """
    span = _inside(part, placed)
    mine = _inside(own, placed)
    if span is None:
        return None
    low, high = mine if mine is not None else (0.0, 0.0)
    before, behind = span[0] - high, low - span[1]
    if before > -1e-6:
        return (before, True) if before < _DRIVER else None
    return (max(0.0, behind), False) if behind > -1e-6 else None


def _inside(part: Part, placed: PlacedItem) -> tuple[float, float] | None:
    """Return from where to where a screw's axis runs in a part, mm out of its place; else None."""
    start = part.frame.point_to_inner(placed.frame.origin)
    way = part.frame.vector_to_inner(placed.frame.k)
    far = 10_000.0
    ends: tuple[float, float] = (-far, far)
    if abs(way[2]) > 1e-9:
        a, b = (-start[2] / way[2], (-part.thickness - start[2]) / way[2])
        ends = min(a, b), max(a, b)
    elif not -part.thickness < start[2] < 0.0:
        return None
    points = [(start[0] + z * way[0], start[1] + z * way[1]) for z in ends]
    plan = Polygon(part.outline, part.cutouts)
    if abs(way[0]) + abs(way[1]) < 1e-9:
        return ends if plan.contains(shapely.Point(points[0])) else None
    met = shared(plan, shapely.LineString(points))
    if met.is_empty or met.length < 1e-6:
        return None
    level = (way[0], way[1])
    size = level[0] ** 2 + level[1] ** 2
    along = [
        ((x - start[0]) * level[0] + (y - start[1]) * level[1]) / size
        for x, y in shapely.get_coordinates(met).tolist()
    ]
    return min(along), max(along)


def _is_bored(inspection: Inspection, part: Part, placed: PlacedItem) -> bool:
    """Tell whether a part has a bore right through it on a screw's axis."""
    for bore in inspection.bores.get(part.name, ()):
        into = part.frame.vector_to_outer(bore.into)
        if not bore.through or abs(dot(into, placed.frame.k)) < 0.99:
            continue
        off = sub(part.frame.point_to_outer(bore.mouth), placed.frame.origin)
        if norm(cross(off, placed.frame.k)) <= _ON_AXIS:
            return True
    return False


def _covered(
    part: Part, own: Part, fastener: Fastener, placed: PlacedItem, apart: float, before: bool
) -> Problem:
    """Return what is told of a part on the way of a screw into the wall."""
    at: Vec3 = placed.frame.origin
    x, y, z = (mm_text(c) for c in at)
    if before:
        far = f"{mm_text(apart)} mm before it" if apart > 0.05 else "right before it"
        said = (
            f"the screw into the wall at ({x}, {y}, {z}) cannot be driven: {part.name} stands {far}"
        )
    else:
        said = (
            f"the screw into the wall at ({x}, {y}, {z}) goes through {part.name}, which lies"
            f" between {own.name} and the wall and has no bore there"
        )
    place = ", ".join(
        f"{axis}: {mm_text(c)}"
        for axis, c, k in zip("xyz", at, placed.frame.k, strict=True)
        if abs(k) < 0.5
    )
    return error(
        "wall-screw-covered",
        said,
        fastener.path,
        where=f"{own.name}, {part.name}",
        help=f"bore {part.name} there too (`bores: [{{face: face, {place}, diameter: 8,"
        f" depth: through}}]`), let {own.name} lie on the side that is open, or move the screw",
    )
