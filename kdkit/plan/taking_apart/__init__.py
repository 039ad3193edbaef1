"""The finished product taken apart again, and put back.

Promises for one part to be replaced, or for a whole to be carried (``cases``), the fewest
moves that do it (``undoing``), as two plans in the words of every other: out and back
(``undo_steps``). Needs a plan, and changes nothing in it.
"""

from __future__ import annotations

from kdkit.plan.taking_apart.cases import TakenApart, divide_product, replace_part

__all__ = ["TakenApart", "divide_product", "replace_part"]
