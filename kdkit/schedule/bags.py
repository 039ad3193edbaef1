"""What a bag of hardware is: the values that packing, labels, manual and tables are made from.

``Schedules.bags`` holds them in the order in which they are opened; each ``Bag`` is a pouch
that is filled, weighed, sealed and labelled by itself. What it gives:

* ``name``: its letter, or the maker's own word; no two bags share one;
* ``opened``: the number of the step at which it is opened, and not before; None without a plan;
* ``items``: what is in it, a ``Bagged`` an item: its catalogue key and number in the manual, how
  many for which step, how many spares, the mass of one piece and how much pieces differ;
* ``mass_g``: of all pieces, spares included and the pouch not; ``pieces``: how many there are;
* ``limit_g``: the bag is right if it weighs ``mass_g`` within plus or minus that;
* ``apart``: it holds what keeps people safe (wall fixings, restraints) and nothing else; such
  pieces are exact: there are no spares;
* ``weighs``: one piece missing or one too many of whatever is in it shows on the scale; else it
  is counted by hand, and ``Bagged.found_missing`` and ``found_extra`` say what a scale would do.

Of every item, Σ ``needed`` over the bags = Σ over the steps = what the joints take, less what
is fitted before packing; an item may lie in several bags, each opened at a step of its own.
What is not supplied, and what comes fitted, is in no bag. Masses in g; nothing is rounded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Bag", "Bagged"]


@dataclass(frozen=True, kw_only=True)
class Bagged:
    """One item in one bag.

    Args:
        item: its key in the catalogue.
        number: under which the manual shows it.
        per_step: step → how many of this bag's pieces it takes; Σ is ``needed``.
        needed: how many the steps take out of this bag.
        spares: how many come on top.
        mass_g: of one piece, on average.
        spread_g: standard deviation of one piece's mass.
        found_missing: share of the bags with one piece too few that the scale finds.
        found_extra: the same of one piece too many.
    """

    item: str
    number: int
    title: str
    size: str
    per_step: Mapping[int, int]
    needed: int
    spares: int
    mass_g: float
    spread_g: float
    found_missing: float = 0.0
    found_extra: float = 0.0

    @property
    def count(self) -> int:
        """How many pieces are in the bag, spares included."""
        return self.needed + self.spares


@dataclass(frozen=True, kw_only=True)
class Bag:
    """One pouch of hardware.

    Args:
        name: A, B, C … in the order of opening, or what the maker said.
        opened: the step at which it is opened; None without a plan.
        apart: for the wall fixings and restraints, exact and by themselves.
        scale: catalogue key of the scale that it is weighed on, "" if none carries it.
        spread_g: standard deviation of what the scale shows for bags that are right.
        weighs: the stated share of bags with one piece too few or too many is found, of
            whatever is in it.
    """

    name: str
    opened: int | None
    items: tuple[Bagged, ...]
    apart: bool = False
    scale: str = ""
    spread_g: float = 0.0
    weighs: bool = False

    @property
    def mass_g(self) -> float:
        """Mass of all pieces without the pouch."""
        return sum(line.count * line.mass_g for line in self.items)

    @property
    def limit_g(self) -> float:
        """Half of the lightest piece: what the bag may weigh more or less."""
        return min(line.mass_g for line in self.items) / 2

    @property
    def pieces(self) -> int:
        """How many pieces are in it."""
        return sum(line.count for line in self.items)
