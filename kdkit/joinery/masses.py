"""What the parts of a product weigh, alone and together with the hardware in them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.placed import Fastener, Joinery, PlacedItem
from kdkit.model.resolved import Part
from kdkit.parts.mass import items_mass, weigh_parts

__all__ = ["Masses"]


@dataclass(frozen=True, eq=False)
class Masses:
    """The masses of one product, kg.

    Args:
        parts: of each part as it is finished, without hardware.
        hardware: of each piece, with the parts that must be there for it to be there: its
            carrier, or both members of its joint where it goes in when they are together.
    """

    parts: Mapping[str, float]
    hardware: tuple[tuple[frozenset[str], float], ...]

    @classmethod
    def of(cls, parts: Iterable[Part], joinery: Joinery, catalogue: Catalogue) -> Masses:
        """Weigh every part and every fastener once."""
        return cls(
            parts=weigh_parts(parts, joinery, catalogue),
            hardware=tuple(
                (_holders(fastener, placed), items_mass([placed.item], catalogue))
                for fastener in joinery.fasteners
                for placed in fastener.items
            ),
        )

    def together(self, names: Collection[str]) -> float:
        """Return what parts weigh together, with the hardware that they hold among them.

        What comes on one part later (a handle, a foot) counts as if it were on already: rather
        too much than too little.
        """
        moved = set(names)
        held = sum(mass for parts, mass in self.hardware if parts <= moved)
        return sum(self.parts[name] for name in names) + held

    @property
    def product(self) -> float:
        """What the whole weighs."""
        return self.together(self.parts.keys())


def _holders(fastener: Fastener, placed: PlacedItem) -> frozenset[str]:
    members = {fastener.receiving, fastener.butting or fastener.receiving}
    return frozenset(members if placed.carrier is None else {placed.carrier})
