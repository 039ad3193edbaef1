"""The samples of ``kdkit.samples`` for the tests: every fitting in every allowed thickness.

The boards and products are made in the package (``kdkit/samples/boards.py`` and
``products.py``, where a new kind of contact gets its maker); here they are only listed, and
placed without a word of complaint.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from kdkit.model import resolve
from kdkit.model.resolved import Part
from kdkit.samples import Pair, Sample, place_product, sample_pairs, sample_product
from tests.cabinets import built_in

__all__ = [
    "CATALOGUE",
    "FIXTURES",
    "JOINTS",
    "Pair",
    "Sample",
    "every_sample",
    "make_boards",
    "make_sample",
    "pairs",
]

CATALOGUE = built_in()
JOINTS = tuple(sorted(n for n, f in CATALOGUE.fittings.items() if f.kind == "joint"))
FIXTURES = tuple(sorted(n for n, f in CATALOGUE.fittings.items() if f.kind == "fixture"))


def pairs(key: str) -> list[tuple[float, float]]:
    """Every pair of butting and receiving thicknesses that a fitting allows.

    Where the receiving member must be far thicker than boards are, it is a post that is
    met on its edge: its second figure is then its width.
    """
    return [_figures(pair) for pair in sample_pairs(CATALOGUE, CATALOGUE.fittings[key])]


def _figures(pair: Pair) -> tuple[float, float]:
    behind = pair.width if pair.contact == "edge-edge" else pair.receiving.thickness
    return pair.butting.thickness, behind


def _pair(key: str, t_butting: float, t_receiving: float) -> Pair:
    all_pairs = sample_pairs(CATALOGUE, CATALOGUE.fittings[key])
    for pair in all_pairs:
        if _figures(pair) == (t_butting, t_receiving):
            return pair
    return _with_thicknesses(all_pairs[0], t_butting, t_receiving)


def _with_thicknesses(pair: Pair, t_butting: float, t_receiving: float) -> Pair:
    """A pair in thicknesses that are not usual ones."""
    butting = replace(pair.butting, thickness=t_butting)
    if pair.contact == "edge-edge":
        return replace(pair, butting=butting, receiving=butting, width=t_receiving)
    return replace(pair, butting=butting, receiving=replace(pair.receiving, thickness=t_receiving))


def make_boards(key: str, t_butting: float, t_receiving: float) -> list[Part]:
    """Two boards that meet as the fitting wants it: the shelf butts on the side."""
    product = sample_product(CATALOGUE, key, _pair(key, t_butting, t_receiving))
    found, problems = resolve(product)
    assert found is not None, problems
    return list(found.parts)


def make_sample(key: str, t_butting: float, t_receiving: float) -> Sample:
    """Place a fitting with its own spread between two boards, without a word of complaint."""
    product = sample_product(CATALOGUE, key, _pair(key, t_butting, t_receiving))
    sample, problems = place_product(product, CATALOGUE)
    assert sample is not None, problems
    return sample


def every_sample() -> Iterator[tuple[str, float, float]]:
    """Every joint with every pair of thicknesses."""
    for key in JOINTS:
        for t_butting, t_receiving in pairs(key):
            yield key, t_butting, t_receiving
