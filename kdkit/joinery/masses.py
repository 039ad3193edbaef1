"""What the parts of a product weigh, alone and together with the hardware in them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part
from kdkit.parts.mass import items_mass, weigh_parts

__all__ = ["Masses"]


@dataclass(frozen=True, eq=False)
class Masses:
    """The masses of one product, kg.

    Args:
        parts: of each part as it is finished, without hardware.
        hardware: of each fastener, with the parts that it stands in.
    """

    parts: Mapping[str, float]
    hardware: tuple[tuple[frozenset[str], float], ...]

    @classmethod
    def of(cls, parts: Iterable[Part], joinery: Joinery, catalogue: Catalogue) -> Masses:
        """Weigh every part and every fastener once."""
        return cls(
            parts=weigh_parts(parts, joinery, catalogue),
            hardware=tuple(
                (
                    frozenset((fastener.butting or fastener.receiving, fastener.receiving)),
                    items_mass((placed.item for placed in fastener.items), catalogue),
                )
                for fastener in joinery.fasteners
            ),
        )

    def together(self, names: Collection[str]) -> float:
        """Return what parts weigh together, with all hardware that is in no other part.

        A lift counts hardware that only comes on later (a handle, a foot) with the part that
        it comes on: rather too much than too little.
        """
        moved = set(names)
        held = sum(mass for parts, mass in self.hardware if parts <= moved)
        return sum(self.parts[name] for name in names) + held

    @property
    def product(self) -> float:
        """What the whole weighs."""
        return self.together(self.parts.keys())
