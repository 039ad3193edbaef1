"""What the earlier stages came to, as one value for the writers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate.figure import Figure
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import Plan
from kdkit.schedule.schedules import Schedules

__all__ = ["Results"]


@dataclass(frozen=True, kw_only=True)
class Results:
    """One product, worked out. ``figures``: ``cover``, ``part-A``, ``item-<key>``, ``step-1``…"""

    resolved: Resolved
    catalogue: Catalogue
    assembly: Assembly
    joinery: Joinery
    plan: Plan
    schedules: Schedules
    figures: Mapping[str, Figure]
