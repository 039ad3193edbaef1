"""A certificate of impossibility checked by other code than found it.

Promises what a certificate says that geometry and joints do not confirm (``certificate``).
It looks for one straight line through both parts (``meeting``), at the rooms of tools once
more (``rooms``) and whether the walks hold all over the sphere of directions (``cover``, with
``pieces``), and imports nothing of the planner but the values in ``plan``.
"""

from __future__ import annotations

from kdkit.plan.verify.certificate import Bodies, verify_impossible

__all__ = ["Bodies", "verify_impossible"]
