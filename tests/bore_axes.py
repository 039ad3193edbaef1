"""Where bores are in the product: worked out here, without the code that drilled them."""

from __future__ import annotations

from kdkit.frames import Frame, Vec3, add, scaled
from kdkit.joinery import Bore

__all__ = ["bore_axis"]


def bore_axis(bore: Bore, placed: Frame) -> tuple[Vec3, Vec3]:
    """Return the mouth and the bottom of a bore in the product frame, mm.

    Args:
        placed: where the panel sits in the finished product.
    """
    mouth = placed.point_to_outer(bore.mouth)
    return mouth, add(mouth, scaled(placed.vector_to_outer(bore.into), bore.depth))
