"""The edges of blocking graphs: what a part cannot move without, and when."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kdkit.frames import Vec3

__all__ = ["Conditional", "Fixed", "Hold"]


@dataclass(frozen=True)
class Conditional:
    """An edge that counts only while all parts of the mask ``needs`` are there.

    Args:
        tool: it comes from the room that a tool needs, not from hardware in the way.
        room: gives in words what room a tool needs and has; None: it is about none.
    """

    to: int
    needs: int
    reason: str
    tool: bool = False
    room: Callable[[], str] | None = None

    @property
    def refusal(self) -> str:
        """The reason as a no gives it, with the figures of the room."""
        return _with_room(self.reason, self.room)


@dataclass(frozen=True)
class Hold:
    """An edge that always counts, with its reason; ``room`` as of a conditional one."""

    to: int
    reason: str
    room: Callable[[], str] | None = None

    @property
    def refusal(self) -> str:
        """The reason as a no gives it, with the figures of the room."""
        return _with_room(self.reason, self.room)


def _with_room(reason: str, room: Callable[[], str] | None) -> str:
    """Measuring a room takes time, so it is done only where it is told."""
    words = room() if room is not None else ""
    return f"{reason}: {words}" if words else reason


@dataclass(frozen=True)
class Fixed:
    """An edge in every direction, but for one along which the pins let it go."""

    part: int
    to: int
    but: Vec3 | None = None
