"""What one person should lift: the lifting equation, as advice, never as a rating.

The equation leaves out kneeling, which people who build furniture do, and it was made
for work that is repeated; so its figure is a warning, not a permission.
"""

from __future__ import annotations

from kdkit.diagnostics import Problem, advice
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["FROM_THE_FLOOR", "advise_lifting", "recommended_mass"]

_LOAD_CONSTANT = 23.0  # kg
_RISKY = 3.0  # lifting index from which many are at risk: from memory of the same source
_LIFTED = (OperationKind.MATE, OperationKind.TURN, OperationKind.STAND, OperationKind.LOAD)


def recommended_mass(
    *,
    horizontal: float,
    vertical: float,
    travel: float,
    asymmetry: float = 1.0,
    frequency: float = 1.0,
    coupling: float = 1.0,
) -> float:
    """Return the mass that one person should lift at most, kg.

    Args:
        horizontal: mm from the ankles to the hands.
        vertical: mm from the floor to the hands at the start.
        travel: mm that the hands go up.
        asymmetry, frequency, coupling: multipliers, 1 at best.

    Source:
        Revised NIOSH lifting equation (Waters, Putz-Anderson and Garg, 1994):
        23 · HM · VM · DM · AM · FM · CM with HM 25/H, VM 1 − 0.003|V − 75|,
        DM 0.82 + 4.5/D (cm); HM and DM are 1 at most. In its first example of the manual:
        H 23, V 15 to 64, D 49 in: 16.0 and 14.2 lb unrounded (from memory).
    """
    h, v, d = horizontal / 10.0, vertical / 10.0, travel / 10.0
    reach = min(1.0, 25.0 / h) if h > 0 else 1.0
    height = 1.0 - 0.003 * abs(v - 75.0)
    distance = min(1.0, 0.82 + 4.5 / d) if d > 0 else 1.0
    return _LOAD_CONSTANT * reach * height * distance * asymmetry * frequency * coupling


FROM_THE_FLOOR = recommended_mass(horizontal=400.0, vertical=100.0, travel=650.0, coupling=0.95)
"""A panel picked up from the floor with a fair grip: about 9.8 kg."""


def advise_lifting(operations: tuple[Operation, ...]) -> tuple[Problem, ...]:
    """Return advice on the heaviest lift, where it is far beyond the equation's mass."""
    lifts = [o for o in operations if o.kind in _LIFTED]
    worst = max(lifts, key=lambda o: (o.mass / o.persons, o.id), default=None)
    if worst is None:
        return ()
    each = worst.mass / worst.persons
    if each < _RISKY * FROM_THE_FLOOR:
        return ()
    return (
        advice(
            "lift-heavy",
            f"{worst.mass:.0f} kg are lifted by {worst.persons}: {each:.0f} kg each, "
            f"{each / FROM_THE_FLOOR:.1f} times what the lifting equation advises",
            ("panels",),
            where=worst.id,
            help="lighter parts, halves that are joined where they stand, or more persons; "
            f"the equation gives {FROM_THE_FLOOR:.1f} kg for a lift from the floor, hands 400 "
            "in front of the ankles",
        ),
    )
