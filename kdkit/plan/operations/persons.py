"""Who is needed: what is lifted, tilted or held, and how many persons that takes.

One rule for lifts and turns: from ``heavy`` kg on they take two, more where the hands would carry
too much (``hands``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from kdkit.frames import Vec3, dot
from kdkit.parts.postures import POSTURES, UP
from kdkit.plan.blocking import members
from kdkit.plan.operations.hands import (
    CARRIED,
    MOST,
    is_bulky,
    person_mass,
    persons_for,
    persons_to_lift,
    tilting_mass,
    zones_between,
)
from kdkit.plan.order.build import Mating, Scene
from kdkit.plan.plan import Operation, Posture, WhyTwo

__all__ = ["man_hung", "man_load", "man_mating", "man_removal", "man_tilt", "man_turn"]

_WIDE = 1000.0  # mm, beyond which one person's arms do not guide both ends
_MANY = 8  # pins
_HUNG_AT = 1400.0  # mm: a wall cabinet is lifted as high
# All: common practice, no source.


def man_mating(scene: Scene, operation: Operation, mating: Mating, there: int) -> Operation:
    """Return a mating with its masses, what must be held, the pins, and who it takes.

    Args:
        there: mask of the parts that are there before it. If that is one part, it is laid
            ready in this mating and so lifted as well.
    """
    names, costs = scene.blocking.names, scene.costs
    inside = members(mating.parts)
    q = POSTURES.index(mating.posture)
    held: list[str] = []
    if not all(scene.facts[part].loose for part in inside) and costs.must_be_held(
        inside, mating.leaving, there, q
    ):
        held += [names[part] for part in inside]
    lifted, high = _mass(scene, mating.parts), _height(scene, mating.parts, there, q)
    which: tuple[str, ...] = ()
    bulky = _is_bulky(scene, mating.parts)
    if there.bit_count() == 1:
        base = there.bit_length() - 1
        if _mass(scene, there) > lifted:
            lifted, which, bulky = _mass(scene, there), (names[base],), False
            high = _height(scene, there, mating.parts, q)
        if costs.falls_over(base, q):
            held.append(names[base])
    pins = costs.pins(inside, there)
    why = []
    operation = _lifted(operation, lifted, high, bulky=bulky)
    if lifted >= scene.heavy or operation.team > 1:
        why.append(WhyTwo.HEAVY)
    if held:
        why.append(WhyTwo.HELD)
    if pins >= _MANY and any(scene.spans[names[part]] >= _WIDE for part in inside):
        why.append(WhyTwo.PINS)
    return replace(operation, lifted=which, held=tuple(held), pins=pins, why_two=tuple(why))


def man_turn(scene: Scene, operation: Operation) -> Operation:
    """Return a turn of the work with the mass turned; who it takes follows from how it lay."""
    return replace(operation, mass=scene.masses.together(operation.parts))


def man_tilt(scene: Scene, operation: Operation, before: Posture | None) -> Operation:
    """Return a turn with what the hands carry, who that takes, and the height that it needs.

    The work is tilted about an edge that stays on the floor, twice to turn it right over; the
    hands take hold of the upper edge of its far end.

    Args:
        before: how it lay.
    """
    if before is None or before is operation.posture:
        return operation
    parts = [scene.blocking.names.index(name) for name in operation.parts]
    corners = [corner for part in parts for corner in scene.facts[part].poise.corners]
    middle = _middle(scene, parts)
    ways = [(before, operation.posture)]
    if dot(UP[before], UP[operation.posture]) < -0.5:
        between = [q for q in POSTURES if abs(dot(UP[q], UP[before])) < 0.5]
        over = min(
            between,
            key=lambda q: max(
                _tilt(corners, middle, a, b)[0] for a, b in ((before, q), (q, operation.posture))
            ),
        )
        ways = [(before, over), (over, operation.posture)]
    hands, room, team = 0.0, 0.0, 1
    for a, b in ways:
        share, grip, diagonal = _tilt(corners, middle, a, b)
        carried = operation.mass * share
        each = person_mass(zones_between(grip, grip), extended=False)
        hands, room = max(hands, carried), max(room, diagonal)
        team = max(team, persons_for(carried, each))
    many = team > 1 or operation.mass >= scene.heavy
    return replace(
        operation,
        hands=hands,
        room=room,
        team=min(team, MOST),
        aid=team > MOST,
        why_two=(WhyTwo.TURNED,) if many else (),
    )


def man_load(scene: Scene, operation: Operation) -> Operation:
    """Return the laying in of loose parts with their mass, and who it takes."""
    mass = scene.masses.together(operation.parts)
    number = {name: n for n, name in enumerate(scene.blocking.names)}
    parts = sum(1 << number[name] for name in operation.parts)
    there = sum(1 << number[name] for name in operation.onto)
    high = _height(scene, parts, there, POSTURES.index(operation.posture))
    operation = _lifted(operation, mass, high, bulky=_is_bulky(scene, parts))
    heavy = mass >= scene.heavy or operation.team > 1
    return replace(operation, why_two=(WhyTwo.HEAVY,) if heavy else ())


man_removal = man_load
"""A part is taken off as a loose one is put in: its own mass is carried."""


def man_hung(scene: Scene, operation: Operation, parts: Sequence[str]) -> Operation:
    """Return the hanging of the whole on the wall, with what is lifted there."""
    mass = scene.masses.together(parts)
    return _lifted(operation, mass, _HUNG_AT, bulky=True)


def _lifted(operation: Operation, mass: float, high: float, *, bulky: bool) -> Operation:
    """Return an operation in which a mass is carried and put down so high."""
    team = persons_to_lift(mass, high, bulky=bulky)
    return replace(operation, mass=mass, hands=mass, team=min(team, MOST), aid=team > MOST)


def _height(scene: Scene, parts: int, there: int, q: int) -> float:
    """How high over the floor hands hold some parts at the end: where they like it best, mm."""
    floor = min(scene.facts[part].lows[q] for part in members(parts | there))
    heights = [
        dot(corner, UP[POSTURES[q]]) - floor
        for part in members(parts)
        for corner in scene.facts[part].poise.corners
    ]
    return min(max(CARRIED, min(heights)), max(heights))


def _is_bulky(scene: Scene, parts: int) -> bool:
    """Tell whether the arms must be stretched out round some parts."""
    corners = [c for part in members(parts) for c in scene.facts[part].poise.corners]
    return is_bulky(max(c[n] for c in corners) - min(c[n] for c in corners) for n in range(3))


def _middle(scene: Scene, parts: Sequence[int]) -> Vec3:
    poises = [scene.facts[part].poise for part in parts]
    whole = sum(p.mass for p in poises)
    shares = [p.mass / whole if whole else 1 / len(poises) for p in poises]
    x, y, z = (sum(p.middle[n] * s for p, s in zip(poises, shares, strict=True)) for n in range(3))
    return x, y, z


def _tilt(
    corners: Sequence[Vec3], middle: Vec3, before: Posture, after: Posture
) -> tuple[float, float, float]:
    """Return the share of the mass in the hands, the height of the grip, and the diagonal, mm."""
    to = UP[after]
    levels = [dot(corner, to) for corner in corners]
    heights = [dot(corner, UP[before]) for corner in corners]
    edge, far = min(levels), max(levels)
    lies = max(heights) - min(heights)
    share = tilting_mass(1.0, dot(middle, to) - edge, far - edge)
    return share, min(lies, CARRIED), math.hypot(far - edge, lies)


def _mass(scene: Scene, parts: int) -> float:
    return scene.masses.together([scene.blocking.names[part] for part in members(parts)])
