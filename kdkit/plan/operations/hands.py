"""What hands carry, and how many persons that takes.

A lift carries the whole mass. Work that is tilted about an edge which stays on the floor is
carried in part: m · x_cg / x_hands, at the start, where it is most. How much that may be goes
by the height of the hands: a filter, above which more hands, a lighter order or an aid are
needed, and no limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

__all__ = [
    "CARRIED",
    "MOST",
    "Zone",
    "is_bulky",
    "person_mass",
    "persons_for",
    "persons_to_lift",
    "team_mass",
    "tilting_mass",
    "zones_between",
]

MOST = 4
"""Persons; more hardly find room at one piece of work (guidance L23 of the British Health and
Safety Executive on manual handling, as quoted in a secondary text)."""

Zone = int
"""The number of a zone, from the floor up: below the middle of the lower leg, to the knuckle,
to the elbow, to the shoulder, above it."""

_BOUNDS = (250.0, 750.0, 1050.0, 1400.0)
"""mm over the floor of mid lower leg, knuckle, elbow and shoulder: common practice, no source."""

_MEN = ((10.0, 5.0), (20.0, 10.0), (25.0, 15.0), (20.0, 10.0), (10.0, 5.0))
_WOMEN = ((7.0, 3.0), (13.0, 7.0), (16.0, 10.0), (13.0, 7.0), (7.0, 3.0))
"""kg with the hands close to the body, and with the arms extended, for each zone.

Source:
    Lifting filter of L23 (Health and Safety Executive), as quoted in a secondary text. Who
    builds is not known: the mean of the two is common practice, no source.
"""

CARRIED = 750.0
"""mm over the floor: hands hang down with what they carry."""

_BULKY = 500.0  # mm; what is as thick in every direction is held with the arms stretched out
# Both: common practice, no source; up to that its middle is a forearm from the body at most.

_SHARE = {1: 1.0, 2: 2 / 3, 3: 1 / 2, 4: 1 / 2}
"""Of the sum of what each could lift alone: L23, as quoted in a secondary text; of four as of
three: common practice, no source."""


def zones_between(low: float, high: float) -> range:
    """Return the zones that hands pass between two heights, mm over the floor."""
    first, last = (sum(height > bound for bound in _BOUNDS) for height in (low, high))
    return range(first, last + 1)


def person_mass(zones: Sequence[Zone], *, extended: bool) -> float:
    """Return what one person may carry through some zones, kg: the least of them.

    Args:
        extended: the arms are stretched out round what is wide.
    """
    column = 1 if extended else 0
    return min((_MEN[zone][column] + _WOMEN[zone][column]) / 2 for zone in zones)


def team_mass(each: float, persons: int) -> float:
    """Return what persons may carry together of whom each alone may carry so much, kg."""
    return each * persons * _SHARE[persons]


def persons_for(mass: float, each: float) -> int:
    """Return how many persons carry a mass; ``MOST`` + 1 where no team is enough."""
    return next((n for n in range(1, MOST + 1) if team_mass(each, n) >= mass - 1e-9), MOST + 1)


def persons_to_lift(mass: float, high: float, *, bulky: bool) -> int:
    """Return how many persons carry a mass and put it down, or take it up, with the hands so
    high over the floor; ``MOST`` + 1 where no team is enough.

    Args:
        bulky: the arms are stretched out round it.
    """
    low, top = sorted((CARRIED, high))
    return persons_for(mass, person_mass(zones_between(low, top), extended=bulky))


def is_bulky(sizes: Iterable[float]) -> bool:
    """Tell whether the arms must be stretched out round what is so large, mm."""
    return all(size > _BULKY for size in sizes)


def tilting_mass(mass: float, centre: float, hands: float) -> float:
    """Return what hands carry at the start of a tilt, kg: m · x_cg / x_hands.

    Args:
        centre: mm level from the edge that stays down to the centre of mass.
        hands: mm level from that edge to the hands.
    """
    return mass * centre / hands if hands > 0 else mass
