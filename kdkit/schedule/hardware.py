"""The hardware list: every item with its number, its counts and its bag."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.joinery.placed import Fastener, Joinery, PlacedItem
from kdkit.plan.plan import OperationKind, Plan
from kdkit.schedule.schedules import HardwareLine

__all__ = ["is_fitted_in_workshop", "list_hardware", "placed_items"]

_FINISHING = frozenset(
    {
        OperationKind.FIXTURE,
        OperationKind.LOAD,
        OperationKind.SECURE,
        OperationKind.STAND,
        OperationKind.TURN,
        OperationKind.CAP,
    }
)


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
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan | None,
    bags: Mapping[str, Sequence[str]],
) -> tuple[HardwareLine, ...]:
    """Return one line an item, in the order in which the steps need them.

    For each line, Σ ``per_joint`` = Σ ``per_step`` + ``workshop`` = ``quantity`` when
    there is a plan.

    Args:
        bags: bag name → item or fitting keys, as the maker said; the rest goes by
            stage: "1" for what is first needed to build the carcass, "2" for what
            is first needed once it stands.
    """
    per_joint: dict[str, Counter[str]] = {}
    workshop: Counter[str] = Counter()
    used_by: dict[str, set[str]] = {}
    for fastener, placed, fitted in placed_items(joinery, catalogue):
        per_joint.setdefault(placed.item, Counter())[fastener.joint] += 1
        workshop[placed.item] += fitted
        used_by.setdefault(placed.item, set()).add(fastener.fitting)
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
    finishing = _finishing_steps(plan)
    lines = []
    for number, key in enumerate(order, start=1):
        item = catalogue.items[key]
        quantity = per_joint[key].total()
        said = _bag_said(bags, {key, *used_by[key]})
        stage = "2" if per_step[key] and min(per_step[key]) in finishing else "1"
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
                bag=said or stage if item.supplied and workshop[key] < quantity else "",
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


def _finishing_steps(plan: Plan | None) -> frozenset[int]:
    """Return the numbers of the closing steps that bring no parts together."""
    finishing: list[int] = []
    for step in reversed(plan.steps if plan is not None else ()):
        assert plan is not None
        if any(plan.operation(o).kind not in _FINISHING for o in step.operations):
            break
        finishing.append(step.number)
    return frozenset(finishing)


def _bag_said(bags: Mapping[str, Sequence[str]], keys: set[str]) -> str | None:
    return next((bag for bag, members in bags.items() if keys & set(members)), None)
