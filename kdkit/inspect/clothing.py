"""The rules for clothing storage units: does a product fall under them, by its geometry?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kdkit.diagnostics import Problem, advice, warning
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.drawers import Drawer, find_drawers
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.stability import STORAGE_MASS, TALL
from kdkit.parts.size import face_area
from kdkit.units import mm_text

__all__ = ["Scope", "check_clothing_scope", "clothing_scope"]

STORAGE_VOLUME = 90.6  # dm³ enclosed; ASTM F2057-23
DRAWER_HEADROOM = 25.4 / 8
"""What is taken off a drawer's height: 1/8 in. Source: ASTM F2057-23."""

FIXED_SHARE = 0.5
"""Fixed enclosed space counts half. Source: ASTM F2057-23."""


@dataclass(frozen=True, kw_only=True)
class Scope:
    """What decides whether the rules for clothing storage units reach a product.

    Args:
        height: mm; mass: kg; enclosed: dm³, as the standard counts it.
        opens: it has drawers or hinged doors.
        standing: it hangs on no wall.
    """

    height: float
    mass: float
    enclosed: float
    opens: bool
    standing: bool

    @property
    def reached(self) -> bool:
        """All of it together: 16 CFR 1261 by way of ASTM F2057-23."""
        return (
            self.height >= TALL
            and self.mass >= STORAGE_MASS
            and self.enclosed >= STORAGE_VOLUME
            and self.opens
            and self.standing
        )


def clothing_scope(inspection: Inspection) -> Scope:
    """Measure a product against the scope of the rules for clothing storage units.

    The volume of a drawer is that inside its box, 1/8 in off its height; the space behind
    hinged doors counts half.

    Source:
        ASTM F2057-23 through 16 CFR 1261: 686 high, 13.6 kg, 90.6 dm³ enclosed,
        free-standing, drawers or hinged doors.
    """
    parts = inspection.assembly.parts
    drawers = find_drawers(inspection)
    inside = sum(_drawer_volume(inspection, drawer) for drawer in drawers)
    doors = {
        joint.butting: joint.receiving
        for joint in inspection.joinery.joints
        if joint.contact.kind is ContactKind.HUNG
    }
    held = {name for drawer in drawers for name in drawer.parts}
    behind = sum(_space_behind(inspection, door, side, held) for door, side in doors.items())
    boxes = [part_box(part) for part in parts]
    hung = any("wall_hung" in f.cautions for f in inspection.joinery.fittings.values())
    return Scope(
        height=max((float(b[5]) for b in boxes), default=0.0)
        - min((float(b[2]) for b in boxes), default=0.0),
        mass=inspection.masses.product,
        enclosed=(inside + FIXED_SHARE * behind) * 1e-6,
        opens=bool(drawers or doors),
        standing=not hung,
    )


def check_clothing_scope(inspection: Inspection) -> Iterable[Problem]:
    """Compare what the maker says of clothing storage with what the geometry comes to."""
    scope = clothing_scope(inspection)
    safety = inspection.resolved.said.safety
    figures = (
        f"{mm_text(scope.height)} mm high, {mm_text(scope.mass)} kg, about"
        f" {mm_text(scope.enclosed)} dm³ enclosed, {'free-standing' if scope.standing else 'hung'},"
        f" {'with' if scope.opens else 'without'} drawers or hinged doors"
    )
    limits = (
        f"limits: {mm_text(TALL)} mm, {mm_text(STORAGE_MASS)} kg, {mm_text(STORAGE_VOLUME)} dm³;"
        " ASTM F2057-23 through 16 CFR 1261. Drawers count less 1/8 in of height, fixed enclosed"
        " space half. What the rules ask is tested, not worked out here"
    )
    path: tuple[str, ...] = ("safety", "clothing_storage")
    if scope.reached and safety.clothing_storage:
        yield advice(
            "clothing-storage",
            f"as clothing storage it falls under rules against tipping over: {figures}",
            path,
            help=f"have it tested where these rules apply, with a restraint (ASTM F3096); {limits}",
        )
    elif scope.reached and "clothing_storage" not in safety.model_fields_set:
        yield warning(
            "clothing-storage",
            "if clothes are to be kept in it, it falls under rules against tipping over:"
            f" {figures}",
            path,
            help="say `clothing_storage: true` under `safety`, or `false` if it is not meant"
            f" for clothes; {limits}",
        )
    elif scope.reached:
        yield advice(
            "clothing-storage",
            f"it is said not to be for clothes, but people may use it so: {figures}",
            path,
            help=limits,
        )
    elif safety.clothing_storage:
        yield advice(
            "clothing-storage",
            f"it is said to be for clothes, but does not reach the limits of the rules: {figures}",
            path,
            help=f"the manual's caution stays; {limits}",
        )


def _drawer_volume(inspection: Inspection, drawer: Drawer) -> float:
    """Return the space inside a drawer's box, mm³: its floor's area between its walls × height."""
    parts = [inspection.part(name) for name in drawer.parts]
    floors = [p for p in parts if abs(p.frame.k[2]) > 0.99]
    sides = [inspection.part(name) for name in drawer.sides]
    if not floors or len(sides) < 2:
        return 0.0
    floor = max(floors, key=face_area)
    top = min(float(part_box(side)[5]) for side in sides)
    high = top - float(part_box(floor)[5]) - DRAWER_HEADROOM
    x0, y0, _, x1, y1, _ = (float(c) for c in part_box(floor))
    for part in parts:
        if part is floor or abs(part.frame.k[2]) > 0.1:
            continue
        a0, b0, _, a1, b1, _ = (float(c) for c in part_box(part))
        if abs(part.frame.k[0]) > 0.99:
            x0, x1 = _cut(x0, x1, a0, a1)
        elif abs(part.frame.k[1]) > 0.99:
            y0, y1 = _cut(y0, y1, b0, b1)
    return max(0.0, high) * max(0.0, x1 - x0) * max(0.0, y1 - y0)


def _cut(low: float, high: float, wall_low: float, wall_high: float) -> tuple[float, float]:
    """Return an interval less a wall near one of its ends."""
    if (wall_low + wall_high) / 2 < (low + high) / 2:
        return max(low, wall_high), high
    return low, min(high, wall_low)


def _space_behind(inspection: Inspection, door: str, side: str, held: Iterable[str]) -> float:
    """Return the space between a door and what closes the carcass behind it, mm³.

    As wide and high as the door, as deep as the part that it hangs on; what drawers behind
    it take counts with them.
    """
    d0, _, e0, d1, back, e1 = (float(c) for c in part_box(inspection.part(door)))
    rear = float(part_box(inspection.part(side))[4])
    taken = 0.0
    for name in held:
        x0, y0, z0, x1, y1, z1 = (float(c) for c in part_box(inspection.part(name)))
        wide, high = min(x1, d1) - max(x0, d0), min(z1, e1) - max(z0, e0)
        deep = min(y1, rear) - max(y0, back)
        taken = max(taken, 0.0) + max(0.0, wide) * max(0.0, high) * max(0.0, deep)
    return max(0.0, (d1 - d0) * (e1 - e0) * (rear - back) - taken)
