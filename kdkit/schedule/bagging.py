"""Hardware into bags.

What is taken from a bag says in which group a piece goes: that of its stage, of its kind, or
what the maker named. Wall fixings and restraints are a group of their own, with the screws
that their fitting needs. A group is one bag, or the fewest that are found in which

* no two items are hard to tell apart,
* one piece missing or one too many of any item shows on the scale that carries the bag.

Heavy pieces hide light ones, since their masses differ by more than a light one weighs; so a
group mostly falls apart by mass. Of an item that is too many even alone, the steps share the
pieces out, and one step's pieces are halved where that does not do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

from kdkit.catalogue.alike import are_lookalikes
from kdkit.catalogue.bagging import Scale
from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.plan.plan import Plan
from kdkit.schedule.bags import Bag, Bagged
from kdkit.schedule.grouping import letters
from kdkit.schedule.schedules import HardwareLine
from kdkit.schedule.stages import stages_of
from kdkit.schedule.weighing import (
    Load,
    found_shares,
    most_pieces,
    readings_spread,
    shows_one,
)

__all__ = ["fill_bags", "holding", "with_bags"]

_UNPLANNED = 0
"""Stands for the step of what no plan takes."""


@dataclass(frozen=True)
class _Group:
    """Where pieces go. ``said``: the maker's name of it, "" if nobody named it."""

    said: str = ""
    safe: bool = False
    stage: int = 0
    kind: str = ""


def fill_bags(
    lines: Sequence[HardwareLine],
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan | None,
    said: Mapping[str, Sequence[str]],
    by: str = "stage",
) -> tuple[Bag, ...]:
    """Return the bags in the order of opening.

    Args:
        lines: of the hardware list, for the items' numbers.
        said: bag name → item or fitting keys, as the maker said.
        by: what is named nowhere goes by ``stage`` or by ``kind``.
    """
    stages = stages_of(plan) if plan is not None else {}
    used_by: dict[str, set[str]] = {}
    for fastener in joinery.fasteners:
        for placed in fastener.items:
            used_by.setdefault(placed.item, set()).add(fastener.fitting)
    groups: dict[_Group, dict[str, Counter[int]]] = {}
    for line in lines:
        if not line.supplied:
            continue
        name = _named(said, {line.item, *used_by[line.item]})
        for (step, safe), n in _taken(line, joinery, catalogue, plan).items():
            group = _Group(said=name, safe=safe)
            if not name and not safe:
                kind = catalogue.items[line.item].kind
                group = _Group(kind=kind) if by == "kind" else _Group(stage=stages.get(step, 1))
            groups.setdefault(group, {}).setdefault(line.item, Counter())[step] += n
    numbered = {line.item: line for line in lines}
    spares = _spares(groups, catalogue)
    bags = [
        (group, bag)
        for group, items in groups.items()
        for bag in _split(
            [
                _bagged(numbered[item], steps, spares.get((group, item), 0), catalogue)
                for item, steps in items.items()
            ],
            group.safe,
            catalogue,
        )
    ]
    bags.sort(key=lambda pair: (pair[1].opened or 0, min(line.number for line in pair[1].items)))
    return _with_names(bags)


def with_bags(lines: Iterable[HardwareLine], bags: Sequence[Bag]) -> tuple[HardwareLine, ...]:
    """Return the lines of the hardware list with the names of the bags that they lie in."""
    return tuple(
        replace(line, bags=tuple(bag.name for bag in holding(bags, line.item))) for line in lines
    )


def holding(bags: Iterable[Bag], item: str) -> list[Bag]:
    """Return the bags in which an item lies."""
    return [bag for bag in bags if any(line.item == item for line in bag.items)]


def _named(said: Mapping[str, Sequence[str]], keys: set[str]) -> str:
    return next((bag for bag, members in said.items() if keys & set(members)), "")


def _taken(
    line: HardwareLine, joinery: Joinery, catalogue: Catalogue, plan: Plan | None
) -> Counter[tuple[int, bool]]:
    """Return how many pieces each step takes of an item: (step, for safety's sake) → pieces."""
    fasteners = {fastener.id: fastener for fastener in joinery.fasteners}
    taken: Counter[tuple[int, bool]] = Counter()
    if plan is None:
        left = line.quantity - line.workshop
        safe = min(left, _safe_pieces(joinery.fasteners, line.item, catalogue))
        taken[_UNPLANNED, True], taken[_UNPLANNED, False] = safe, left - safe
        return +taken
    for step in plan.steps:
        for operation in map(plan.operation, step.operations):
            n = operation.items.get(line.item, 0)
            worked = [fasteners[id] for id in operation.fasteners if id in fasteners]
            safe = min(n, _safe_pieces(worked, line.item, catalogue))
            if catalogue.hardware_kind(line.item).safety:
                safe = n
            taken[step.number, True] += safe
            taken[step.number, False] += n - safe
    return +taken


def _safe_pieces(fasteners: Iterable[Fastener], item: str, catalogue: Catalogue) -> int:
    """Return how many pieces of an item belong to wall fixings and restraints."""
    return sum(
        sum(placed.item == item for placed in fastener.items)
        for fastener in fasteners
        if any(catalogue.hardware_kind(placed.item).safety for placed in fastener.items)
    )


