"""What packing comes to: cartons with their layers, sizes, masses and bearers."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.plan.operations.hands import MOST
from kdkit.schedule.packing.layers import Layer, Placed
from kdkit.schedule.packing.rules import PackingRules, persons_to_carry

__all__ = ["Carton", "Packing", "inner_size", "outer_size"]


def inner_size(
    contents: tuple[float, float, float], rules: PackingRules
) -> tuple[float, float, float]:
    """Return a carton's inner size: its contents, padded, and the clearance, mm."""
    more = 2 * rules.cushion + rules.clearance
    return (contents[0] + more, contents[1] + more, contents[2] + more)


def outer_size(
    contents: tuple[float, float, float], rules: PackingRules
) -> tuple[float, float, float]:
    """Return a carton's outer size, mm."""
    a, b, c = (side + 2 * rules.wall for side in inner_size(contents, rules))
    return (a, b, c)


@dataclass(frozen=True, kw_only=True)
class Carton:
    """One carton.

    Args:
        number: 1 is opened first; the hardware is in it.
        footprint: length and width of the contents, mm.
        layers: from the bottom up.
    """

    number: int
    footprint: tuple[float, float]
    layers: tuple[Layer, ...]
    rules: PackingRules

    @property
    def contents(self) -> tuple[float, float, float]:
        """Length, width and height of what lies in it, the last interleaf with it, mm."""
        return (*self.footprint, self.layers[-1].high + self.rules.interleaf)

    @property
    def inner(self) -> tuple[float, float, float]:
        """The carton's inner size, mm."""
        return inner_size(self.contents, self.rules)

    @property
    def outer(self) -> tuple[float, float, float]:
        """The carton's outer size, mm."""
        return outer_size(self.contents, self.rules)

    @property
    def placed(self) -> tuple[Placed, ...]:
        """Everything in it, from the bottom up."""
        return tuple(p for layer in self.layers for p in layer.placed)

    @property
    def has_hardware(self) -> bool:
        """True for the one that holds the hardware."""
        return any(p.piece.is_hardware for p in self.placed)

    @property
    def interleaves(self) -> int:
        """Sheets: one under every piece, one over the last layer."""
        return len(self.placed) + 1

    @property
    def wraps(self) -> int:
        """Pieces that are wrapped, for hardware stands out of them."""
        return sum(p.piece.wrapped for p in self.placed)

    @property
    def void_volume(self) -> float:
        """Room that is filled up, mm³."""
        boxes = [void.box for layer in self.layers for void in layer.voids]
        return sum((b[3] - b[0]) * (b[4] - b[1]) * (b[5] - b[2]) for b in boxes)

    @property
    def contents_kg(self) -> float:
        """What the pieces weigh."""
        return sum(layer.mass_kg for layer in self.layers)

    @property
    def packing_kg(self) -> float:
        """What carton, interleaves and fillings weigh, about: an estimate from their sizes.

        A carton whose four flaps meet in the middle: 2 (L + W) (W + H) of board.
        """
        rules = self.rules
        length, width, height = (side / 1000 for side in self.outer)
        wall = 2 * (length + width) * (width + height) * rules.wall_mass
        sheets = sum(p.piece.area for p in self.placed) / 1e6
        sheets += self.footprint[0] * self.footprint[1] / 1e6
        sheets += sum(2 * p.piece.area for p in self.placed if p.piece.wrapped) / 1e6
        return wall + sheets * rules.sheet_mass + self.void_volume / 1e9 * rules.void_mass

    @property
    def gross_kg(self) -> float:
        """What the packed carton weighs, about."""
        return self.contents_kg + self.packing_kg

    @property
    def persons(self) -> int:
        """How many carry it, at most as many as find room at it."""
        return min(persons_to_carry(self.outer, self.gross_kg), MOST)

    @property
    def needs_aid(self) -> bool:
        """True where no team is enough: a trolley or straps carry it."""
        return persons_to_carry(self.outer, self.gross_kg) > MOST


@dataclass(frozen=True, kw_only=True)
class Packing:
    """All cartons of one product, in the order of their numbers."""

    cartons: tuple[Carton, ...]
    rules: PackingRules

    @property
    def gross_kg(self) -> float:
        """What all of them weigh, about."""
        return sum(carton.gross_kg for carton in self.cartons)
