"""The schedules of one piece of a product, counted for a batch of them."""

from __future__ import annotations

from dataclasses import replace

from kdkit.schedule.schedules import Schedules

__all__ = ["MOST_PANELS", "MOST_PIECES", "of_batch"]

MOST_PANELS = 3000
"""In a batch or a run: the sheets for so many are laid out in minutes."""

MOST_PIECES = 1000
"""No batch has more pieces of one product."""


def of_batch(schedules: Schedules, count: int) -> Schedules:
    """Return the schedules of ``count`` pieces: every quantity is that of all of them.

    Masses, sizes and bores are those of one panel or item; a bag holds what one piece needs.
    """
    if count == 1:
        return schedules
    return replace(
        schedules,
        cut=tuple(replace(line, quantity=line.quantity * count) for line in schedules.cut),
        bought=tuple(replace(line, quantity=line.quantity * count) for line in schedules.bought),
        drilling=tuple(replace(one, quantity=one.quantity * count) for one in schedules.drilling),
        hardware=tuple(
            replace(
                line,
                quantity=line.quantity * count,
                workshop=line.workshop * count,
                per_step={step: n * count for step, n in line.per_step.items()},
                per_joint={joint: n * count for joint, n in line.per_joint.items()},
            )
            for line in schedules.hardware
        ),
        mass_kg=schedules.mass_kg * count,
    )
