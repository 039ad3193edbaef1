"""Tipping and lifting: advice with its assumptions, never a rating."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from kdkit.diagnostics import Problem, advice, warning
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.furniture import restraint_wanted
from kdkit.inspect.inspection import Inspection
from kdkit.units import mm_text

__all__ = ["check_heavy_parts", "check_restraint", "is_restraint"]

TALL = 686.0
"""From this height a free-standing clothing storage unit falls under ASTM F2057-23
through 16 CFR 1261; taken here as the height from which to advise a restraint."""

STORAGE_MASS = 13.6  # kg; the same standard
SLENDER = 4.0  # times its depth over which a high piece is sure to tip. Common practice, no source.
RESTRAINT_BOARD = 15.0  # mm; a restraint wants a panel of at least this. Common practice.


def check_restraint(inspection: Inspection) -> Iterable[Problem]:
    """A tall piece is fixed to the wall, and into enough wood."""
    said = inspection.resolved.said
    safety = said.safety
    wanted = restraint_wanted(said, inspection.catalogue)
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
    if wanted == "required":
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
    elif wanted == "advised" and height >= TALL:
        deep = float(boxes[:, 4].max() - boxes[:, 1].min())
        make = warning if height > SLENDER * deep else advice
        yield make(
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
