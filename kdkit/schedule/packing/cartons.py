"""Pieces shared among cartons, and a footprint chosen for each."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from typing import Any

from kdkit.schedule.packing.layers import stack_layers
from kdkit.schedule.packing.packed import Carton, Packing, outer_size
from kdkit.schedule.packing.pieces import Piece
from kdkit.schedule.packing.rules import PackingRules, persons_to_carry

__all__ = ["pack_product"]

_LONGER = 1.5  # a footprint is at most so much longer, and twice as wide, as its largest piece
_LENGTHS, _WIDTHS = 3, 6  # so many of each are tried
_ROUNDS = 12
_LESS = 0.98  # each round fills a carton at least by so much less, until its gross mass is right
_EVEN = 1.1  # of an even share: what a carton may hold when the mass is to be spread
_TALL = 1.3  # a carton higher than wide counts as so much larger: it falls over
# Common practice, no source.

_ORDERS: tuple[Callable[[Piece], Any], ...] = (
    lambda p: (-p.size[0], -p.size[1], p.first, p.parts),
    lambda p: (-p.mass_kg, -p.area, p.parts),
    lambda p: (p.first, -p.area, p.parts),
)
"""Orders in which pieces are shared out: like sizes together, heavy ones first, as needed."""


def pack_product(pieces: Sequence[Piece], rules: PackingRules) -> Packing:
    """Return the cartons of a product.

    No carton weighs more than the rules say, packing and all, unless one piece alone does.
    Of several ways to share the pieces out the one with the fewest cartons is taken, of these
    the one that the fewest persons carry, then the one with the least room.
    """
    best: tuple[tuple[float, ...], list[Carton]] | None = None
    kept: dict[frozenset[int], Carton] = {}
    whole = sum(piece.mass_kg for piece in pieces)
    for order in _ORDERS:
        ordered = sorted(pieces, key=order)
        cartons = _share(ordered, rules, rules.most_mass, kept)
        even = _share(ordered, rules, _EVEN * whole / max(1, len(cartons)), kept)
        for tried in (cartons, even):
            rank = (
                len(tried),
                sum(persons_to_carry(c.outer, c.gross_kg) for c in tried),
                round(sum(_room(c) for c in tried), 3),
            )
            if best is None or rank < best[0]:
                best = (rank, tried)
        if len(cartons) <= 1:
            break
    cartons = sorted(
        best[1] if best is not None else [],
        key=lambda c: (not c.has_hardware, min(p.piece.first for p in c.placed), -c.gross_kg),
    )
    return Packing(
        cartons=tuple(
            Carton(number=n, footprint=c.footprint, layers=c.layers, rules=rules)
            for n, c in enumerate(cartons, start=1)
        ),
        rules=rules,
    )


def _share(
    pieces: Sequence[Piece],
    rules: PackingRules,
    net: float,
    kept: dict[frozenset[int], Carton],
) -> list[Carton]:
    """Return cartons filled one after the other, each piece into the first that bears it.

    Args:
        net: kg of pieces in a carton, to begin with.
        kept: cartons that were worked out before, by what is in them.
    """
    cartons: list[Carton] = []
    for _ in range(_ROUNDS):
        cartons = []
        for group in _filled(pieces, net):
            key = frozenset(id(piece) for piece in group)
            if key not in kept:
                kept[key] = _carton(group, rules)
            cartons.append(kept[key])
        over = [c for c in cartons if c.gross_kg > rules.most_mass and len(c.placed) > 1]
        if not over:
            return cartons
        worst = max(c.gross_kg for c in over)
        net *= min(_LESS, rules.most_mass / worst)
    # Large light pieces, whose packing weighs more than they: those cartons are halved.
    light = [c for c in cartons if c.gross_kg <= rules.most_mass or len(c.placed) == 1]
    for carton in cartons:
        if carton not in light:
            inside = [placed.piece for placed in carton.placed]
            light += _share(inside, rules, sum(piece.mass_kg for piece in inside) / 2, kept)
    return light


def _filled(pieces: Sequence[Piece], net: float) -> list[list[Piece]]:
    hardware = [piece for piece in pieces if piece.is_hardware]
    groups: list[list[Piece]] = []
    for piece in [*hardware, *(p for p in pieces if not p.is_hardware)]:
        for group in groups:
            if sum(p.mass_kg for p in group) + piece.mass_kg <= net:
                group.append(piece)
                break
        else:
            groups.append([piece])
    return groups


def _carton(pieces: Sequence[Piece], rules: PackingRules) -> Carton:
    """Return the carton with the least room round some pieces."""
    best: Carton | None = None
    solid = sum(math.prod(piece.size) for piece in pieces)
    for footprint in _footprints(pieces):
        area = footprint[0] * footprint[1]
        high = math.inf if best is None else _height_for(footprint, _room(best), rules)
        if solid / area > high:
            continue  # no layout on it can be better
        layers = stack_layers(pieces, footprint, rules, high)
        if layers is None:
            continue
        carton = Carton(number=0, footprint=_tight(layers), layers=layers, rules=rules)
        if best is None or _room(carton) < _room(best) - 1e-9:
            best = carton
    assert best is not None  # the largest piece's own footprint takes all of them
    return best


def _room(carton: Carton) -> float:
    return _room_for(carton.contents, carton.rules)


def _room_for(contents: tuple[float, float, float], rules: PackingRules) -> float:
    """Return the room of a carton round contents, m³, with what stands against its shape."""
    length, width, height = (side / 1000 for side in outer_size(contents, rules))
    return length * width * height * (_TALL if height > width else 1.0)


def _height_for(footprint: tuple[float, float], room: float, rules: PackingRules) -> float:
    """Return how high contents may be on a footprint for a carton of so much room, m³."""
    length, width, walls = outer_size((*footprint, 0.0), rules)
    return room * 1e9 / (length * width) - walls


def _tight(layers: Sequence[Any]) -> tuple[float, float]:
    """Return length and width that the contents really take, fillings with them."""
    boxes = [p.box for layer in layers for p in (*layer.placed, *layer.voids)]
    return (max(box[3] for box in boxes), max(box[4] for box in boxes))


def _footprints(pieces: Sequence[Piece]) -> list[tuple[float, float]]:
    """Return lengths and widths to try: those of the largest pieces, and of two side by side."""
    long = max(piece.size[0] for piece in pieces)
    wide = max(piece.size[1] for piece in pieces)
    lengths = {long} | {
        total
        for a, b in itertools.combinations(sorted({p.size[0] for p in pieces}), 2)
        for total in (a + b,)
        if long < total <= _LONGER * long
    }
    sides = sorted({side for p in pieces for side in p.size[:2]})
    widths = {wide} | {wide + side for side in sides if wide + side <= 2 * wide}
    widths |= {2 * side for side in sides if wide < 2 * side <= 2 * wide}
    return [
        (length, width)
        for length in sorted(lengths)[:_LENGTHS]
        for width in _spread(sorted(widths), _WIDTHS)
        if width <= length
    ] or [(long, wide)]


def _spread(values: Sequence[float], most: int) -> list[float]:
    """Return so many of some values, the first and the last with them."""
    if len(values) <= most:
        return list(values)
    return [values[round(n * (len(values) - 1) / (most - 1))] for n in range(most)]
