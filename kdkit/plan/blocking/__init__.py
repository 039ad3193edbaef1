"""What holds what, what can leave, and the proof when nothing can.

Promises blocking graphs for directions (``graphs``, made from the ``scenery``), each edge
with its reason: bodies that meet, fasteners that pin, and room that tools need
(``hardware``, ``reach``). ``apart`` says what can leave and finds the loops that prove a
no along these directions; ``settle`` asks ``everywhere`` whether it is one for every
direction; ``refusal`` puts it in words. ``clamps`` adds the room that clamps want, as far
as it stops nothing. Nothing here prefers one order to another.

Clamps ask for an order, never for a no. Where a jaw finds no place a caul, a band or a wedge
does; so their room is kept as far as it stops nothing, and told where it is not.

Room for tools is an edge of the blocking graphs. Two parts cannot part while something stands
where their fastener is worked; so the one search, and the one argument that it meets no dead
end, cover hands and tools as well.

A hand needs a way out as well as room. Without it the lid of a closed box could be fastened
from inside.
"""

from __future__ import annotations

from kdkit.plan.blocking.edges import Conditional, Hold
from kdkit.plan.blocking.graphs import Blocking, find_blocking, members

__all__ = ["Blocking", "Conditional", "Hold", "find_blocking", "members"]