def _spares(
    groups: Mapping[_Group, Mapping[str, Counter[int]]], catalogue: Catalogue
) -> dict[tuple[_Group, str], int]:
    """Return the spares: of each item by its kind and count, where it is first opened."""
    needed: Counter[str] = Counter()
    first: dict[str, tuple[int, _Group]] = {}
    for group, items in groups.items():
        if group.safe:
            continue
        for item, steps in items.items():
            needed[item] += steps.total()
            if item not in first or min(steps) < first[item][0]:
                first[item] = (min(steps), group)
    return {
        (group, item): catalogue.hardware_kind(item).spares_for(needed[item])
        for item, (_, group) in first.items()
    }


def _bagged(
    line: HardwareLine, steps: Mapping[int, int], spares: int, catalogue: Catalogue
) -> Bagged:
    return Bagged(
        item=line.item,
        number=line.number,
        title=line.title,
        size=line.size,
        per_step={step: n for step, n in sorted(steps.items()) if step != _UNPLANNED},
        needed=sum(steps.values()),
        spares=spares,
        mass_g=line.mass_g,
        spread_g=line.mass_g * catalogue.hardware_kind(line.item).spread,
    )


def _split(items: Sequence[Bagged], safe: bool, catalogue: Catalogue) -> list[Bag]:
    """Return the bags of a group: the fewest of two ways to fill one bag after the other."""
    portions = [part for line in items for part in _portions(line, catalogue)]
    ways = []
    for lightest_first in (False, True):
        portions.sort(key=lambda p: (p.mass_g if lightest_first else -p.mass_g, p.number))
        filled: list[list[Bagged]] = []
        for portion in portions:
            home = next((f for f in filled if _goes_with(portion, f, catalogue)), None)
            if home is None:
                filled.append([portion])
            else:
                home.append(portion)
        ways.append(filled)
    return [_weighed(items, safe, catalogue) for items in min(ways, key=len)]


def _portions(line: Bagged, catalogue: Catalogue) -> list[Bagged]:
    """Return an item in as many portions as one of which a piece more or less shows."""
    load = Load(1, line.mass_g, line.spread_g)
    most = max(
        (
            min(most_pieces(load, s.weighed, s.error, s.found), int(s.capacity / line.mass_g))
            for s in catalogue.scales.values()
        ),
        default=0,
    )
    if line.count <= most or most < 1:
        return [line]
    if not line.per_step:
        return _shared(line, 0, line.needed, line.spares, most)
    portions: list[Bagged] = []
    spares = line.spares  # in the portion that is opened first
    steps: dict[int, int] = {}

    def close() -> None:
        nonlocal spares, steps
        if steps:
            needed = sum(steps.values())
            portions.append(replace(line, per_step=steps, needed=needed, spares=spares))
            spares, steps = 0, {}

    for step, n in line.per_step.items():
        if sum(steps.values()) + n + spares > most:
            close()
        if n + spares > most:
            portions += _shared(line, step, n, spares, most)
            spares = 0
        else:
            steps[step] = n
    close()
    return portions


def _shared(line: Bagged, step: int, needed: int, spares: int, most: int) -> list[Bagged]:
    """Return one step's pieces in the fewest portions, as even as can be."""
    ways = min(needed, -(-(needed + spares) // most))
    portions = []
    for n in range(ways):
        size = needed // ways + (n >= ways - needed % ways)
        extra = min(spares, most - size) if n < ways - 1 else spares
        spares -= extra
        per_step = {step: size} if step else {}
        portions.append(replace(line, per_step=per_step, needed=size, spares=extra))
    return portions


def _goes_with(portion: Bagged, others: Sequence[Bagged], catalogue: Catalogue) -> bool:
    """Tell whether a bag stays right with one portion more."""
    item = catalogue.items[portion.item]
    for other in others:
        if other.item == portion.item or are_lookalikes(item, catalogue.items[other.item]):
            return False
    return not catalogue.scales or _weighed((*others, portion), False, catalogue).weighs


def _weighed(items: Sequence[Bagged], safe: bool, catalogue: Catalogue) -> Bag:
    """Return a bag with what the finest scale that carries it shows."""
    items = sorted(items, key=lambda line: line.number)
    opened = min((step for line in items for step in line.per_step), default=None)
    bag = Bag(name="", opened=opened, items=tuple(items), apart=safe)
    loads = [Load(line.count, line.mass_g, line.spread_g) for line in items]
    key, scale = _scale_for(bag.mass_g, catalogue)
    if scale is None:
        return bag
    shares = found_shares(loads, scale.weighed, scale.error)
    return replace(
        bag,
        items=tuple(
            replace(line, found_missing=pair[0], found_extra=pair[1])
            for line, pair in zip(items, shares, strict=True)
        ),
        scale=key,
        spread_g=readings_spread(loads, scale.weighed, scale.error),
        weighs=shows_one(loads, scale.weighed, scale.error, scale.found),
    )


def _scale_for(mass: float, catalogue: Catalogue) -> tuple[str, Scale | None]:
    carry = [(s.error, key) for key, s in catalogue.scales.items() if s.capacity >= mass]
    if not carry:
        return "", None
    key = min(carry)[1]
    return key, catalogue.scales[key]


def _with_names(bags: Sequence[tuple[_Group, Bag]]) -> tuple[Bag, ...]:
    """Return the bags with letters, or with the maker's names, numbered where there are more."""
    said = Counter(group.said for group, _ in bags if group.said)
    taken = {name for name, n in said.items() if n == 1}
    free = letters()
    named = []
    for group, bag in bags:
        if said[group.said] == 1:
            name = group.said
        elif group.said:
            name = next(f"{group.said} {n}" for n in count(1) if f"{group.said} {n}" not in taken)
        else:
            name = next(letter for letter in free if letter not in taken)
        taken.add(name)
        named.append(replace(bag, name=name))
    return tuple(named)
