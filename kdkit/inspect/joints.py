"""Joints: does the fitting suit the boards, is it spread as it should be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Path, Problem, warning
from kdkit.frames import scaled
from kdkit.geometry.assembly import ContactKind
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Fastener, PlacedJoint
from kdkit.joinery.thicknesses import thickness_missed, thickness_problem
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "check_end_distances",
    "check_fitting_families",
    "check_fitting_thicknesses",
    "check_pitches",
    "ill_fitted",
]


def check_fitting_thicknesses(inspection: Inspection) -> Iterable[Problem]:
    """Boards must be as thick as the fitting's limits say."""
    for name, fitting, part, role, thickness, path, where in _uses(inspection):
        if inspection.family(part) == "glass":  # glass is told as such
            continue
        problem = thickness_problem(name, fitting, part, role, thickness, path, where)
        if problem is not None:
            yield problem


def ill_fitted(inspection: Inspection) -> frozenset[tuple[Path, str]]:
    """Return the uses of fittings, each with the part, whose bores need no look.

    The board is of a thickness that the fitting is not made for, or no wood at all: that
    is told, and what is wrong with the bores only follows from it.
    """
    return frozenset(
        (path, part.name)
        for _, fitting, part, role, thickness, path, _ in _uses(inspection)
        if inspection.family(part) == "glass"
        or thickness_missed(fitting, role, thickness) is not None
    )


def check_fitting_families(inspection: Inspection) -> Iterable[Problem]:
    """Some fittings do not hold in every kind of board."""
    for name, fitting, part, _, _, path, where in _uses(inspection):
        family = inspection.family(part)
        families = fitting.limits.families
        if families is None or family is None or family in families:
            continue
        yield warning(
            "fitting-family",
            f"{name} is meant for {', '.join(families)}; {part.name} is {family}",
            path,
            where=where,
            help="choose a fitting that holds in this board",
        )


def _uses(
    inspection: Inspection,
) -> Iterator[tuple[str, Fitting, Part, str, float, Path, str]]:
    """Give every fitting in every part it is used in, with the wood it finds there, once."""
    by_joint: dict[str, list[Fastener]] = {}
    for fastener in inspection.joinery.fasteners:
        by_joint.setdefault(fastener.joint, []).append(fastener)
    for joint in inspection.joinery.joints:
        where = f"{joint.butting} to {joint.receiving}"
        for name in joint.fittings:
            fitting = inspection.fitting(name)
            if fitting is None:
                continue
            here = [f for f in by_joint.get(joint.name, []) if f.fitting == name]
            path = here[0].path if here else joint.path
            butting, receiving = inspection.part(joint.butting), inspection.part(joint.receiving)
            yield name, fitting, butting, "butting", butting.thickness, path, where
            found = {_wood_behind(inspection, receiving, f) for f in here}
            if joint.contact.kind is ContactKind.MITRE:
                found = {receiving.thickness}
            for wood in sorted(found or {_surface_wood(joint, receiving)}):
                yield name, fitting, receiving, "receiving", wood, path, where
    for fixture in inspection.joinery.fixtures:
        fitting = inspection.fitting(fixture.fitting)
        if fitting is None:
            continue
        depths = {
            (f.receiving, _wood_behind(inspection, inspection.part(f.receiving), f))
            for f in by_joint.get(fixture.name, [])
        }
        for name, wood in sorted(depths):
            part = inspection.part(name)
            yield fixture.fitting, fitting, part, "receiving", wood, fixture.path, fixture.name


def _surface_wood(joint: PlacedJoint, receiving: Part) -> float:
    """Return the thickness behind a contact without fasteners; an edge counts by the board."""
    return receiving.thickness


def _wood_behind(inspection: Inspection, receiving: Part, fastener: Fastener) -> float:
    """Return how much wood of the receiving part lies behind a fastener's origin."""
    frame = receiving.frame
    depth = inspection.members[receiving.name].depth_through(
        frame.point_to_inner(fastener.frame.origin),
        frame.vector_to_inner(scaled(fastener.frame.k, -1.0)),
    )
    return round(depth, 4)


def check_pitches(inspection: Inspection) -> Iterable[Problem]:
    """Neighbouring fittings of one kind stand neither too close nor too far apart."""
    for joint, name, fitting, stations in _rows(inspection):
        if fitting.limits.pitch is None:
            continue
        least, most = fitting.limits.pitch
        gaps = [(b[0] - a[0], b[1]) for a, b in pairwise(stations)]
        if not gaps:
            continue
        where = f"{joint.butting} to {joint.receiving}"
        narrow, wide = min(gaps, key=lambda g: g[0]), max(gaps, key=lambda g: g[0])
        if narrow[0] < least - TOLERANCE:
            yield warning(
                "pitch-too-small",
                f"{name} stands {mm_text(narrow[0])} mm from its neighbour;"
                f" at least {mm_text(least)} mm keeps the board whole",
                narrow[1].path,
                where=where,
                help="use fewer, or move them apart",
            )
        if wide[0] > most + TOLERANCE:
            yield warning(
                "pitch-too-large",
                f"{name} stands {mm_text(wide[0])} mm from its neighbour;"
                f" at most {mm_text(most)} mm keeps the joint tight",
                wide[1].path,
                where=where,
                help="add one between, or set a smaller `pitch`",
            )


def check_end_distances(inspection: Inspection) -> Iterable[Problem]:
    """The outer fittings stand far enough from the ends of the contact."""
    for joint, name, fitting, stations in _rows(inspection):
        least = fitting.limits.end_distance
        if least is None:
            continue
        low = min(p[0] for p in joint.contact.polygon)
        high = max(p[0] for p in joint.contact.polygon)
        ends = [(min(at - low, high - at), fastener) for at, fastener in stations]
        distance, fastener = min(ends, key=lambda e: e[0])
        if distance < least - TOLERANCE:
            yield warning(
                "end-distance-small",
                f"{name} stands {mm_text(distance)} mm from the end of the joint;"
                f" at least {mm_text(least)} mm keeps it from splitting",
                fastener.path,
                where=f"{joint.butting} to {joint.receiving}",
                help="move it in with `ends` or `at`",
            )


def _rows(
    inspection: Inspection,
) -> Iterator[tuple[PlacedJoint, str, Fitting, list[tuple[float, Fastener]]]]:
    """Give the fasteners of one fitting along one contact, with their places on the run."""
    for joint in inspection.joinery.joints:
        rows: dict[str, list[tuple[float, Fastener]]] = {}
        for id in joint.fasteners:
            fastener = inspection.fasteners[id]
            at = joint.contact.frame.point_to_inner(fastener.frame.origin)[0]
            rows.setdefault(fastener.fitting, []).append((at, fastener))
        for name, stations in rows.items():
            fitting = inspection.fitting(name)
            if fitting is not None:
                yield joint, name, fitting, sorted(stations, key=lambda s: s[0])
