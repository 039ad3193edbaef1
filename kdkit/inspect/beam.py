"""A straight beam under an even load: how far it bends, and how hard.

Euler–Bernoulli: thin, straight, of one stiffness, small sags; shear is left out, which adds
about a hundredth at spans of twenty thicknesses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

__all__ = ["Bent", "bend"]

_PIECES = 16  # between two points that are held; the ends of each piece are exact
_SAME = 1e-6  # mm


@dataclass(frozen=True)
class Bent:
    """``sag``: the greatest, up or down, mm; ``moment``: the greatest, N·mm."""

    sag: float
    moment: float


def bend(
    *, length: float, supports: Sequence[float], load: float, stiffness: float, held: bool = False
) -> Bent:
    """Return how a beam bends that lies on supports.

    Args:
        length: mm.
        supports: where, from one end, mm; two at least, or one if it is ``held`` stiff there.
        load: spread evenly over the whole, N/mm.
        stiffness: E·I, N·mm².

    Source:
        The stiffness matrix of a beam piece with the loads that go with an even load, from
        memory of J. S. Przemieniecki, Theory of Matrix Structural Analysis, 1968.
    """
    points = sorted({0.0, length, *(min(max(s, 0.0), length) for s in supports)})
    spans = [(a, b) for a, b in pairwise(points) if b - a > _SAME]
    nodes = [spans[0][0]]
    for a, b in spans:
        nodes += [a + (b - a) * n / _PIECES for n in range(1, _PIECES + 1)]
    count = len(nodes)
    matrix, force = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)
    pieces = []
    for n in range(count - 1):
        h = nodes[n + 1] - nodes[n]
        own = (stiffness / h**3) * np.array(
            [
                [12, 6 * h, -12, 6 * h],
                [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, 2 * h * h, -6 * h, 4 * h * h],
            ]
        )
        even = load * h / 12 * np.array([6, h, 6, -h])
        at = slice(2 * n, 2 * n + 4)
        matrix[at, at] += own
        force[at] += even
        pieces.append((at, own, even))
    fixed = {
        2 * int(np.argmin([abs(node - min(max(s, 0.0), length)) for node in nodes]))
        for s in supports
    }
    if held:
        fixed |= {n + 1 for n in fixed}
    free = [n for n in range(2 * count) if n not in fixed]
    moved = np.zeros(2 * count)
    moved[free] = np.linalg.solve(matrix[np.ix_(free, free)], force[free])
    moments = [abs((own @ moved[at] - even)[[1, 3]]).max() for at, own, even in pieces]
    return Bent(float(abs(moved[::2]).max()), float(max(moments)))
