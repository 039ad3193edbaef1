"""Texts with numbers that two processors may round to either side."""

from __future__ import annotations

import re

__all__ = ["same_but_for_rounding"]

_NUMBER = re.compile(r"(-?\d*\.?\d+)")
_ROUNDED = 0.021  # two roundings of a coordinate to a hundredth


def same_but_for_rounding(one: str, other: str) -> bool:
    """Tell whether two texts differ in nothing but the last digits of their numbers."""
    parts, others = _NUMBER.split(one), _NUMBER.split(other)
    return parts[::2] == others[::2] and all(
        abs(float(a) - float(b)) <= _ROUNDED for a, b in zip(parts[1::2], others[1::2], strict=True)
    )
