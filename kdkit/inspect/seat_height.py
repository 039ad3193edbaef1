"""What people sit or stand on though nobody said that it is a seat: wide, low, and free above."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.furniture import kinds_of
from kdkit.model.resolved import Part
from kdkit.model.says import Product

__all__ = ["sat_on"]

_LOW, _HIGH = 300.0, 600.0
"""mm over the floor between which people sit down on what is level. Common practice, no source;
seats are 400 to 480 high."""

_WIDE, _DEEP = 250.0, 250.0  # mm, the least that one sits on: common practice, no source
_FREE = 600.0  # mm over it that a sitting person takes at the least: common practice, no source
_LYING = 0.95  # cosine
_MADE_FOR = ("seat", "bed")
"""The loads of furniture that bears people."""


def sat_on(assembly: Assembly, said: Product, catalogue: Catalogue) -> list[str]:
    """Return the parts that look like a seat in a product that is none, lowest first."""
    kinds = kinds_of(said, catalogue).values()
    if any(key in _MADE_FOR for kind in kinds for key in kind.carries):
        return []
    if any(kind.hangs for kind in kinds):
        return []
    boxes = {part.name: part_box(part) for part in assembly.parts}
    floor = min((float(box[2]) for box in boxes.values()), default=0.0)
    found = []
    for part in assembly.parts:
        box = boxes[part.name]
        top = float(box[5]) - floor
        wide, deep = float(box[3] - box[0]), float(box[4] - box[1])
        lies = abs(part.frame.k[2]) > _LYING and not part.smooth
        if not lies or not _LOW <= top <= _HIGH or wide < _WIDE or deep < _DEEP:
            continue
        if not any(_covers(part, other, boxes) for other in assembly.parts):
            found.append((top, part.name))
    return [name for _, name in sorted(found)]


def _covers(part: Part, other: Part, boxes: Mapping[str, NDArray[np.float64]]) -> bool:
    """Tell whether another part leaves no room to sit over the middle of a part."""
    own, above = boxes[part.name], boxes[other.name]
    x, y = ((own[n] + own[n + 3]) / 2 for n in (0, 1))
    over = above[2] - own[5]
    inside = above[0] < x < above[3] and above[1] < y < above[4]
    return bool(inside and -1e-6 <= over < _FREE)
