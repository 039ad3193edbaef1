"""What a part weighs before it is drilled."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue, Strength
from kdkit.joinery.volume import prism_volume
from kdkit.model.resolved import Part

__all__ = ["board_strength", "part_mass"]


def board_strength(part: Part, catalogue: Catalogue) -> Strength | None:
    """Return the board's figures for the part's thickness, None when none are known.

    Where two ranges meet, the one that begins there counts.
    """
    board = catalogue.boards.get(part.material or "")
    if board is None:
        return None
    fits = [
        s for s in board.strength if s.thickness[0] - 0.5 <= part.thickness <= s.thickness[1] + 0.5
    ]
    inside = [s for s in fits if s.thickness[0] <= part.thickness < s.thickness[1]]
    return next(iter(inside or fits), None)


def part_mass(part: Part, catalogue: Catalogue) -> float | None:
    """Return a part's mass in kg, None when its board's density is unknown."""
    if part.mass is not None:
        return part.mass
    strength = board_strength(part, catalogue)
    return prism_volume(part) * strength.density * 1e-9 if strength is not None else None
