"""Strength formulas against published numbers. Advice only, never a rating."""

from __future__ import annotations

import pytest

from kdkit.inspect.strength import CREEP, nail_withdrawal, screw_withdrawal, shelf_sag


@pytest.mark.parametrize(("span", "sag"), [(600, 1.892), (800, 4.486), (1000, 8.761)])
def test_shelf_sag(span: float, sag: float) -> None:
    """Euler–Bernoulli, computed by hand: 5wL⁴/384EI.

    Source: E 2500 from memory of the guidance of European makers of MDF on shelves.
    """
    found = shelf_sag(span=span, width=300, thickness=18, moe=2500, load_kg=25)
    assert found == pytest.approx(sag, abs=6e-4)


def test_shelf_sag_in_time() -> None:
    """4.486 grows to 6.73.

    Source: creep × 1.5 from memory of the guidance of European makers of MDF on shelves.
    """
    found = CREEP * shelf_sag(span=800, width=300, thickness=18, moe=2500, load_kg=25)
    assert found == pytest.approx(6.73, abs=5e-3)


def test_screw_withdrawal() -> None:
    """Source: from memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8.

    15 700·G²·D·L in pounds and inches.

    G 0.70, D 0.164 in, L 1 in gives 1262 lbf, 5612 N.
    """
    found = screw_withdrawal(specific_gravity=0.70, diameter=0.164 * 25.4, length=25.4)
    assert found == pytest.approx(5612, rel=1e-3)
    assert found / 4.4482216 == pytest.approx(15_700 * 0.7**2 * 0.164, rel=1e-3)


def test_nail_withdrawal() -> None:
    """Source: from memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8.

    7850·G^(5/2)·D·L in pounds and inches.
    """
    found = nail_withdrawal(specific_gravity=0.5, diameter=0.131 * 25.4, length=25.4)
    assert found / 4.4482216 == pytest.approx(7850 * 0.5**2.5 * 0.131, rel=1e-3)
