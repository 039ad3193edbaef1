"""Row 8: the proved assembly order.

Takes the parts in their places, the joinery and the catalogue; gives a ``Plan``
(operations, precedences with reasons, steps) or an ``Impossible`` that a reader
can check. The motion class is named in every verdict. After this row the order is
final, and nobody asks again what goes before what.

Data flow, module by module:

1. ``bodies`` (parts less grooves, hardware that sticks out), ``directions``, ``sweep``
   → ``blocking``: for each direction, what cannot move without what, and why;
   ``reach``: what stands where a tool is needed; ``packing``: what arrives as one.
2. ``apart``: what can leave, and the proof when nothing can (``refusal`` puts it in
   words); ``judge``, ``nearest``: the author's order, kept or refused.
3. ``loose``: what is laid in last; ``facts``, ``costs``, ``choice``, ``units``: the best
   order of the rest, as a ``build``.
4. ``hardware``, ``arrival_order``, ``mating``, ``finishing`` → ``operations`` and
   precedences; ``persons``, ``lifting``: who is needed; ``steps``: their topological
   order, grouped; ``count``: how many orders.
5. After a no: ``meeting``, ``verify``, ``verify_rooms`` check a certificate with other
   code; ``reshape``, ``changes`` → ``cures``; ``no_plan``: all of it together.
"""

from __future__ import annotations

from kdkit.plan.make import make_plan

__all__ = ["make_plan"]
