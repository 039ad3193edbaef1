"""Boards must be as thick as a fitting's limits say: one rule, one message.

It is asked before any bore is judged: what is wrong with the bores of a fitting in a board
that it is not made for only follows from that.
"""

from __future__ import annotations

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Path, Problem, error
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = ["thickness_missed", "thickness_problem"]

_SLACK = 0.05


def thickness_missed(fitting: Fitting, role: str, thickness: float) -> tuple[float, float] | None:
    """Return the thicknesses that a fitting takes, None when this is one of them.

    Args:
        role: ``butting`` or ``receiving``.
        thickness: of the wood that it finds there, mm.
    """
    limits = fitting.limits
    allowed = limits.butting_thickness if role == "butting" else limits.receiving_thickness
    if allowed is None:
        return None
    low, high = allowed
    return None if low - _SLACK <= thickness <= high + _SLACK else allowed


def thickness_problem(
    name: str, fitting: Fitting, part: Part, role: str, thickness: float, path: Path, where: str
) -> Problem | None:
    """Return the error of a fitting in wood that it is not made for, None if it is."""
    allowed = thickness_missed(fitting, role, thickness)
    if allowed is None:
        return None
    low, high = allowed
    which = "joined" if role == "butting" else "other"
    board = abs(thickness - part.thickness) < TOLERANCE
    what = "board" if board else "wood"
    return error(
        "fitting-thickness",
        f"{name} needs {mm_text(low)} to {mm_text(high)} mm in the {which} part;"
        f" {part.name} gives {mm_text(thickness)} mm of {what}",
        path,
        where=where,
        help=f"choose another fitting, or give {part.name} a board of"
        f" {mm_text(low)} to {mm_text(high)} mm"
        if board and low <= high
        else "choose another fitting or another board",
    )
