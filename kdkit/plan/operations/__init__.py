"""The work: operations with the reasons for their order, and the steps of the manual.

Promises for a ``Build`` every operation once, and every precedence with its reason
(``listing``, from ``mating``, ``gluing``, ``finishing``, ``securing``); who is needed and what they
lift (``persons``, ``lifting``); where no clamp finds room (``clamping``) and where nothing
joins or carries what comes (``unjoined``);
numbered ``steps`` in a topological order, those of ``twins`` told once.
The order of arrivals is taken as it comes.

Glue sets once a step. Parts alike that are glued on one after another wait together; waits
are never added up within a step.

Glue that something waits for sets at once. A fitting with an action after its wait (a stepped
dowel) is clamped and left by itself, before the step goes on.

Units built alike share their steps. Nine drawers are not sixty steps: what does the same to
the same pieces in the same posture is told once, with how often. All operations stay in the
step, so that hardware still adds up and a replay does each.

Mitres are pulled together by a band. Jaws would slip off them and find no room; the band
clamp goes round the work and needs none inside.
"""

from __future__ import annotations

from kdkit.plan.operations.listing import (
    list_operations,
    list_workshop_operations,
    workshop_builds,
)

__all__ = ["list_operations", "list_workshop_operations", "workshop_builds"]
