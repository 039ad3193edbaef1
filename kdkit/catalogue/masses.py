"""What an item weighs, from its shape and what it is made of."""

from __future__ import annotations

import math

from kdkit.catalogue.entries import Item, Piece

__all__ = ["DENSITIES", "item_mass", "piece_volume", "weighs_by"]

DENSITIES = {
    "steel": 7.85,
    "galvanised steel": 7.85,
    "stainless steel": 7.9,
    "brass": 8.5,
    "zinc alloy": 6.7,
    "beech": 0.72,
    "plastic": 1.1,
    "rubber": 1.1,
}
"""g/cm³ by what an item or a piece of it is made of. Common practice, no source."""

_PITCH = {4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25}
"""mm by the diameter of a machine thread: coarse pitches, from memory of ISO 261:1998, table 2."""

_WOOD_THREAD = 0.8
"""A wood screw's thread weighs as a rod of so much of its diameter. Common practice, no source."""


def weighs_by(item: Item) -> tuple[str, ...]:
    """Return what an item's pieces are made of, each once."""
    return tuple(dict.fromkeys(piece.material or item.material for piece in item.pieces))


def item_mass(item: Item) -> float:
    """Return an item's mass by its shape, g: its pieces less its holes.

    Raises:
        KeyError: a piece is made of what ``DENSITIES`` does not know.
    """
    mass = sum(
        _as_threaded(item, piece) * DENSITIES[piece.material or item.material]
        for piece in item.pieces
    )
    first = item.pieces[0]
    holes = sum(math.pi / 4 * width**2 * length for width, length in item.holes)
    return (mass - holes * DENSITIES[first.material or item.material]) / 1000.0  # mm³ → cm³


def _as_threaded(item: Item, piece: Piece) -> float:
    """Return a piece's volume, mm³; a thread's is that of a rod as thick as it is on average.

    Source:
        Stress area pi/4 (d - 0.6495 P)² of a machine thread, computed for its coarse pitch.
    """
    volume = piece_volume(piece)
    if piece.surface != "thread" or not piece.d0:
        return volume
    if item.machine_thread and piece.d0 in _PITCH:
        return volume * ((piece.d0 - 0.6495 * _PITCH[piece.d0]) / piece.d0) ** 2
    return volume * _WOOD_THREAD**2


def piece_volume(piece: Piece) -> float:
    """Return the volume of a piece of a shape, mm³. Solid geometry, computed.

    >>> round(piece_volume(Piece(kind="cylinder", z0=0, z1=10, d0=8)), 1)
    502.7
    >>> round(piece_volume(Piece(kind="lens", z0=-5, z1=5, d0=10, d1=1)), 2)
    78.54
    """
    height, across = piece.z1 - piece.z0, piece.d0
    other = across if piece.d1 is None else piece.d1
    match piece.kind:
        case "cylinder":
            return math.pi / 4 * across**2 * height
        case "cone":
            return math.pi / 12 * height * (across**2 + across * other + other**2)
        case "hexagon":
            return math.sqrt(3) / 2 * across**2 * height
        case "box":
            return across * other * height
        case "lens":
            return _lens_area(across, height) * other


def _lens_area(chord: float, height: float) -> float:
    """Return the area between two like arcs over one chord, mm²; ``height`` over both."""
    rise = height / 2
    if chord <= 0.0 or rise <= 0.0:
        return 0.0
    radius = (rise**2 + chord**2 / 4) / (2 * rise)
    half = math.atan2(chord / 2, radius - rise)
    return 2 * radius**2 * (half - math.sin(half) * math.cos(half))
