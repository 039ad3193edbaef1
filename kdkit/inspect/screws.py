"""Screws: their pilots, their clearance bores, and where they stand in MDF and end grain.

Source:
    MDF: pilot 85 to 95 % of the core and 1 deeper than the screw; on a face 12 from an edge
    and 25 from a corner, in an edge 70 from a corner: from memory of the guidance of European
    makers of MDF on screwing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from kdkit.catalogue.entries import Item
from kdkit.diagnostics import Problem, advice, warning
from kdkit.frames import Vec3, add, cross, dot, norm, scaled, sub
from kdkit.inspect.fasteners import Driven, driven_items, named, placed_words, shank_of
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore, Fastener, PlacedItem
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "CLEARANCES",
    "check_end_grain",
    "check_screw_clearances",
    "check_screw_pilots",
    "check_screws_in_mdf",
]

CLEARANCES = {
    4: (4.3, 4.5, 4.8),
    5: (5.3, 5.5, 5.8),
    6: (6.4, 6.6, 7.0),
    8: (8.4, 9.0, 10.0),
}
"""Clearance bores of machine screws by size, close, normal and loose, mm. Source: ISO 273,
general ISO tables as in the package bd-warehouse 0.4.0 (Apache-2.0)."""

CORE = 2 / 3
"""Core of a pointed screw over the diameter of its thread. Common practice, no source."""

_PILOT = (0.85, 0.95)
_DEEPER = 1.0
_FROM_EDGE, _FROM_CORNER, _FROM_CORNER_IN_EDGE = 12.0, 25.0, 70.0
_MDF_SOURCE = "source: from memory of the guidance of European makers of MDF on screwing"
_END_GRAIN = 8.0  # diameters of the screw in end grain. Common practice, no source.
_SLACK = 1.0  # by which a wood screw's clearance bore may be wider. Common practice, no source.
_POINT = 0.25  # a screw's tip over its thread, below which it cuts its own way


def check_screw_pilots(inspection: Inspection) -> Iterable[Problem]:
    """In MDF a pilot is 85 to 95 % of the screw's core, and 1 mm deeper than the screw."""
    for driven, bore, tip in _pilots(inspection):
        if inspection.family(driven.part) != "mdf":
            continue
        core = CORE * shank_of(driven.entry)
        least, most = _PILOT[0] * core, _PILOT[1] * core
        if not least - TOLERANCE <= bore.diameter <= most + TOLERANCE:
            yield advice(
                "screw-pilot-size",
                f"the pilot of {named(driven)} is Ø{mm_text(bore.diameter)} in MDF;"
                f" Ø{mm_text(least)} to {mm_text(most)} keeps the board whole and the screw tight",
                bore.path,
                where=placed_words(driven),
                help=f"85 to 95 % of the core, taken as {mm_text(core)} mm (two thirds of the"
                f" thread); {_MDF_SOURCE}",
            )
        if not bore.through and bore.depth < tip + _DEEPER - TOLERANCE:
            yield advice(
                "screw-pilot-short",
                f"the pilot of {named(driven)} is {mm_text(bore.depth)} mm deep in MDF and the"
                f" screw goes in {mm_text(tip)} mm",
                bore.path,
                where=placed_words(driven),
                help=f"drill {mm_text(tip + _DEEPER)} mm or more, 1 deeper than the screw;"
                f" {_MDF_SOURCE}",
            )


def check_screws_in_mdf(inspection: Inspection) -> Iterable[Problem]:
    """In MDF screws stand away from edges and corners, so that it does not split."""
    for driven, bore, _ in _pilots(inspection):
        part = driven.part
        if inspection.family(part) != "mdf":
            continue
        outline = part.outline
        x, y, _z = bore.mouth
        if bore.surface in ("face", "back"):
            edge = min(
                _point_to_line(a, b, (x, y))
                for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)
            )
            corner = min(math.dist((x, y), c) for c in outline)
            faults = [
                ("an edge", edge, _FROM_EDGE),
                ("a corner", corner, _FROM_CORNER),
            ]
        else:
            n = int(bore.surface.removeprefix("edge:"))
            ends = (outline[n], outline[(n + 1) % len(outline)])
            faults = [
                (
                    "a corner of the board, in its edge",
                    min(math.dist((x, y), c) for c in ends),
                    _FROM_CORNER_IN_EDGE,
                )
            ]
        for what, distance, least in faults:
            if distance < least - TOLERANCE:
                yield warning(
                    "screw-near-edge",
                    f"{named(driven)} stands {mm_text(distance)} mm from {what}, in MDF;"
                    f" {mm_text(least)} mm is the least",
                    bore.path,
                    where=placed_words(driven),
                    help=f"move it away, or MDF splits; {_MDF_SOURCE}",
                )


