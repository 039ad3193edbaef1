"""Row 8: the proved assembly order.

Takes the parts in their places, the joinery and the catalogue; gives a ``Plan``
(operations, precedences with reasons, steps) or an ``Impossible`` that a reader
can check. The motion class is named in every verdict. After this row the order is
final, and nobody asks again what goes before what.

Data flow one way, package by package; what all of them give is said in ``plan``:

1. ``motion``: what moves, along which directions, and what it meets on its way;
2. ``blocking``: for each direction, what cannot move without what, and why; what can
   leave, and the proof when nothing can;
3. ``choice``: what a maker dislikes, and the best order in which parts leave;
4. ``order``: the author's order kept or refused; units, loose parts and what arrives as
   one; the order of arrivals as a ``Build``;
5. ``operations``: that order as work, with its reasons, and the steps of the manual;
6. ``taking_apart``: the finished product undone again, and put back.

``make`` runs 1 to 5; ``why`` asks it for the other order. After a no:

7. ``verify``: the certificate checked by code that shares nothing with the rest;
8. ``no_plan``: the smallest changes after which there is a plan, and all of it together.
"""

from __future__ import annotations

from kdkit.plan.make import make_plan

__all__ = ["make_plan"]
