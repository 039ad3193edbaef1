"""Integrals of functions with kinks, to a stated error."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["NOISE", "Effort", "Values", "integrate"]

Values = NDArray[np.float64]

# Source: the 7-point Gauss and 15-point Kronrod rules, QUADPACK (R. Piessens et al., 1983).
_KRONROD = np.array(
    [
        0.991455371120812639206854697526329,
        0.949107912342758524526189684047851,
        0.864864423359769072789712788640926,
        0.741531185599394439863864773280788,
        0.586087235467691130294144691693013,
        0.405845151377397166906606412076961,
        0.207784955007898467600689403773245,
        0.0,
    ]
)
_KRONROD_WEIGHTS = np.array(
    [
        0.022935322010529224963732008058970,
        0.063092092629978553290700663189204,
        0.104790010322250183839876322541518,
        0.140653259715525918745189590510238,
        0.169004726639267902826583426598550,
        0.190350578064785409913256402421014,
        0.204432940075298892414161999234649,
        0.209482141084727828012999174891714,
    ]
)
_GAUSS_WEIGHTS = np.array(
    [
        0.129484966168869693270611432679082,
        0.279705391489276667901467771423780,
        0.381830050505118944950369775488975,
        0.417959183673469387755102040816327,
    ]
)
_NODES = np.concatenate([-_KRONROD, _KRONROD[-2::-1]])
_FINE = np.concatenate([_KRONROD_WEIGHTS, _KRONROD_WEIGHTS[-2::-1]])
_COARSE = np.zeros(15)
_COARSE[1::2] = np.concatenate([_GAUSS_WEIGHTS, _GAUSS_WEIGHTS[-2::-1]])

_DEEPEST = 48
_MOST_LOOKS = 20_000
_ROUNDING = 1e-14

NOISE = 1e-2
"""A function may be wrong by this share of the tolerance over the whole, no more."""


@dataclass
class Effort:
    """How many stretches may still be looked at, over several integrals.

    When none is left, each further stretch counts with what one look at it gave: work stays
    bounded, whatever the shapes, and the result is as good as that allows.
    """

    left: int

    def spend(self) -> bool:
        """Count one look; return whether there is another one to be had."""
        self.left -= 1
        return self.left > 0


def integrate(
    function: Callable[[Values], Values],
    breaks: Sequence[float],
    tolerance: float,
    effort: Effort | None = None,
) -> float:
    """Return the integral from the first to the last break.

    Each stretch between two breaks is run through by x = m + h·sin θ, which makes
    the square-root ends that circles have smooth, and is halved where two rules differ.

    Args:
        function: takes an array of x, gives the array of values; bounded.
        breaks: increasing; where the function is known to have a kink or to begin.
        tolerance: absolute, for the whole.
        effort: shared with other integrals; None: a generous one of its own.
    """
    effort = Effort(_MOST_LOOKS) if effort is None else effort
    ends = sorted(set(breaks))
    whole = ends[-1] - ends[0]
    if whole <= 0:
        return 0.0
    total = 0.0
    for a, b in pairwise(ends):
        middle, half = (a + b) / 2, (b - a) / 2

        def smooth(theta: Values, middle: float = middle, half: float = half) -> Values:
            return np.asarray(function(middle + half * np.sin(theta)) * (half * np.cos(theta)))

        share = tolerance * (b - a) / whole
        stack = [(-np.pi / 2, np.pi / 2, share, 0)]
        while stack:
            low, high, allowed, depth = stack.pop()
            centre, reach = (low + high) / 2, (high - low) / 2
            values = smooth(centre + reach * _NODES)
            fine, coarse = reach * float(values @ _FINE), reach * float(values @ _COARSE)
            rounding = _ROUNDING * abs(fine)
            close = abs(fine - coarse) <= max(allowed, rounding)
            if not effort.spend() or close or depth == _DEEPEST:
                total += fine
            else:
                less = max(allowed / 2, tolerance * NOISE)
                stack.append((low, centre, less, depth + 1))
                stack.append((centre, high, less, depth + 1))
    return total
