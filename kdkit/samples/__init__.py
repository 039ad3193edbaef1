"""Row 10. Samples: a small product round one fitting, and what that fitting costs there.

Takes a catalogue and a pair of boards (or two parts of a product), gives a product that
has gone through the same stages as any other, so that what it says of a fitting is what
a build would do.

Samples are a row of their own, before the pictures. A sample is a product like any other and
goes through the stages; the choice of a joint, the page of joints and the tests take it from
there, so the pipeline stays the one place that puts stages in a row.
"""

from kdkit.samples.boards import Pair, Stock, sample_pair, sample_pairs, stock_for
from kdkit.samples.make import Sample, place_product
from kdkit.samples.products import fixture_product, joint_product, sample_product

__all__ = [
    "Pair",
    "Sample",
    "Stock",
    "fixture_product",
    "joint_product",
    "place_product",
    "sample_pair",
    "sample_pairs",
    "sample_product",
    "stock_for",
]
