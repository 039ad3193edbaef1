"""What one person should lift: the lifting equation, as advice, never as a rating.

The equation leaves out kneeling, which people who build furniture do, and it was made
for work that is repeated; so its figure is a warning, not a permission.
"""

from __future__ import annotations

from kdkit.diagnostics import Problem, advice
from kdkit.plan.plan import Operation

__all__ = ["FROM_THE_FLOOR", "advise_lifting", "recommended_mass"]

_LOAD_CONSTANT = 23.0  # kg


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
    """Return advice on the heaviest lift or turn of those that no four persons should do."""
    lifts = [o for o in operations if o.aid]
    worst = max(lifts, key=lambda o: (o.hands, o.id), default=None)
    if worst is None:
        return ()
    return (
        advice(
            "lift-heavy",
            f"{worst.hands:.0f} kg come on the hands at once: too much for {worst.team} persons,"
            " and more do not find room",
            ("panels",),
            where=worst.id,
            help="lighter parts, halves that are joined where they stand, building it where it"
            " stands, or an aid (strap, trolley, blocks), which the step asks for; a filter after"
            " guidance L23 of the British Health and Safety Executive (quoted in a secondary"
            f" text), no limit; the lifting equation gives {FROM_THE_FLOOR:.1f} kg for one from"
            " the floor, hands 400 in front of the ankles",
        ),
    )
