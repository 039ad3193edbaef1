"""The fullest filling of one length by pieces of which there are only so many.

Lengths are whole numbers (hundredths of a millimetre), so that the answer is exact.

Source:
    Dynamic programming over the filled length, many of a kind taken as bundles of 1, 2, 4 …:
    S. Martello and P. Toth, Knapsack Problems, 1990, sections 2.6 and 3.2, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Filling", "cells_of", "fill_in_turn", "fullest"]


@dataclass(frozen=True)
class Filling:
    """What goes in: how many of each piece, by their order, and what that is worth."""

    worth: float
    counts: tuple[int, ...]


def cells_of(capacity: int, sizes: Sequence[int]) -> int:
    """Return how many different filled lengths a search has to keep."""
    return capacity // (math.gcd(*sizes) if sizes else 1) + 1


def fullest(
    capacity: int, sizes: Sequence[int], worths: Sequence[float], most: Sequence[int]
) -> Filling:
    """Return the filling of one length that is worth most."""
    *_, last = fill_in_turn(capacity, sizes, worths, most, (len(sizes),))
    return last


def fill_in_turn(
    capacity: int,
    sizes: Sequence[int],
    worths: Sequence[float],
    most: Sequence[int],
    stops: Sequence[int],
) -> Iterator[Filling]:
    """Yield, for each stop, the best filling by the pieces before that place in their order.

    Args:
        capacity, sizes: whole numbers in one unit, sizes above 0.
        most: how many there are of each.
        stops: rising places in the order of the pieces.
    """
    unit = math.gcd(*sizes) if sizes else 1
    room = capacity // unit
    best: NDArray[np.float64] = np.zeros(room + 1)
    taken: list[tuple[int, int, int, NDArray[np.bool_]]] = []
    done = 0
    for stop in stops:
        for n in range(done, stop):
            if worths[n] <= 0:
                continue
            size = sizes[n] // unit
            for bundle in _bundles(min(most[n], room // size)):
                wide = bundle * size
                filled = best[: room + 1 - wide] + bundle * worths[n]
                better = filled > best[wide:] + 1e-12
                best[wide:][better] = filled[better]
                taken.append((n, bundle, wide, better))
        done = stop
        counts = [0] * len(sizes)
        at = room
        for n, bundle, wide, better in reversed(taken):
            if at >= wide and better[at - wide]:
                counts[n] += bundle
                at -= wide
        yield Filling(math.fsum(c * w for c, w in zip(counts, worths, strict=True)), tuple(counts))


def _bundles(most: int) -> Iterator[int]:
    """Yield sizes of bundles from which every number up to ``most`` can be put together."""
    size = 1
    while most > 0:
        bundle = min(size, most)
        yield bundle
        most -= bundle
        size *= 2
