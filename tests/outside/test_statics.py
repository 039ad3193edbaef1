"""Beams and shelves against tables of formulas and against printed spans. Advice, no rating.

Source of the formulas: beam tables as every book on strength of materials has them, from memory
of W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain, 2002, table 8.1.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from kdkit.inspect.beam import bend
from kdkit.inspect.strength import shelf_sag

L, W, EI = 1000.0, 0.3, 4.0e8


@pytest.mark.parametrize(
    ("supports", "held", "sag", "moment"),
    [
        ((0.0, L), False, 5 * W * L**4 / 384 / EI, W * L**2 / 8),
        ((0.0,), True, W * L**4 / 8 / EI, W * L**2 / 2),
        ((L,), True, W * L**4 / 8 / EI, W * L**2 / 2),
        # two equal spans: 0.005416 w·l⁴/EI, moment over the middle w·l²/8
        ((0.0, L / 2, L), False, 0.005416 * W * (L / 2) ** 4 / EI, W * (L / 2) ** 2 / 8),
        # three equal spans: 0.00688 w·l⁴/EI in the outer ones, 0.1 w·l² over the inner supports
        (
            (0.0, L / 3, 2 * L / 3, L),
            False,
            0.00688 * W * (L / 3) ** 4 / EI,
            0.1 * W * (L / 3) ** 2,
        ),
    ],
)
def test_beams_as_in_the_tables(
    supports: Sequence[float], held: bool, sag: float, moment: float
) -> None:
    bent = bend(length=L, supports=supports, load=W, stiffness=EI, held=held)
    assert bent.sag == pytest.approx(sag, rel=2e-3)
    assert bent.moment == pytest.approx(moment, rel=2e-3)


def test_overhanging_ends() -> None:
    """Equal overhangs a on a span l: in the middle w·l²/384EI·(5l² − 24a²), ends by the same table.

    At a = 0.2071 of the whole length the moments over the supports and in the middle are equal.
    """
    a = 0.2071 * L
    span = L - 2 * a
    bent = bend(length=L, supports=(a, L - a), load=W, stiffness=EI)
    middle = W * span**2 / (384 * EI) * (5 * span**2 - 24 * a**2)
    end = W * a / (24 * EI) * (span**3 - 6 * a**2 * span - 3 * a**3)
    assert bent.sag == pytest.approx(max(abs(middle), abs(end)), rel=2e-3)
    assert bent.moment == pytest.approx(W * a**2 / 2, rel=2e-3)


def test_the_beam_agrees_with_finite_differences() -> None:
    """EI·v″″ = w on four supports at odd places, solved another way: on 2000 small steps."""
    supports, steps = (100.0, 340.0, 700.0, 960.0), 2000
    h = L / steps
    matrix, right = np.zeros((steps + 1 + 4, steps + 1 + 4)), np.zeros(steps + 1 + 4)
    held = [round(s / h) for s in supports]
    # v″ by differences; energy ∑EI/2·(v″)²·h − ∑w·v·h, least with v = 0 at the supports
    second = np.zeros((steps - 1, steps + 1))
    for n in range(steps - 1):
        second[n, n : n + 3] = np.array([1.0, -2.0, 1.0]) / h**2
    matrix[: steps + 1, : steps + 1] = EI * h * second.T @ second
    right[: steps + 1] = W * h
    right[0] = right[steps] = W * h / 2
    for n, node in enumerate(held):
        matrix[steps + 1 + n, node] = matrix[node, steps + 1 + n] = EI / h**3
    v = np.linalg.solve(matrix, right)[: steps + 1]
    bent = bend(length=L, supports=supports, load=W, stiffness=EI)
    assert bent.sag == pytest.approx(abs(v).max(), rel=1e-2)
    assert bent.moment == pytest.approx(EI * abs(second @ v).max(), rel=1e-2)


@pytest.mark.parametrize(("pounds", "inches"), [(40.0, 49.0), (50.0, 46.0)])
def test_shelves_of_red_oak_as_printed(pounds: float, inches: float) -> None:
    """At 1/144 of the span 3/4 in red oak spans 49 in under 40 lb/ft², 46 in under 50.

    Source: Architectural Woodwork Standards, 1st edition, 2009, shelf deflection. Modulus of
    red oak 1 820 000 lb/in²: from memory of the Wood Handbook, FPL-GTR-282, 2021, table 5-3b.
    """
    inch, pound, foot = 25.4, 4.448222, 304.8
    moe, deep, thick = 1.82e6 * pound / inch**2, 12 * inch, 0.75 * inch
    load = pounds * pound / foot**2 * deep  # N/mm along the shelf

    def over(length: float) -> float:
        inertia = deep * thick**3 / 12
        return bend(length=length, supports=(0, length), load=load, stiffness=moe * inertia).sag

    assert over(inches * inch) <= inches * inch / 144 * 1.04
    assert over((inches + 1) * inch) > (inches + 1) * inch / 144
    mass = load * inches * inch / 9.81
    sag = shelf_sag(span=inches * inch, width=deep, thickness=thick, moe=moe, load_kg=mass)
    assert over(inches * inch) == pytest.approx(sag, rel=1e-6)
