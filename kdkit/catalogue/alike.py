"""Items that people mix up: of one shape, and a few millimetres apart."""

from __future__ import annotations

from kdkit.catalogue.entries import Item

__all__ = ["FAR", "are_lookalikes", "how_far_apart"]

FAR = 5.0  # mm; less is not seen without a rule. Common practice, no source.
_SAME = 0.5  # mm in length; such items are as long as each other to everybody
_THIN = 1.0  # mm in diameter or width, which is felt in the fingers sooner than length


def how_far_apart(one: Item, other: Item) -> tuple[float, float] | None:
    """Return how much two items of one shape differ in length and across; None if not of one."""
    shapes = [
        (
            item.drive,
            item.machine_thread,
            tuple((piece.kind, piece.surface) for piece in sorted(item.pieces, key=lambda p: p.z0)),
        )
        for item in (one, other)
    ]
    if shapes[0] != shapes[1]:
        return None
    lengths = [max(p.z1 for p in i.pieces) - min(p.z0 for p in i.pieces) for i in (one, other)]
    widths = [max(max(p.d0, p.d1 or 0.0) for p in i.pieces) for i in (one, other)]
    return abs(lengths[0] - lengths[1]), abs(widths[0] - widths[1])


def are_lookalikes(one: Item, other: Item) -> bool:
    """Tell whether two items are hard to tell apart: nobody should find them in one bag."""
    apart = how_far_apart(one, other)
    if apart is None:
        return False
    length, across = apart
    return max(length, across) <= FAR and not (across > _THIN and length > _SAME)
