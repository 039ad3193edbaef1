"""Who is needed: what is lifted, turned or held, and when that takes two persons."""

from __future__ import annotations

from dataclasses import replace

from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import members
from kdkit.plan.order.build import Mating, Scene
from kdkit.plan.plan import Operation, WhyTwo

__all__ = ["man_load", "man_mating", "man_turn"]

_WIDE = 1000.0  # mm, beyond which one person's arms do not guide both ends
_MANY = 8  # pins
# Both: common practice, no source.


def man_mating(scene: Scene, operation: Operation, mating: Mating, there: int) -> Operation:
    """Return a mating with its masses, what must be held, the pins, and why it takes two.

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
    lifted = _mass(scene, mating.parts)
    which: tuple[str, ...] = ()
    if there.bit_count() == 1:
        base = there.bit_length() - 1
        if _mass(scene, there) > lifted:
            lifted, which = _mass(scene, there), (names[base],)
        if costs.falls_over(base, q):
            held.append(names[base])
    pins = costs.pins(inside, there)
    why = []
    if lifted >= scene.heavy:
        why.append(WhyTwo.HEAVY)
    if held:
        why.append(WhyTwo.HELD)
    if pins >= _MANY and any(scene.spans[names[part]] >= _WIDE for part in inside):
        why.append(WhyTwo.PINS)
    return replace(
        operation, mass=lifted, lifted=which, held=tuple(held), pins=pins, why_two=tuple(why)
    )


def man_turn(scene: Scene, operation: Operation) -> Operation:
    """Return a turn of the work with the mass turned, and two persons for a heavy one."""
    mass = scene.masses.together(operation.parts)
    return replace(operation, mass=mass, why_two=(WhyTwo.TURNED,) if mass >= scene.heavy else ())


def man_load(scene: Scene, operation: Operation) -> Operation:
    """Return the laying in of loose parts with their mass, and two persons for heavy ones."""
    mass = scene.masses.together(operation.parts)
    return replace(operation, mass=mass, why_two=(WhyTwo.HEAVY,) if mass >= scene.heavy else ())


def _mass(scene: Scene, parts: int) -> float:
    return scene.masses.together([scene.blocking.names[part] for part in members(parts)])
