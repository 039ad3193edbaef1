"""How hardware is bagged, as data: kinds of hardware, scales, sheets of labels.

A maker enters their own in a catalogue file: how much the pieces that they buy differ, how
many spares they give, what their scale shows, which labels they print on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Annotated

from pydantic import Field, StrictBool

from kdkit.catalogue.entry import Count, Entry, Grams, Size, Words
from kdkit.catalogue.faults import bad_value
from kdkit.diagnostics import Path, Problem
from kdkit.model.words import Markdown, Number

__all__ = [
    "OTHER_KIND",
    "HardwareKind",
    "LabelSheet",
    "Scale",
    "check_hardware_kind",
    "check_label_sheet",
]

OTHER_KIND = "other"
"""The kind of an item that says none."""

Share = Annotated[Number, Field(ge=0, le=0.5)]
Spares = Annotated[int, Field(strict=True, ge=0, le=50)]
Pieces = Annotated[int, Field(strict=True, ge=2, le=10_000)]
Side = Annotated[Size, Field(ge=10, le=1_200)]


class HardwareKind(Entry):
    """What pieces of one kind have in common on the bagging bench.

    Args:
        title: several of them, as a bag is called that holds nothing else.
        spread: standard deviation of one piece's mass, as a share of it.
        spares: rows of (at most so many needed, so many spares), rising; beyond the last row
            that row's spares. None at all: such pieces have no spares.
        safety: wall fixings and restraints: exact, in a bag of their own, with all that
            their fitting needs.
    """

    title: Words
    spread: Share
    spares: tuple[tuple[Count, Spares], ...] = ()
    safety: StrictBool = False
    sources: tuple[Markdown, ...]

    def spares_for(self, needed: int) -> int:
        """Return how many spares go with so many pieces."""
        if not self.spares or self.safety:
            return 0
        return next((n for most, n in self.spares if needed <= most), self.spares[-1][1])


class Scale(Entry):
    """A scale on the bagging bench, and what is asked of it.

    Args:
        capacity: the most that it carries, g.
        error: standard deviation of one reading, g.
        found: share of the bags with one piece too few or too many that must be found.
        weighed: how many pieces of each item are weighed once, for their mean.
    """

    title: Words
    capacity: Annotated[Grams, Field(gt=0)]
    error: Annotated[Grams, Field(gt=0)]
    found: Annotated[Number, Field(ge=0.5, lt=1)]
    weighed: Pieces
    sources: tuple[Markdown, ...]


class LabelSheet(Entry):
    """Labels in a grid on a standing sheet of paper; lengths in mm.

    Args:
        paper, label: width and height.
        margin: from the sheet's left and upper edge to the first label.
        gap: between labels beside and below each other.
        grid: columns and rows.
    """

    title: Words
    paper: tuple[Side, Side]
    label: tuple[Side, Side]
    margin: tuple[Size, Size]
    gap: tuple[Size, Size] = (0.0, 0.0)
    grid: tuple[Count, Count]
    sources: tuple[Markdown, ...] = ()

    def corner(self, place: int) -> tuple[float, float]:
        """Return the upper left corner of a label, counted by rows from 0."""
        column, row = place % self.grid[0], place // self.grid[0]
        return (
            self.margin[0] + column * (self.label[0] + self.gap[0]),
            self.margin[1] + row * (self.label[1] + self.gap[1]),
        )

    @property
    def per_sheet(self) -> int:
        """How many labels are on a sheet."""
        return self.grid[0] * self.grid[1]


def check_hardware_kind(kind: HardwareKind, path: Path) -> Iterable[Problem]:
    """Tell of spares that do not rise, or that a safety kind has."""
    if any(a[0] >= b[0] or a[1] > b[1] for a, b in pairwise(kind.spares)):
        yield bad_value((*path, "spares"), "must rise row by row")
    if kind.safety and kind.spares:
        told = bad_value((*path, "spares"), "what keeps people safe is exact and has no spares")
        yield replace(told, help="leave out spares, or safety")


_LEAST_LABEL = (70.0, 40.0)


def check_label_sheet(sheet: LabelSheet, path: Path) -> Iterable[Problem]:
    """Tell of labels that do not fit on their sheet, or hold too little."""
    for n, word in enumerate(("wide", "high")):
        if sheet.label[n] < _LEAST_LABEL[n]:
            text = f"a label is {sheet.label[n]:g} mm {word}; code and words need "
            yield bad_value((*path, "label"), f"{text}{_LEAST_LABEL[n]:g}")
        count = sheet.grid[n]
        ends = sheet.margin[n] + count * sheet.label[n] + (count - 1) * sheet.gap[n]
        if ends > sheet.paper[n] + 1e-6:
            text = f"{count} labels end at {ends:g} mm on paper {sheet.paper[n]:g} mm {word}"
            told = bad_value((*path, "grid"), text)
            yield replace(told, help="fewer or smaller labels, or a smaller margin or gap")
