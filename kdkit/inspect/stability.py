"""Tipping, lifting and sagging: advice with its assumptions, never a rating."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from kdkit.diagnostics import Problem, advice, warning
from kdkit.frames import dot, sub
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.strength import creep_factors, shelf_sag
from kdkit.model.resolved import Part
from kdkit.parts.size import part_size
from kdkit.units import mm_text

__all__ = ["check_heavy_parts", "check_restraint", "check_shelf_sag", "is_restraint"]

TALL = 686.0
"""From this height a free-standing clothing storage unit falls under ASTM F2057-23
through 16 CFR 1261; taken here as the height from which to advise a restraint."""

STORAGE_MASS = 13.6  # kg; the same standard
RESTRAINT_BOARD = 15.0  # mm; a restraint wants a panel of at least this. Common practice.
SAG_SHARE = 200.0
"""A sag of 1/200 of the span is plainly seen. Common practice, no source."""


def check_restraint(inspection: Inspection) -> Iterable[Problem]:
    """A tall piece is fixed to the wall, and into enough wood."""
    safety = inspection.resolved.said.safety
    restraints = [f for f in inspection.joinery.fixtures if is_restraint(inspection, f.fitting)]
    for fixture in restraints:
        for name in fixture.on:
            part = inspection.part(name)
            if part.thickness < RESTRAINT_BOARD - 0.05:
                yield warning(
                    "restraint-board-thin",
                    f"the tip restraint is fixed to {name}, {mm_text(part.thickness)} mm thick;"
                    f" {mm_text(RESTRAINT_BOARD)} mm is the least",
                    fixture.path,
                    where=f"{fixture.name} on {name}",
                    help="fix it to a thicker part at the top rear",
                )
    if restraints or not inspection.assembly.parts:
        return
    boxes = np.array([part_box(part) for part in inspection.assembly.parts])
    height = float(boxes[:, 5].max() - boxes[:, 2].min())
    mass = inspection.masses.product
    help = "add a fixture with the fitting `tip-restraint` at the top rear, in 15 mm or more"
    path = ("safety", "wall_restraint")
    if safety.wall_restraint == "required":
        yield warning(
            "restraint-missing",
            "a wall restraint is required, but no tip restraint is among the fixtures",
            path,
            help=help,
        )
    elif safety.clothing_storage and height >= TALL and mass >= STORAGE_MASS:
        yield warning(
            "restraint-missing",
            f"clothing storage {mm_text(height)} mm high with {mm_text(mass)} kg has no tip"
            f" restraint; from {mm_text(TALL)} mm and {mm_text(STORAGE_MASS)} kg such units can"
            " fall under ASTM F2057-23",
            ("safety", "clothing_storage"),
            help=help,
        )
    elif safety.wall_restraint == "advised" and height >= TALL:
        yield advice(
            "restraint-missing",
            f"{mm_text(height)} mm high without a tip restraint; one is advised from"
            f" {mm_text(TALL)} mm",
            path,
            help=f"{help}, or say `wall_restraint: none`",
        )


def is_restraint(inspection: Inspection, name: str) -> bool:
    """Tell whether a fitting holds the product to the wall."""
    fitting = inspection.fitting(name)
    return name.startswith("tip-restraint") or (
        fitting is not None and any(rule.item == "wall-anchor" for rule in fitting.items)
    )


def check_heavy_parts(inspection: Inspection) -> Iterable[Problem]:
    """Tell of parts that two persons should lift.

    Source:
        Two persons above 15 kg by default: common practice, compare ISO 11228-1.
    """
    limit = inspection.resolved.said.safety.heavy_part
    for part in inspection.assembly.parts:
        mass = inspection.masses.parts[part.name]
        if mass >= limit:
            yield advice(
                "part-heavy",
                f"{part.name} weighs about {mm_text(mass)} kg; from {mm_text(limit)} kg more"
                " than one person should lift it",
                part.path,
                where=part.name,
                help="the manual says how many persons lift it, in the step",
            )


def check_shelf_sag(inspection: Inspection) -> Iterable[Problem]:
    """Tell of shelves that will sag visibly under the load that the maker states."""
    load = inspection.resolved.said.safety.load_per_shelf
    if not load:
        return
    for part in inspection.assembly.parts:
        strength, family = inspection.strength(part), inspection.family(part)
        moe = strength.moe if strength is not None else None
        span = _free_span(inspection, part)
        if span is None or moe is None:
            continue
        length, whole, width = span
        share = load * length / whole
        at_once = shelf_sag(
            span=length, width=width, thickness=part.thickness, moe=moe, load_kg=share
        )
        mild, strict = creep_factors(family)
        sag = mild * at_once
        worst = f", up to {mm_text(strict * at_once)} mm" if strict > mild else ""
        if sag > length / SAG_SHARE:
            yield advice(
                "shelf-sags",
                f"{part.name} would sag about {mm_text(sag)} mm{worst} in time over"
                f" {mm_text(length, 0)} mm under {mm_text(load)} kg spread"
                f" ({mm_text(length / SAG_SHARE)} mm is plainly seen)",
                part.path,
                where=part.name,
                help=f"assumed: it rests at both ends, E = {mm_text(moe, 0)} N/mm²,"
                f" {_creep_words(family, mild, strict)}; an estimate, no rating. A thicker board,"
                " a shorter span or a rail under it helps",
            )


def _creep_words(family: str | None, mild: float, strict: float) -> str:
    if family == "glass":
        return "no creep, and nothing is said of its strength"
    if mild == strict:
        return f"creep × {mm_text(strict)} (1 + k_def, from memory of EN 1995-1-1)"
    return (
        f"creep × {mm_text(mild)} (guidance of European makers of MDF, from memory)"
        f" up to × {mm_text(strict, 2)}"
        " (1 + k_def, EN 1995-1-1, service class 1)"
    )


def _free_span(inspection: Inspection, part: Part) -> tuple[float, float, float] | None:
    """Return a lying part's longest free span, its whole length that way and its width.

    None when it does not lie flat between two upright parts, or rests along its length.
    """
    if abs(part.frame.k[2]) < 1 - 1e-6:
        return None
    size = part_size(part)
    best: tuple[float, float, float] | None = None
    for n, axis in enumerate((part.frame.i, part.frame.j)):
        stands: list[tuple[float, float]] = []
        for contact in inspection.contacts.get(part.name, ()):
            other = inspection.part(
                contact.receiving if contact.butting == part.name else contact.butting
            )
            if abs(other.frame.k[2]) > 0.5:
                continue
            corners = [contact.frame.point_to_outer((x, y, 0.0)) for x, y in contact.polygon]
            ends = [dot(sub(p, part.frame.origin), axis) for p in corners]
            low, high = min(ends), max(ends)
            if high - low > size[n] / 4:
                below = contact.frame.k[2] * (1 if contact.butting == part.name else -1) > 0.5
                if below:
                    return None  # a rail or plinth carries it all along
                continue
            stands.append((low, high))
        for name in inspection.carriers.get(part.name, ()):
            carrier = inspection.part(name).frame
            if abs(dot(carrier.k, axis)) > 0.9:
                middle = dot(sub(carrier.origin, part.frame.origin), axis)
                at = min(max(middle, 0.0), size[n])
                stands.append((at, at))
        stands.sort()
        spans = [b[0] - a[1] for a, b in pairwise(stands)]
        if spans and stands[0][0] < size[n] / 4 and stands[-1][1] > size[n] * 3 / 4:
            found = (max(spans), size[n], size[1 - n])
            if found[0] > 0 and (best is None or found[0] < best[0]):
                best = found
    return best
