"""The work: operations with the reasons for their order, and the steps of the manual.

Promises for a ``Build`` every operation once, and every precedence with its reason
(``listing``, from ``mating``, ``gluing``, ``finishing``, ``securing``); who is needed and what they
lift (``persons``, ``lifting``); where no clamp finds room (``clamping``) and where nothing
joins or carries what comes (``unjoined``);
numbered ``steps`` in a topological order, those of ``twins`` told once.
The order of arrivals is taken as it comes.
"""

from __future__ import annotations

from kdkit.plan.operations.listing import (
    list_operations,
    list_workshop_operations,
    workshop_builds,
)

__all__ = ["list_operations", "list_workshop_operations", "workshop_builds"]
