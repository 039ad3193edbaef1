"""The finished product taken apart again, and put back.

Promises for one part to be replaced, or for a whole to be carried (``cases``), the fewest
moves that do it (``undoing``), as two plans in the words of every other: out and back
(``undo_steps``). Needs a plan, and changes nothing in it.

Coming apart counts moves first. The fewest moves can be found exactly on the blocking graphs,
whatever the size; among as many, pieces that hold together, fewest fasteners, ease. Glued,
nailed and packed parts are one body there.
"""

from __future__ import annotations

from kdkit.plan.taking_apart.cases import TakenApart, divide_product, replace_part

__all__ = ["TakenApart", "divide_product", "replace_part"]
