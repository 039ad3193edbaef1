"""Sizes that exist: how small and how large what a product is made of can be.

Wide enough for all that is made, narrow enough to catch a slip of unit or a digit too
many. Common practice, no source, where none is named.
"""

from __future__ import annotations

__all__ = [
    "BOARD_THICKNESS",
    "BORE_DEPTH",
    "BORE_DIAMETER",
    "LEAST_BAND",
    "LONGEST_SIDE",
    "MOST_LOAD",
    "SMALLEST_SIDE",
    "bore_fault",
]

SMALLEST_SIDE = 0.5
"""mm; veneer is hardly thinner, and a part with a shorter side is a mistake."""

LONGEST_SIDE = 20_000.0
"""mm; no board, glued beam or tube is carried into a house at more."""

BOARD_THICKNESS = (SMALLEST_SIDE, 300.0)
"""mm; from veneer to a beam."""

BORE_DIAMETER = (0.5, 200.0)
"""mm; from the finest drill that is held in a chuck to the widest hole saw."""

BORE_DEPTH = (0.5, 2_000.0)
"""mm; from a mark for a screw's point to the longest auger."""

LEAST_BAND = 0.1
"""mm; the thinnest edge band that is sold is about 0.3."""

MOST_LOAD = 1_000.0
"""kg on one shelf; beyond it stand pallet racks, which are no furniture."""


def bore_fault(diameter: float, depth: float) -> tuple[str, str] | None:
    """Return which of a bore's sizes cannot be drilled, and the limits in words.

    Returns:
        ``("diameter" or "depth", "0.5 to 200 mm")``, or None.
    """
    for key, value, (least, most) in (
        ("diameter", diameter, BORE_DIAMETER),
        ("depth", depth, BORE_DEPTH),
    ):
        if not least <= value <= most:
            return key, f"{least:g} to {most:g} mm"
    return None
