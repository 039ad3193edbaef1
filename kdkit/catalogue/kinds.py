"""Kinds of furniture and what they carry, as data: a maker enters their own in a catalogue file."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Annotated, Literal

from pydantic import Field, StrictBool

from kdkit.catalogue.entry import Entry, Size, Words
from kdkit.catalogue.faults import bad_value, unknown_name
from kdkit.diagnostics import Path, Problem
from kdkit.model.limits import MOST_LOAD
from kdkit.model.words import Markdown, Name, Number, Text

__all__ = ["Kind", "Load", "Measure", "check_kind", "check_load"]


class Load(Entry):
    """Something that a piece of furniture carries.

    Args:
        title: what bears it, as in "on the seat".
        on: how its bearers are found: ``shelves`` each alone; the highest large ``level``, or
            all large ``levels``, whose parts share it; ``drawers`` each alone; ``rails``.
        usual: kg that is assumed where the maker says none; on shelves kg/m².
        words: what the manual says; ``{load}`` stands for the mass in kg.
    """

    title: Words
    on: Literal["shelves", "level", "levels", "top", "drawers", "rails"]
    usual: Annotated[Number, Field(gt=0, le=MOST_LOAD)]
    words: Markdown
    sources: tuple[Markdown, ...]


class Measure(Entry):
    """A plain measure that a published rule asks of a kind.

    Args:
        what: ``opening``: the largest circle, its diameter, that goes through the fence round
            the level; ``fence``: how far that stands above the level; ``slats``: the widest
            gap between the parts of the level; ``level``: the level's height over the floor.
        least, most: mm.
        ways_in: sides of the fence that may be open or low: where one gets in.
        above: mm; it is asked only of a level that lies this high or higher.
    """

    what: Literal["opening", "fence", "slats", "level"]
    least: Size | None = None
    most: Size | None = None
    ways_in: Annotated[int, Field(ge=0, le=4)] = 0
    above: Size = 0.0
    source: Markdown


class Kind(Entry):
    """A kind of furniture.

    Args:
        title: with its article: "a seat".
        carries: keys of loads.
        standards: the rules that it has of its own, by name.
        not_judged: what of them kdkit does not judge.
        measures: what of them can be measured, by name.
        cautions: what its manual warns of.
        ties: it is tied to a wall, lest it tips over; hangs: on a wall; outdoors: it stands there.
    """

    title: Words
    carries: tuple[Text, ...] = ()
    standards: tuple[Text, ...] = ()
    not_judged: Text = ""
    measures: dict[Name, Measure] = Field(default={})
    cautions: tuple[Markdown, ...] = ()
    ties: StrictBool = False
    hangs: StrictBool = False
    outdoors: StrictBool = False
    sources: tuple[Markdown, ...]


def check_kind(kind: Kind, path: Path, loads: Collection[str]) -> Iterable[Problem]:
    """Tell of loads that there are not, and of measures without a limit."""
    for n, load in enumerate(kind.carries):
        if load not in loads:
            yield unknown_name((*path, "carries", n), "loads", load, sorted(loads))
    for name, measure in kind.measures.items():
        if measure.least is None and measure.most is None:
            yield bad_value((*path, "measures", name), "needs least or most")


def check_load(load: Load, path: Path) -> Iterable[Problem]:
    """The words of a load have one place to fill."""
    if load.words.count("{load}") != 1 or load.words.count("{") + load.words.count("}") != 2:
        yield bad_value((*path, "words"), "must say {load} once, and nothing else in braces")
