"""How a product lies while it is worked on, and which way is up then."""

from __future__ import annotations

from enum import StrEnum

from kdkit.frames import AXES, Vec3, dot

__all__ = [
    "ON_FLOOR",
    "POSTURES",
    "UP",
    "Posture",
    "posture_with_up",
    "posture_words",
    "steepness",
]


class Posture(StrEnum):
    """Which side of the finished product lies on the floor."""

    STANDING = "standing"  # the bottom
    ON_LEFT = "on-left"
    ON_RIGHT = "on-right"
    ON_FRONT = "on-front"
    ON_BACK = "on-back"
    UPSIDE_DOWN = "upside-down"


POSTURES = tuple(Posture)

_X, _Y, _Z = AXES["+x"], AXES["+y"], AXES["+z"]
_LEFT, _FRONT, _DOWN = AXES["-x"], AXES["-y"], AXES["-z"]

ON_FLOOR: dict[Posture, tuple[Vec3, Vec3, Vec3]] = {
    Posture.STANDING: (_X, _Y, _Z),
    Posture.ON_LEFT: (_Z, _Y, _LEFT),
    Posture.ON_RIGHT: (_DOWN, _Y, _X),
    Posture.ON_FRONT: (_X, _Z, _FRONT),
    Posture.ON_BACK: (_X, _DOWN, _Y),
    Posture.UPSIDE_DOWN: (_LEFT, _Y, _DOWN),
}
"""Where the product's x, y and z axes point, seen from the floor whose z is up."""

UP: dict[Posture, Vec3] = {posture: (x[2], y[2], z[2]) for posture, (x, y, z) in ON_FLOOR.items()}
"""The direction of the finished product that points up in each posture."""


def steepness(direction: Vec3, posture: Posture) -> float:
    """Return 1 for a direction that points up in a posture, −1 for down, 0 for level."""
    return dot(direction, UP[posture])


def posture_with_up(direction: Vec3) -> Posture:
    """Return the posture in which a direction of the product points up most."""
    return max(POSTURES, key=lambda posture: round(steepness(direction, posture), 6))


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
