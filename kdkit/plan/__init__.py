"""Row 8: the proved assembly order.

Takes the parts in their places, the joinery and the catalogue; gives a ``Plan``
(operations, precedences with reasons, steps) or an ``Impossible`` that a reader
can check. The motion class is named in every verdict.
"""

from __future__ import annotations

from kdkit.plan.make import make_plan

__all__ = ["make_plan"]
