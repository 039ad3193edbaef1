"""Both boards of every joint of the catalogue against solids of a general CAD kernel."""

from __future__ import annotations

import pytest

from kdkit.joinery.volume import drilled_volume, prism_volume
from tests.samples import CATALOGUE, JOINTS, make_sample, pairs

pytest.importorskip("build123d")

from tests.outside.test_volumes import kernel_volume


@pytest.mark.parametrize("key", JOINTS)
def test_the_boards_of_a_sample(key: str) -> None:
    fitting = CATALOGUE.fittings[key]
    cut = 0.0
    sample = make_sample(key, *pairs(key)[len(pairs(key)) // 2])
    for part in sample.assembly.parts:
        bores = [b for b in sample.joinery.bores if b.part == part.name]
        grooves = [g for g in sample.joinery.grooves if g.part == part.name]
        slots = [s for s in sample.joinery.slots if s.part == part.name]
        ours = drilled_volume(part, bores, grooves, slots)
        assert ours == pytest.approx(kernel_volume(part, bores, grooves, slots), rel=1e-6)
        cut += prism_volume(part) - ours
    if fitting.bores or fitting.slots or fitting.groove_width is not None:
        assert cut > 1.0
