"""Every joint and fixture of the catalogue, its boards against solids of a CAD kernel."""

from __future__ import annotations

import pytest

from kdkit.parts.volume import drilled_volume, prism_volume
from tests.fixture_samples import FIXTURES, make_fixture_sample, thicknesses
from tests.samples import CATALOGUE, JOINTS, Sample, make_sample, pairs

pytest.importorskip("build123d")

from tests.outside.test_volumes import kernel_volume


def cut_away(sample: Sample) -> float:
    """Return what is cut from all boards, mm³, each held against the kernel's solid."""
    cut = 0.0
    for part in sample.assembly.parts:
        bores = [b for b in sample.joinery.bores if b.part == part.name]
        grooves = [g for g in sample.joinery.grooves if g.part == part.name]
        slots = [s for s in sample.joinery.slots if s.part == part.name]
        ours = drilled_volume(part, bores, grooves, slots)
        assert ours == pytest.approx(kernel_volume(part, bores, grooves, slots), rel=1e-6)
        cut += prism_volume(part) - ours
    return cut


@pytest.mark.parametrize("key", JOINTS)
def test_the_boards_of_a_sample(key: str) -> None:
    fitting = CATALOGUE.fittings[key]
    cut = cut_away(make_sample(key, *pairs(key)[len(pairs(key)) // 2]))
    if fitting.bores or fitting.slots or fitting.groove_width is not None:
        assert cut > 1.0


@pytest.mark.parametrize("key", FIXTURES)
def test_the_boards_of_a_fixture(key: str) -> None:
    sample = make_fixture_sample(key, thicknesses(key)[-1])
    assert len([b for b in sample.joinery.bores if b.fastener is not None]) > 0
    assert cut_away(sample) > 1.0
