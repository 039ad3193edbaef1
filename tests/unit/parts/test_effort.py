"""Work on a volume is bounded, whatever runs into what."""

from __future__ import annotations

import numpy as np
import pytest

from kdkit.parts.quadrature import Effort, Values, integrate


def test_an_integral_stops_when_no_effort_is_left() -> None:
    looks = 0

    def jagged(x: Values) -> Values:
        nonlocal looks
        looks += 1
        return np.sin(1.0 / (np.abs(x) + 1e-9))

    effort = Effort(500)
    assert abs(integrate(jagged, [-1.0, 1.0], 1e-14, effort)) < 2.0
    assert looks <= 520
    assert effort.left <= 0


def test_an_integral_with_effort_to_spare_is_exact() -> None:
    def half_disc(x: Values) -> Values:
        return np.sqrt(np.maximum(1.0 - x**2, 0.0))

    assert integrate(half_disc, [-1.0, 1.0], 1e-12) == pytest.approx(np.pi / 2, abs=1e-12)
