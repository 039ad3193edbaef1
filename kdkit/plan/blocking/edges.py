"""The edges of blocking graphs: what a part cannot move without, and when."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.frames import Vec3

__all__ = ["Conditional", "Fixed", "Hold"]


@dataclass(frozen=True)
class Conditional:
    """An edge that counts only while all parts of the mask ``needs`` are there.

    ``tool``: it comes from the room that a tool needs, not from hardware in the way.
    """

    to: int
    needs: int
    reason: str
    tool: bool = False


@dataclass(frozen=True)
class Hold:
    """An edge that always counts, with its reason."""

    to: int
    reason: str


@dataclass(frozen=True)
class Fixed:
    """An edge in every direction, but for one along which the pins let it go."""

    part: int
    to: int
    but: Vec3 | None = None