def _point_to_line(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    along = min(1.0, max(0.0, along))
    return math.hypot(p[0] - a[0] - along * dx, p[1] - a[1] - along * dy)


def check_screw_clearances(inspection: Inspection) -> Iterable[Problem]:
    """A screw slips through the piece that it holds, but not loosely.

    Source:
        Machine screws: the ISO table in ``CLEARANCES``. Other screws: d to d + 1, common
        practice, no source.
    """
    by_fastener = _by_fastener(inspection)
    for fastener in inspection.joinery.fasteners:
        for item in fastener.items:
            entry = inspection.catalogue.items.get(item.item)
            fitting = inspection.fitting(fastener.fitting)
            if entry is None or fitting is None or not _threaded(entry):
                continue
            if not any(a.do == "drive" and a.item == item.item for a in fitting.actions):
                continue
            for bore in by_fastener.get(fastener.id, ()):
                if "clearance" not in bore.purpose or not _coaxial(inspection, bore, item):
                    continue
                yield from _clearance(inspection, fastener, entry, bore)


def _clearance(
    inspection: Inspection, fastener: Fastener, entry: Item, bore: Bore
) -> Iterator[Problem]:
    diameter = shank_of(entry)
    name = f"{entry.title} {entry.size}".strip()
    least, most = diameter, diameter + _SLACK
    source = "the thread and up to 1 mm more; common practice, no source"
    table = CLEARANCES.get(round(diameter))
    if entry.machine_thread:
        if table is None:
            return
        least, most = table[0], table[2]
        shown = ", ".join(mm_text(size) for size in table)
        source = f"close, normal and loose are {shown} by the ISO table"
    if bore.diameter < least - TOLERANCE:
        yield warning(
            "screw-clearance",
            f"the clearance bore of {name} is Ø{mm_text(bore.diameter)}: the screw bites in"
            f" {bore.part} and cannot draw the joint tight",
            bore.path,
            where=inspection.bore_words(bore),
            help=f"drill Ø{mm_text(least)} to {mm_text(most)}: {source}",
        )
    elif bore.diameter > most + TOLERANCE:
        yield advice(
            "screw-clearance",
            f"the clearance bore of {name} is Ø{mm_text(bore.diameter)}, which is loose",
            bore.path,
            where=inspection.bore_words(bore),
            help=f"drill Ø{mm_text(least)} to {mm_text(most)}: {source}",
        )


def check_end_grain(inspection: Inspection) -> Iterable[Problem]:
    """A screw into the end grain of timber holds little, so it is long.

    Source:
        That it must be long: common practice; eight diameters: common practice, no source.
    """
    for driven in driven_items(inspection):
        part = driven.part
        if driven.entry.machine_thread or not _is_driven(driven) or not _threaded(driven.entry):
            continue
        if inspection.family(part) != "solid-timber" or not part.grain_along_x:
            continue
        axis = driven.item.frame.k
        least = _END_GRAIN * shank_of(driven.entry)
        if abs(dot(axis, part.frame.i)) < 0.9 or driven.inside >= least - TOLERANCE:
            continue
        yield warning(
            "screw-end-grain",
            f"{named(driven)} stands {mm_text(driven.inside)} mm in the end grain of {part.name};"
            f" {mm_text(least)} mm is the least",
            driven.fastener.path,
            where=placed_words(driven),
            help="eight diameters, common practice, no source: use a longer screw, a pocket screw"
            " into the cross grain of the other part, or dowels",
        )


def _pilots(inspection: Inspection) -> Iterator[tuple[Driven, Bore, float]]:
    """Give each pointed wood screw with its pilot in the part that holds it, and how far it
    goes in from the pilot's mouth."""
    by_fastener = _by_fastener(inspection)
    for driven in driven_items(inspection):
        if driven.entry.machine_thread or not _is_driven(driven) or not _pointed(driven.entry):
            continue
        for bore in by_fastener.get(driven.fastener.id, ()):
            if bore.part != driven.part.name or "pilot" not in bore.purpose:
                continue
            if _coaxial(inspection, bore, driven.item):
                yield driven, bore, _goes_in(driven, bore, driven.part)


def _goes_in(driven: Driven, bore: Bore, part: Part) -> float:
    frame = driven.item.frame
    low = min(piece.z0 for piece in driven.entry.pieces)
    tip = part.frame.point_to_inner(add(frame.origin, scaled(frame.k, low)))
    return dot(sub(tip, bore.mouth), bore.into)


def _by_fastener(inspection: Inspection) -> dict[str, list[Bore]]:
    found: dict[str, list[Bore]] = {}
    for bore in inspection.joinery.bores:
        if bore.fastener is not None:
            found.setdefault(bore.fastener, []).append(bore)
    return found


def _coaxial(inspection: Inspection, bore: Bore, item: PlacedItem) -> bool:
    frame = inspection.part(bore.part).frame
    into: Vec3 = frame.vector_to_outer(bore.into)
    if norm(cross(into, item.frame.k)) > 1e-4:
        return False
    off = sub(frame.point_to_outer(bore.mouth), item.frame.origin)
    return norm(cross(off, item.frame.k)) < 0.1


def _is_driven(driven: Driven) -> bool:
    return any(a.do == "drive" and a.item == driven.item.item for a in driven.fitting.actions)


def _threaded(entry: Item) -> bool:
    return any(piece.surface == "thread" and piece.z0 < 0 for piece in entry.pieces)


def _pointed(entry: Item) -> bool:
    if not _threaded(entry):
        return False
    tip = min(entry.pieces, key=lambda p: p.z0)
    return tip.kind == "cone" and tip.d0 < _POINT * shank_of(entry)
