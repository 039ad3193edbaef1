"""What a part weighs: as cut, banded, bored and grooved. Masses in kg.

The mass of anything larger, of a step's lift, a turn, a product, is the sum of these.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kdkit.catalogue.entries import BoardMaterial, Catalogue, Strength
from kdkit.model.resolved import Part
from kdkit.parts.cuts import Bore, Cuts, Groove, Slot, by_part
from kdkit.parts.volume import drilled_volume

__all__ = ["board_row", "board_strength", "items_mass", "part_mass", "weigh_parts"]

_HOLDS = 0.5  # mm beyond its range in which a row's strengths still hold; common practice


def board_row(board: BoardMaterial, thickness: float) -> Strength:
    """Return the row of a board's table for a thickness.

    A row reaches from above its lesser thickness up to and with its greater one, so that 13
    belongs to "6 to 13". A thickness in no row has the nearest one's figures; of two as near,
    those of the thinner board.

    Source:
        Classes "over 13 up to 20": EN 312:2010, from memory. The nearest row: common
        practice, no source.
    """
    rows = sorted(board.strength, key=lambda row: row.thickness)
    for row in rows:
        if row.thickness[0] < thickness <= row.thickness[1]:
            return row
    return min(rows, key=lambda row: _beyond(row, thickness))


def _beyond(row: Strength, thickness: float) -> float:
    """Return how far a thickness lies outside a row's range, mm."""
    return max(row.thickness[0] - thickness, thickness - row.thickness[1], 0.0)


def board_strength(part: Part, catalogue: Catalogue) -> Strength | None:
    """Return the board's figures for the part's thickness, None when none are known."""
    board = catalogue.boards.get(part.material or "")
    if board is None:
        return None
    row = board_row(board, part.thickness)
    return row if _beyond(row, part.thickness) <= _HOLDS else None


def part_mass(
    part: Part,
    catalogue: Catalogue,
    bores: Sequence[Bore] = (),
    grooves: Sequence[Groove] = (),
    slots: Sequence[Slot] = (),
) -> float:
    """Return the mass of a part with its own bores, grooves and slots.

    Edge bands are part of the finished size and count as board. A bought part weighs what
    the definition says, whatever is bored in it. A part of no known board weighs
    nothing; no definition comes this far with one.
    """
    if part.mass is not None:
        return part.mass
    board = catalogue.boards.get(part.material or "")
    if board is None:
        return 0.0
    density = board_row(board, part.thickness).density * 1e-9  # kg/m³ → kg/mm³
    return density * drilled_volume(part, bores, grooves, slots)


def weigh_parts(parts: Iterable[Part], cuts: Cuts, catalogue: Catalogue) -> Mapping[str, float]:
    """Return the mass of each part under its name; ``cuts`` are those of all parts."""
    bores, grooves, slots = by_part(cuts.bores), by_part(cuts.grooves), by_part(cuts.slots)
    return {
        n: part_mass(part, catalogue, bores.get(n, ()), grooves.get(n, ()), slots.get(n, ()))
        for part in parts
        for n in (part.name,)
    }


def items_mass(items: Iterable[str], catalogue: Catalogue) -> float:
    """Return the mass of pieces of hardware, each named once for each piece."""
    return sum(catalogue.items[item].mass for item in items) / 1000  # g → kg
