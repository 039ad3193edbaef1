"""A tree of boxes: which of many things may be near which, without trying all pairs.

Building takes O(n log n), a query O(log n + found) for things that are spread in space.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

__all__ = ["BoxTree", "Boxes", "near_pairs"]

Boxes = NDArray[np.float64]
"""Shape (n, 6): least x, y, z and greatest x, y, z of each box."""

_LEAF = 8
_FEW = 128
"""Up to so many boxes all pairs at once are faster than a tree."""


class BoxTree:
    """A static tree over axis-parallel boxes, split at the median of the longest axis.

    Args:
        boxes: shape (n, 6), mm.
    """

    def __init__(self, boxes: Boxes) -> None:
        self._boxes = boxes
        self._nodes: list[tuple[Boxes, NDArray[np.intp] | None, int, int]] = []
        if len(boxes):
            self._grow(np.arange(len(boxes)))

    def _grow(self, members: NDArray[np.intp]) -> int:
        boxes = self._boxes[members]
        bounds = np.concatenate([boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)])
        at = len(self._nodes)
        if len(members) <= _LEAF:
            self._nodes.append((bounds, members, -1, -1))
            return at
        self._nodes.append((bounds, None, -1, -1))
        centres = boxes[:, :3] + boxes[:, 3:]
        axis = int(np.argmax(centres.max(axis=0) - centres.min(axis=0)))
        order = members[np.argsort(centres[:, axis], kind="stable")]
        half = len(order) // 2
        left, right = self._grow(order[:half]), self._grow(order[half:])
        self._nodes[at] = (bounds, None, left, right)
        return at

    def touching(self, box: NDArray[np.float64], gap: float = 0.0) -> list[int]:
        """Return, in order, the indices of the boxes within ``gap`` of this one on each axis."""
        if not self._nodes:
            return []
        low, high = box[:3] - gap, box[3:] + gap
        found: list[int] = []
        open_nodes = [0]
        while open_nodes:
            bounds, members, left, right = self._nodes[open_nodes.pop()]
            if (bounds[:3] > high).any() or (bounds[3:] < low).any():
                continue
            if members is None:
                open_nodes += (left, right)
                continue
            boxes = self._boxes[members]
            near = ((boxes[:, :3] <= high) & (boxes[:, 3:] >= low)).all(axis=1)
            found += members[near].tolist()
        return sorted(found)


def near_pairs(boxes: Boxes, gap: float = 0.0) -> Iterator[tuple[int, int]]:
    """Yield (i, j), i < j in order, for every two boxes within ``gap`` on each axis."""
    if len(boxes) <= _FEW:
        low, high = boxes[:, :3], boxes[:, 3:]
        near = (low[:, None] <= high[None] + gap).all(axis=2)
        near &= near.T
        yield from zip(*(n.tolist() for n in np.nonzero(np.triu(near, 1))), strict=True)
        return
    tree = BoxTree(boxes)
    for i, box in enumerate(boxes):
        for j in tree.touching(box, gap):
            if j > i:
                yield i, j
