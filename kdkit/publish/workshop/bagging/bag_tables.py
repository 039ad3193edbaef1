"""The bags as rows: an item of a bag each, for the CSV file, the workbook and the bench."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kdkit.catalogue.bagging import Scale
from kdkit.publish.files.columns import Column, Number, Value, fixed, product_columns, table_rows
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.schedule.bags import Bag, Bagged
from kdkit.schedule.weighing import average_factor

__all__ = ["BagLine", "bag_columns", "bag_lines", "bag_rows", "limits_of", "mean_of", "shown_g"]


@dataclass(frozen=True)
class BagLine:
    """One item of one bag, and the scale that the bag is weighed on (None: by hand)."""

    bag: Bag
    item: Bagged
    scale: Scale | None


def bag_lines(results: Results) -> tuple[BagLine, ...]:
    """Return the lines of all bags in their order."""
    scales = results.catalogue.scales
    return tuple(
        BagLine(bag, item, scales.get(bag.scale))
        for bag in results.schedules.bags
        for item in bag.items
    )


def _places(scale: Scale | None) -> int:
    """Return the decimals that a scale shows: no digit that is smaller than its error."""
    return 2 if scale is None else max(0, math.ceil(-math.log10(scale.error)))


def shown_g(mass: float, scale: Scale | None) -> str:
    """Return a mass as its scale shows it, g."""
    return f"{mass:.{_places(scale)}f}"


def limits_of(bag: Bag, scale: Scale | None) -> tuple[str, str]:
    """Return the least and the greatest reading of a right bag, g; never wider than worked out."""
    step = 10.0 ** -_places(scale)
    low = math.ceil((bag.mass_g - bag.limit_g) / step - 1e-9) * step
    high = math.floor((bag.mass_g + bag.limit_g) / step + 1e-9) * step
    return shown_g(low, scale), shown_g(high, scale)


def mean_of(line: BagLine) -> tuple[float, float]:
    """Return between which means of the pieces weighed the catalogue's mass holds, g."""
    weighed = line.scale.weighed if line.scale is not None else 50
    away = average_factor(weighed) * line.item.spread_g
    return line.item.mass_g - away, line.item.mass_g + away


def bag_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``bags.csv``: a line for every item of every bag."""
    columns = [*bag_columns(results, messages), *product_columns(results)]
    return table_rows(columns, bag_lines(results), messages)


def bag_columns(results: Results, messages: Messages) -> list[Column]:
    """Return the columns of the bags; those with a share stand on the picking sheet too."""
    say = messages.plain

    def yes(so: bool) -> str:
        return say("table.yes" if so else "table.no")

    def limit(n: int) -> Value:
        return lambda line: Number(limits_of(line.bag, line.scale)[n])

    def mean(n: int) -> Value:
        return lambda line: mean_of(line)[n]

    def percent(which: str) -> Value:
        return lambda line: getattr(line.item, which) * 100 if line.scale is not None else None

    def scale(line: BagLine) -> str:
        title = line.scale.title if line.scale is not None else ""
        return messages.name("scales", line.bag.scale, title)

    return [
        Column("table.bag", lambda line: line.bag.name),
        Column("table.bag_opened", lambda line: line.bag.opened),
        Column("table.number", lambda line: line.item.number, share=0.08),
        Column("table.item", lambda line: line.item.item),
        Column(
            "table.title",
            lambda line: messages.name("items", line.item.item, line.item.title),
            share=0.21,
        ),
        Column(
            "table.size",
            lambda line: messages.name("item_sizes", line.item.item, line.item.size),
            share=0.19,
        ),
        Column("table.needed", lambda line: line.item.needed, share=0.07),
        Column("table.spares", lambda line: line.item.spares, share=0.07),
        Column("table.in_bag", lambda line: line.item.count, share=0.07),
        Column("table.mass_g", lambda line: line.item.mass_g, fixed(2), share=0.08),
        Column("table.mean_least", mean(0), fixed(3), share=0.08),
        Column("table.mean_most", mean(1), fixed(3), share=0.08),
        Column("table.bag_mass", lambda line: line.bag.mass_g, fixed(2)),
        Column("table.bag_least", limit(0)),
        Column("table.bag_most", limit(1)),
        Column("table.scale", scale),
        Column("table.found_missing", percent("found_missing"), fixed(1)),
        Column("table.found_extra", percent("found_extra"), fixed(1)),
        Column("table.weighs", lambda line: yes(line.bag.weighs)),
        Column("table.apart", lambda line: yes(line.bag.apart)),
    ]
