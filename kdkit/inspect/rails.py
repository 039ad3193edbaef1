"""Hanging rails: does the tube fit its sockets, is a long one held in between."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, advice, error
from kdkit.frames import dot, sub
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import PlacedJoint
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_rails_fit_sockets", "check_rails_held", "rail_holds"]


def check_rails_fit_sockets(inspection: Inspection) -> Iterable[Problem]:
    """A rail is as thick as its sockets take."""
    for joint, fitting, rail in _hung(inspection):
        wanted = fitting.options.get("diameter")
        if wanted is None or abs(joint.contact.run - wanted) <= 10 * TOLERANCE:
            continue
        yield error(
            "rail-diameter",
            f"{rail.name} is {mm_text(joint.contact.run, 2)} mm thick, its sockets"
            f" ({fitting.title}) take {mm_text(wanted)} mm",
            joint.path,
            where=f"{rail.name} to {joint.receiving}",
            help="take a rail of that diameter, or other sockets",
        )


def check_rails_held(inspection: Inspection) -> Iterable[Problem]:
    """A long rail is held in between.

    Source:
        From a span of about 1000 a rail wants a support from above: common practice, no
        source.
    """
    for name, (most, held) in rail_holds(inspection).items():
        longest = max((b - a for a, b in pairwise(held)), default=0.0)
        if longest > most + TOLERANCE:
            yield advice(
                "rail-unsupported",
                f"{name} hangs free over {mm_text(longest)} mm; over more than about"
                f" {mm_text(most)} mm it sags under what hangs on it",
                inspection.part(name).path,
                where=name,
                help="hold it in the middle from above: a fixture with the fitting"
                f" `rail-hook-60` on the panel over it, with `carries: {name}`; common practice,"
                " no source",
            )


def rail_holds(inspection: Inspection) -> dict[str, tuple[float, list[float]]]:
    """Return of each rail the span it bears free, and where along it sockets and hooks are."""
    spans: dict[str, tuple[float, list[float]]] = {}
    for joint, fitting, rail in _hung(inspection):
        most, held = spans.setdefault(rail.name, (fitting.limits.span or 0.0, []))
        held.append(_along(rail, joint.contact.frame.origin))
        spans[rail.name] = (min(most, fitting.limits.span or most), held)
    for fixture in inspection.joinery.fixtures:
        for name in fixture.carries:
            if name in spans:
                rail = inspection.part(name)
                spans[name][1].extend(
                    _along(rail, inspection.fasteners[f].frame.origin) for f in fixture.fasteners
                )
    for _, held in spans.values():
        held.sort()
    return spans


def _hung(inspection: Inspection) -> Iterator[tuple[PlacedJoint, Fitting, Part]]:
    """Give every joint that holds the end of a rail, with its fitting and the rail."""
    for joint in inspection.joinery.joints:
        for name in joint.fittings:
            fitting = inspection.fitting(name)
            if fitting is not None and fitting.limits.span is not None:
                yield joint, fitting, inspection.part(joint.butting)


def _along(rail: Part, point: tuple[float, float, float]) -> float:
    """Return where a point of the product lies along a rail, from its first end."""
    axis = rail.frame.k if rail.smooth else rail.frame.i
    return dot(sub(point, rail.frame.origin), axis)
