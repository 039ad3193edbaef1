"""A table as a list of its columns: each says its heading, what stands in it, how it is rounded.

A column is added in one place. A row of a kind that has nothing for a column leaves it blank;
nobody counts blanks. Units stand in the headings, which the language files hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.units import mm_text

__all__ = ["Column", "Number", "Value", "fixed", "mm", "per_kind", "product_columns", "table_rows"]

Value = Callable[[Any], object]
"""Takes a row; gives what stands in it, or None for a blank."""


class Number(str):
    """A number already written as text: a minus before it is no formula."""

    __slots__ = ()


def mm(places: int) -> Value:
    """Return the rounding of lengths and angles: so many decimals, no noughts at their end."""
    return lambda value: Number(mm_text(value, places))


def fixed(places: int) -> Value:
    """Return the rounding to so many decimals, noughts kept."""
    return lambda value: Number(f"{value:.{places}f}")


def _as_it_is(value: object) -> object:
    return value


@dataclass(frozen=True)
class Column:
    """One column.

    Args:
        heading: key of its heading in a language file; it says the unit.
        value: of a row, in that unit, not rounded.
        rounding: how the value is written.
        said: what the heading fills in.
        share: of the width of a drawn table that the column takes.
    """

    heading: str
    value: Value
    rounding: Value = _as_it_is
    said: Mapping[str, object] = field(default_factory=dict)
    share: float = 0.0

    def cell(self, row: object) -> object:
        """Return what stands in this column of a row."""
        found = self.value(row)
        return "" if found is None else self.rounding(found)


def per_kind(kinds: Mapping[type, Value | None]) -> Value:
    """Return what takes a value from rows of several kinds; None: that kind has none."""

    def value(row: object) -> object:
        take = kinds[type(row)]
        return None if take is None else take(row)

    return value


def product_columns(results: Results) -> list[Column]:
    """Return four columns that say which product, revision, batch and variant a row is of.

    They stand last and in every row, so that a reader finds them in a table that was cut
    up, and a program that asks for its columns by number or by name still gets them.
    """
    said = results.resolved.said
    values = {name: str(getattr(said, name, "") or "") for name in ("product", "revision", "batch")}
    values["variant"] = results.resolved.variant or ""
    return [
        Column(f"cover.{name}", lambda _, value=value: value)  # type: ignore[misc]
        for name, value in values.items()
    ]


def table_rows(
    columns: Sequence[Column], rows: Iterable[object], messages: Messages
) -> list[list[object]]:
    """Return the headings, then the cells of every row."""
    heads: list[object] = [messages.plain(column.heading, **column.said) for column in columns]
    return [heads, *([column.cell(row) for column in columns] for row in rows)]
