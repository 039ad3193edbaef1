"""The hardware list: every item with its number and its counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.joinery.placed import Fastener, Joinery, PlacedItem
from kdkit.plan.plan import Plan
from kdkit.schedule.schedules import HardwareLine

__all__ = ["is_fitted_in_workshop", "list_hardware", "placed_items"]


def is_fitted_in_workshop(fitting: Fitting, item: str) -> bool:
    """Tell whether everything done with the item is done before the parts are packed."""
    stages = [action.stage for action in fitting.actions if action.item == item]
    return bool(stages) and all(stage == "workshop" for stage in stages)


def placed_items(
    joinery: Joinery, catalogue: Catalogue
) -> Iterator[tuple[Fastener, PlacedItem, bool]]:
    """Yield every piece of hardware with its fastener, and whether it is in before packing."""
    before_packing = {name for j in joinery.joints if j.workshop for name in j.fasteners}
    for fastener in joinery.fasteners:
        fitting = _fitting(joinery, catalogue, fastener.fitting)
        for placed in fastener.items:
            fitted = fastener.id in before_packing or is_fitted_in_workshop(fitting, placed.item)
            yield fastener, placed, fitted


def list_hardware(
    joinery: Joinery, catalogue: Catalogue, plan: Plan | None
) -> tuple[HardwareLine, ...]:
    """Return one line an item, in the order in which the steps need them.

    For each line, Σ ``per_joint`` = Σ ``per_step`` + ``workshop`` = ``quantity`` when
    there is a plan. Which bags it lies in is said later (``bagging``).
    """
    per_joint: dict[str, Counter[str]] = {}
    workshop: Counter[str] = Counter()
    for fastener, placed, fitted in placed_items(joinery, catalogue):
        per_joint.setdefault(placed.item, Counter())[fastener.joint] += 1
        workshop[placed.item] += fitted
    per_step = {item: _per_step(item, plan) for item in per_joint}
    rank = {item: n for n, item in enumerate(per_joint)}
    order = sorted(
        per_joint,
        key=lambda item: (
            workshop[item] == per_joint[item].total(),
            min(per_step[item], default=len(plan.steps) + 1 if plan else 0),
            rank[item],
        ),
    )
    lines = []
    for number, key in enumerate(order, start=1):
        item = catalogue.items[key]
        quantity = per_joint[key].total()
        lines.append(
            HardwareLine(
                number=number,
                item=key,
                title=item.title,
                size=item.size,
                quantity=quantity,
                per_step=per_step[key],
                per_joint=dict(per_joint[key]),
                mass_g=item.mass,
                workshop=workshop[key],
                supplied=item.supplied,
            )
        )
    return tuple(lines)


def _fitting(joinery: Joinery, catalogue: Catalogue, key: str) -> Fitting:
    return joinery.fittings[key] if key in joinery.fittings else catalogue.fittings[key]


def _per_step(item: str, plan: Plan | None) -> dict[int, int]:
    steps = plan.steps if plan is not None else ()
    return {step.number: step.items[item] for step in steps if step.items.get(item, 0) > 0}
