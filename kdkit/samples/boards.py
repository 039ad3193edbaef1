"""Which boards a sample is made of: such as the fitting's limits and families allow."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.catalogue import Catalogue, Fitting
from kdkit.catalogue.formulas import MEASURES, formula_value

__all__ = ["Pair", "Stock", "contact_for", "sample_pair", "sample_pairs", "stock_for"]

RUN = 300.0
"""Length of a sample's joint, mm."""

DOOR = 600.0
"""Height of a sample's door, mm."""

FRAME_WIDTH = 60.0
"""Width of a post that is met on its edge, mm."""

_USUAL = 18.0
_THIN = 3.0
_FAMILIES = ("particleboard", "plywood", "mdf", "solid-timber", "hardboard")
_THICKNESSES = (3.0, 4.0, 6.0, 9.0, 12.0, 15.0, 16.0, 18.0, 19.0, 22.0, 25.0, 28.0, 30.0, 40.0)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """A board: a material of the catalogue in a thickness, mm."""

    material: str
    thickness: float


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two boards that meet.

    Args:
        contact: ``edge-face``, ``edge-edge``, ``mitre``, ``face-face``, ``sunk`` or, not
            touching, ``hung`` or ``facing``. The boards of a mitre are equally thick.
        run: length of the joint, mm.
        width: edge to edge, the width of the receiving member behind its edge, mm.
        sunk: depth to which the butting member stands in the other, mm; 0 for the usual.
        gap: between the two where they do not touch but face each other, mm.
        overlay: how far a door lies on the other's edge, mm; below 0 when inset.
    """

    butting: Stock
    receiving: Stock
    contact: str
    run: float = RUN
    width: float = FRAME_WIDTH
    sunk: float = 0.0
    overlay: float = 0.0
    gap: float = 0.0


def contact_for(fitting: Fitting) -> str:
    """Return the contact in which a joint is shown: the first that it names.

    One that needs far more wood behind the contact than boards have thickness is shown
    edge to edge, on the edge of a post.
    """
    low, _ = fitting.limits.receiving_thickness or (0.0, 0.0)
    if low > 20.0 and "edge-edge" in fitting.contact:
        return "edge-edge"
    return fitting.contact[0]


def stock_for(catalogue: Catalogue, fitting: Fitting, thickness: float) -> Stock:
    """Return a board of about a thickness, of a family that the fitting suits."""
    families = fitting.limits.families or _FAMILIES
    made = [
        name
        for family in families
        for name, board in catalogue.boards.items()
        if board.family == family
    ]
    for name in made:
        if any(abs(t - thickness) < 0.05 for t in catalogue.boards[name].thicknesses):
            return Stock(material=name, thickness=thickness)
    timber = [n for n in made if catalogue.boards[n].family == "solid-timber"]
    name = next(iter(timber or made), next(iter(catalogue.boards), ""))
    return Stock(material=name, thickness=thickness)


def _pair(catalogue: Catalogue, fitting: Fitting, butting: float, receiving: float) -> Pair:
    """Return a pair; edge to edge ``receiving`` is the wood behind the edge."""
    contact = contact_for(fitting)
    first = stock_for(catalogue, fitting, butting)
    if contact == "edge-edge":
        return Pair(butting=first, receiving=first, contact=contact, width=receiving)
    second = stock_for(catalogue, fitting, receiving)
    if contact == "hung":
        return Pair(
            butting=first,
            receiving=second,
            contact=contact,
            run=DOOR,
            overlay=overlay_for(fitting, first.thickness, second.thickness),
        )
    if contact == "facing":
        low, high = fitting.limits.gap or (10.0, 10.0)
        return Pair(butting=first, receiving=second, contact=contact, gap=(low + high) / 2)
    return Pair(butting=first, receiving=second, contact=contact)


def overlay_for(fitting: Fitting, t_butting: float, t_receiving: float) -> float:
    """Return the overlay in the middle of those with which a hinge can do, to half a mm."""
    values = {
        **fitting.options,
        **dict.fromkeys(MEASURES, 0.0),
        "t_butting": t_butting,
        "t_receiving": t_receiving,
    }

    def suits(overlay: float) -> bool:
        here = {**values, "overlay": overlay}
        return all(
            (
                need.least is None
                or formula_value(need.value, here) >= formula_value(need.least, here)
            )
            and (
                need.most is None
                or formula_value(need.value, here) <= formula_value(need.most, here)
            )
            for need in fitting.needs
        )

    able = [n / 2 for n in range(-2 * 10, 2 * 40) if suits(n / 2)]
    return able[len(able) // 2] if able else 0.0


def sample_pair(catalogue: Catalogue, fitting: Fitting) -> Pair:
    """Return the pair of boards in which a joint is shown: 18 mm where it can be."""
    limits = fitting.limits
    butting = _nearest(catalogue, fitting, limits.butting_thickness)
    if contact_for(fitting) == "edge-edge":
        low, high = limits.receiving_thickness or (FRAME_WIDTH, FRAME_WIDTH)
        return _pair(catalogue, fitting, butting, min(max(FRAME_WIDTH, low), high))
    if contact_for(fitting) == "mitre":
        return _pair(catalogue, fitting, butting, butting)
    receiving = _nearest(catalogue, fitting, limits.receiving_thickness)
    return _pair(catalogue, fitting, butting, receiving)


def _nearest(catalogue: Catalogue, fitting: Fitting, limits: tuple[float, float] | None) -> float:
    """Return the thickness in which boards are made that is within limits and nearest to 18."""
    low, high = limits or (_USUAL, _USUAL)
    families = fitting.limits.families or _FAMILIES
    made = {
        t
        for board in catalogue.boards.values()
        if board.family in families
        for t in board.thicknesses
        if low <= t <= high
    }
    wanted = _USUAL if high >= 12.0 else _THIN
    return min(sorted(made), key=lambda t: abs(t - wanted), default=(low + high) / 2)


def sample_pairs(catalogue: Catalogue, fitting: Fitting) -> tuple[Pair, ...]:
    """Return a pair for every two usual thicknesses that a joint allows, thin ones first."""
    limits = fitting.limits
    receiving = _allowed(limits.receiving_thickness)
    if contact_for(fitting) == "edge-edge":
        low, _ = limits.receiving_thickness or (FRAME_WIDTH, FRAME_WIDTH)
        receiving = [low, FRAME_WIDTH]
    return tuple(
        _pair(catalogue, fitting, b, r)
        for b in _allowed(limits.butting_thickness)
        for r in ([b] if contact_for(fitting) == "mitre" else receiving)
    )


def _allowed(limits: tuple[float, float] | None, most: float = 40.0) -> list[float]:
    low, high = limits or (12.0, 30.0)
    return [t for t in _THICKNESSES if low <= t <= min(high, most)] or [low]
