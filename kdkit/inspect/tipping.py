"""Tipping forwards with the drawers out: advice with its assumptions, never a rating.

Figures on tipping and storage are advice with their assumptions. Moments of the parts' own
masses and the limits of a scope can be worked out; what a rule asks is tested.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kdkit.diagnostics import Problem, advice, warning
from kdkit.frames import Vec3, dot
from kdkit.geometry.surfaces import part_middle
from kdkit.inspect.drawers import Drawer, find_drawers
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.stability import is_restraint
from kdkit.inspect.standing import floor_points
from kdkit.units import mm_text

__all__ = ["check_drawers_tip", "spare_moment"]

GRAVITY = 9.81  # m/s²

_FRONT: Vec3 = (0.0, -1.0, 0.0)


def spare_moment(
    *,
    masses: Sequence[tuple[float, float]],
    pull: float = 0.0,
    height: float = 0.0,
) -> float:
    """Return what is left against tipping over the front support line, N·m; below 0 it tips.

    W·x_cg − Σ(w_drawer·x_out) − F·h.

    Args:
        masses: (kg, mm behind the line; before it below 0).
        pull: N forwards, at ``height`` mm.

    Source:
        Moments about the front support line. 30 kg at 190 behind and 6 kg at 250 ahead leave
        41.2 N·m.
    """
    return (sum(m * x for m, x in masses) * GRAVITY - pull * height) / 1000.0


def check_drawers_tip(inspection: Inspection) -> Iterable[Problem]:
    """Tell what is left against tipping forwards with all drawers out, empty and loaded.

    Drawers that run out to the front count, and nothing but the parts' own masses.
    """
    drawers = [d for d in find_drawers(inspection) if dot(d.way, _FRONT) > 0.99]
    if not drawers:
        return
    line = _support_line(inspection)
    out = {name: d.travel for d in drawers for name in d.parts}
    masses = [
        (inspection.masses.parts[part.name], part_middle(part)[1] - out.get(part.name, 0.0) - line)
        for part in inspection.assembly.parts
    ]
    spare = spare_moment(masses=masses)
    arms = [-(_load_place(inspection, d) - d.travel - line) for d in drawers]
    ahead = sum(max(0.0, arm) for arm in arms) / 1000.0 * GRAVITY
    travel = mm_text(max(d.travel for d in drawers))
    n = len(drawers)
    what = f"its {n} drawers" if n > 1 else "its drawer"
    assumed = (
        f"assumed: rigid, on a level floor, tipping over the line y = {mm_text(line)}, {what} out"
        f" by {travel} mm, doors shut, the parts' own masses, nobody pulling; an estimate, no"
        " rating"
    )
    restrained = any(is_restraint(inspection, f.fitting) for f in inspection.joinery.fixtures)
    wall = (
        "it is to be fixed to the wall before use"
        if restrained
        else "add a wall restraint: a fixture with the fitting `tip-restraint` at the top rear"
    )
    if spare <= 0:
        make = advice if restrained else warning
        yield make(
            "tips-with-drawers",
            f"empty, with {what} out, it tips over forwards: {mm_text(-spare)} N·m too little",
            drawers[0].path,
            where=", ".join(d.name for d in drawers),
            help=f"{wall}; {assumed}",
        )
    else:
        most = spare / ahead if ahead > 0 else None
        loaded = (
            f"; more than {mm_text(most)} kg in {'each' if n > 1 else 'it'} tips it over"
            if most is not None
            else ""
        )
        yield advice(
            "tips-with-drawers",
            f"empty, with {what} out, {mm_text(spare)} N·m hold it from tipping over"
            f" forwards{loaded}",
            drawers[0].path,
            where=", ".join(d.name for d in drawers),
            help=f"{wall}; {assumed}",
        )


def _support_line(inspection: Inspection) -> float:
    """Return y of the foremost points on which the product stands: parts, or feet under them."""
    return min(y for _, y, _ in floor_points(inspection)[0])


def _load_place(inspection: Inspection, drawer: Drawer) -> float:
    """Return y of the middle of a drawer's sides: where its load lies when it is shut."""
    places = [part_middle(inspection.part(name))[1] for name in drawer.sides]
    return sum(places) / len(places)
