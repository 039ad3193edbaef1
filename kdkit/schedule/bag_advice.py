"""What the maker should know of the bags: their own that had to be split, those no scale checks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from kdkit.diagnostics import Problem, advice
from kdkit.model.resolved import Resolved
from kdkit.schedule.bags import Bag

__all__ = ["advise_on_bags"]


def advise_on_bags(bags: Sequence[Bag], resolved: Resolved) -> tuple[Problem, ...]:
    """Return advice on a definition's bags."""
    said: Mapping[str, Sequence[str]] = getattr(resolved.said, "bags", {})
    return (*_split(bags, said), *_unweighed(bags))


def _split(bags: Sequence[Bag], said: Mapping[str, Sequence[str]]) -> Iterator[Problem]:
    names = {bag.name for bag in bags}
    for name in said:
        parts = [bag for bag in bags if bag.name.rpartition(" ")[0] == name]
        if name in names or len(parts) < 2:
            continue
        packed = "; ".join(
            f"{bag.name}: {', '.join(line.item for line in bag.items)}" for bag in parts
        )
        yield advice(
            "bag-split",
            f"bag {name} is packed as {len(parts)}: in one a missing piece would not show on the "
            "scale, or pieces would be mixed up, or what fixes it to the wall would not be apart",
            ("bags", name),
            help=f"{packed}; name them so, or leave the bag as it is",
        )


def _unweighed(bags: Sequence[Bag]) -> Iterator[Problem]:
    for bag in bags:
        if bag.weighs:
            continue
        line = min(bag.items, key=lambda line: min(line.found_missing, line.found_extra))
        found = round(100 * min(line.found_missing, line.found_extra))
        told = f"it shows in {found} of 100 bags" if bag.scale else "no scale carries the bag"
        yield advice(
            "bag-not-weighed",
            f"one piece too few or too many of {line.item} in bag {bag.name} is not found by "
            f"weight: {told}",
            help="count the bag twice; or enter a finer scale, or how little your pieces differ, "
            "in a catalogue",
        )
