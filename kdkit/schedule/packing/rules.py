"""What a carton is made of, how much it may weigh, and how many persons carry it."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.plan.operations.hands import (
    CARRIED,
    MOST,
    is_bulky,
    person_mass,
    persons_for,
    persons_to_lift,
    team_mass,
    tilting_mass,
    zones_between,
)

__all__ = ["MOST_MASS", "PackingRules", "persons_to_carry"]

_EDGE_UP = 500.0  # mm; a common width of a flat carton: where hands take it on its long edge

_ALONE = 1500.0
"""mm; a longer carton takes two however light it is: one person's hands do not reach both of its
ends, and it swings into doors and lamps. About the span of a small adult's arms; common
practice, no source."""

MOST_MASS = team_mass(person_mass(zones_between(_EDGE_UP, CARRIED), extended=False), 2)
"""kg, above which a carton is divided unless another mass is asked for: what two persons may
carry by the planner's own rule, a carton standing on its long edge; 22 kg.

Source:
    Lifting filter of L23 (Health and Safety Executive), as quoted in a secondary text. A
    filter, no limit: above it more hands are needed, or an aid.
"""


@dataclass(frozen=True, kw_only=True)
class PackingRules:
    """How cartons are made. All but the mass: common practice, no source.

    Args:
        most_mass: kg, gross, above which the parts go into several cartons.
        cushion: padding between the contents and each of the six walls, mm.
        clearance: what the inside of a carton is larger than its padded contents, in each
            direction, so that they go in, mm.
        interleaf: thickness of the sheet under every piece and over the last, mm.
        wall: thickness of the carton's board (corrugated, two flutes), mm.
        level: what ends within so much counts as level, mm.
        least_void: narrower gaps are left as they are, mm.
        wall_mass, sheet_mass: of carton board and of interleaves, kg/m².
        void_mass: of what fills a void (honeycomb or folded board), kg/m³.
        loose: share of its room that a heap of hardware fills.
    """

    most_mass: float = MOST_MASS
    cushion: float = 10.0
    clearance: float = 4.0
    interleaf: float = 1.0
    wall: float = 7.0
    level: float = 1.0
    least_void: float = 15.0
    wall_mass: float = 0.9
    sheet_mass: float = 0.03
    void_mass: float = 35.0
    loose: float = 0.5


def persons_to_carry(outer: tuple[float, float, float], mass: float) -> int:
    """Return how many persons a carton takes; ``MOST`` + 1 where no team is enough.

    It is tilted up onto its long edge, half of its mass in the hands at first, and carried
    as it stands then. Who that takes is the planner's rule for a tilt and for a lift; and a long
    one takes two at least.

    Args:
        outer: length, width and height as it lies, mm.
        mass: gross, kg.
    """
    length, width, height = outer
    grip = min(height, CARRIED)
    tilted = persons_for(
        tilting_mass(mass, width / 2, width),
        person_mass(zones_between(grip, grip), extended=False),
    )
    lifted = persons_to_lift(mass, min(width, CARRIED), bulky=is_bulky(outer))
    reaching = 2 if length > _ALONE else 1
    return min(max(tilted, lifted, reaching), MOST + 1)
