"""All schedules of a product from the same groups of parts."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.masses import Masses
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import Plan
from kdkit.schedule.bagging import fill_bags, with_bags
from kdkit.schedule.cutting import list_bought, list_cuts
from kdkit.schedule.drilling import list_drilling
from kdkit.schedule.grouping import group_parts
from kdkit.schedule.hardware import list_hardware
from kdkit.schedule.schedules import Schedules

__all__ = ["make_schedules"]


def make_schedules(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan | None,
) -> Schedules:
    """Return cut list, bought parts, drilling, hardware and its bags.

    Args:
        assembly: in the signature of every stage from here on; the schedules need
            only the parts, which it shares with ``resolved``.
        plan: gives the order of the letters and the counts by step; None when the
            product has none, the letters then follow the definition.
    """
    groups = group_parts(resolved, joinery, plan)
    masses = Masses.of(resolved.parts, joinery, catalogue)
    cut, bought = list_cuts(groups, masses.parts), list_bought(groups, masses.parts)
    hardware = list_hardware(joinery, catalogue, plan)
    named, by = getattr(resolved.said, "bags", {}), getattr(resolved.said, "bag_by", "stage")
    bags = fill_bags(hardware, joinery, catalogue, plan, named, by)
    return Schedules(
        cut=cut,
        bought=bought,
        drilling=list_drilling(groups, joinery),
        hardware=with_bags(hardware, bags),
        mass_kg=masses.product,
        bags=bags,
    )
