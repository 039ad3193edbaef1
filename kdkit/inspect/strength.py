"""Formulas for advice on strength. Never a rating: the assumptions go with every number."""

from __future__ import annotations

import math

__all__ = [
    "CREEP",
    "GRAVITY",
    "IN_TIME",
    "K_DEF",
    "RESERVE",
    "creep_factors",
    "nail_withdrawal",
    "particleboard_withdrawal",
    "screw_withdrawal",
    "shelf_sag",
]

GRAVITY = 9.81
"""m/s²; standard acceleration of free fall, rounded as handbooks do."""

CREEP = 1.5
"""Sag after a long time over sag at once. From memory of the guidance of European makers of
MDF on shelves."""

K_DEF = {
    "particleboard": 2.25,
    "mdf": 2.25,
    "hardboard": 2.25,
    "plywood": 0.8,
    "solid-timber": 0.6,
}
"""Creep in service class 1 by family of board; sag in time = sag at once × (1 + k_def).
Source: particleboard P4 and P5, and MDF: EN 1995-1-1:2004, table 3.2, as carried by the package
eurocodepy, taken
for other particleboard and hardboard too; plywood and timber from memory of
the same table."""


IN_TIME = {
    "particleboard": 0.45,
    "mdf": 0.40,
    "hardboard": 0.45,
    "plywood": 0.70,
    "solid-timber": 0.70,
    "glass": 0.29,
}
"""Share of its bending strength that a board keeps under a load that stays for months, by
family. Source: k_mod for long-term loads in service class 1, from memory of EN 1995-1-1:2004,
table 3.1; particleboard as P4 and P5, MDF as MDF.LA, hardboard as HB.HLA. Glass under a lasting
load: from memory of EN 16612:2019."""

RESERVE = 1.95
"""By how much strength outdoes the load in a sound design: 1.3 for the material, 1.5 for the
load. Source: from memory of EN 1995-1-1:2004, table 2.3, and EN 1990:2002, annex A1."""


def creep_factors(family: str | None) -> tuple[float, float]:
    """Return sag in time over sag at once, the milder and the stricter of two sources.

    Args:
        family: of the board. For glass, which does not creep, both are 1; for timber and
            plywood both follow k_def.
    """
    if family == "glass":
        return 1.0, 1.0
    strict = 1.0 + K_DEF.get(family or "", K_DEF["particleboard"])
    mild = strict if family in ("plywood", "solid-timber") else CREEP
    return mild, strict


def shelf_sag(*, span: float, width: float, thickness: float, moe: float, load_kg: float) -> float:
    """Return the sag at once in the middle of a shelf that rests at both ends, mm.

    Args:
        span, width, thickness: mm; width is front to back.
        moe: modulus of elasticity, N/mm².
        load_kg: spread evenly, the shelf's own mass included if it should count.

    Source:
        Euler–Bernoulli, 5wL⁴/384EI with I = bt³/12; used for shelves in
        the guidance of European makers of MDF (from memory).
    """
    inertia = width * thickness**3 / 12
    line_load = load_kg * GRAVITY / span
    return 5 * line_load * span**4 / (384 * moe * inertia)


def screw_withdrawal(*, specific_gravity: float, diameter: float, length: float) -> float:
    """Return the ultimate pull-out force of a wood screw in side grain, N.

    Args:
        specific_gravity: of the wood, oven-dry, water is 1.
        diameter, length: of the thread in the wood, mm.

    Source:
        From memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8: p = 108.25·G²·D·L.
    """
    return 108.25 * specific_gravity**2 * diameter * length


def particleboard_withdrawal(
    *, specific_gravity: float, diameter: float, length: float, edge: bool
) -> float:
    """Return the ultimate pull-out force of a screw in particleboard, N.

    Args:
        edge: it goes into the board's edge, not into its face.

    Source:
        From memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8:
        p = K·D^(1/2)·(L − D/3)^(5/4)·G², K = 41.1 in the face and 31.8 in the edge.
    """
    k = 31.8 if edge else 41.1
    free = max(0.0, length - diameter / 3)
    return k * math.sqrt(diameter) * math.pow(free, 1.25) * specific_gravity**2


def nail_withdrawal(*, specific_gravity: float, diameter: float, length: float) -> float:
    """Return the ultimate pull-out force of a plain nail in side grain, N.

    Source:
        From memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8: p = 54.12·G^(5/2)·D·L.
    """
    return 54.12 * math.pow(specific_gravity, 2.5) * diameter * length
