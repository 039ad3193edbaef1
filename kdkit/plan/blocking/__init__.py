"""What holds what, what can leave, and the proof when nothing can.

Promises the blocking graphs of all directions (``graphs``), each edge with its reason:
bodies that meet, fasteners that pin, and room that tools need (``hardware``, ``reach``).
``apart`` says what can leave and finds the loops that prove a no; ``refusal`` puts them
in words. ``clamps`` adds the room that clamps want, as far as it stops nothing.
Nothing here prefers one order to another.
"""

from __future__ import annotations

from kdkit.plan.blocking.graphs import Blocking, Conditional, Hold, find_blocking, members

__all__ = ["Blocking", "Conditional", "Hold", "find_blocking", "members"]
