"""The work: operations with the reasons for their order, and the steps of the manual.

Promises for a ``Build`` every operation once, and every precedence with its reason
(``listing``, from ``mating``, ``gluing``, ``spreading``, ``glue_ups``, ``finishing``,
``securing``); who is needed and what they lift (``persons``, ``lifting``); where no clamp finds
room (``clamping``) and where nothing joins or carries what comes (``unjoined``);
numbered ``steps`` in a topological order, those of ``twins`` told once.
The order of arrivals is taken as it comes.

What is glued together sets together (``glue_ups``): one step spreads, closes, presses, measures,
waits and takes the clamps off. Glue goes into the bores of both members before the pins do; a
fitting with an action after its wait (a stepped dowel) is worked when the whole has set.

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
