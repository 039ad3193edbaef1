"""What holds what, what can leave, and the proof when nothing can.

Promises blocking graphs for directions (``graphs``, made from the ``scenery``), each edge
with its reason: bodies that meet, fasteners that pin, and room that tools need
(``hardware``, ``reach``). ``apart`` says what can leave and finds the loops that prove a
no along these directions; ``settle`` asks ``everywhere`` whether it is one for every
direction; ``refusal`` puts it in words. ``clamps`` adds the room that clamps want, as far
as it stops nothing. Nothing here prefers one order to another.
"""

from __future__ import annotations

from kdkit.plan.blocking.edges import Conditional, Hold
from kdkit.plan.blocking.graphs import Blocking, find_blocking, members

__all__ = ["Blocking", "Conditional", "Hold", "find_blocking", "members"]
