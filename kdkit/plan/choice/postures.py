"""How the work lies while a step is done, and what turning it costs."""

from __future__ import annotations

from kdkit.frames import Vec3, dot
from kdkit.plan.plan import Posture

__all__ = ["POSTURES", "UP", "posture_words", "steepness", "turn_cost"]

POSTURES: tuple[Posture, ...] = (
    Posture.STANDING,
    Posture.ON_LEFT,
    Posture.ON_RIGHT,
    Posture.ON_FRONT,
    Posture.ON_BACK,
    Posture.UPSIDE_DOWN,
)

UP: dict[Posture, Vec3] = {
    Posture.STANDING: (0.0, 0.0, 1.0),
    Posture.ON_LEFT: (1.0, 0.0, 0.0),
    Posture.ON_RIGHT: (-1.0, 0.0, 0.0),
    Posture.ON_FRONT: (0.0, 1.0, 0.0),
    Posture.ON_BACK: (0.0, -1.0, 0.0),
    Posture.UPSIDE_DOWN: (0.0, 0.0, -1.0),
}
"""The direction of the finished product that points up in each posture."""


def steepness(direction: Vec3, posture: Posture) -> float:
    """Return 1 for a direction that points up in a posture, −1 for down, 0 for level."""
    return dot(direction, UP[posture])


def turn_cost(a: Posture, b: Posture) -> float:
    """Return the cost of turning the work over (common practice, no source)."""
    if a is b:
        return 0.0
    return 3.5 if dot(UP[a], UP[b]) < -0.5 else 2.0


def posture_words(posture: Posture) -> str:
    """Return what the work does in a posture: "lie on its front"."""
    return {
        Posture.STANDING: "stand upright",
        Posture.ON_LEFT: "lie on its left side",
        Posture.ON_RIGHT: "lie on its right side",
        Posture.ON_FRONT: "lie on its front",
        Posture.ON_BACK: "lie on its back",
        Posture.UPSIDE_DOWN: "stand upside down",
    }[posture]
