"""Viewpoints of a published standard, to look from in tests."""

from __future__ import annotations

import math

from kdkit.illustrate.hidden_lines.view import Viewpoint

__all__ = ["DIMETRIC", "ISOMETRIC"]

ISOMETRIC = Viewpoint(45.0, math.degrees(math.asin(1 / math.sqrt(3))))
"""All three axes shortened alike, by √(2/3). Source: ISO 5456-3, from memory."""

DIMETRIC = Viewpoint(math.degrees(math.asin(math.sqrt(1 / 8))), math.degrees(math.asin(1 / 3)))
"""x and z shortened alike, y half of that: axes at 7° and 42° on paper.

Source: ISO 5456-3, from memory; the angles follow from e_x = e_z = 2·e_y and
e_x² + e_y² + e_z² = 2.
"""
