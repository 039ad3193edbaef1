"""Does one item go in place of another: length, what the bores take, drive, thread.

The bores of a sold panel are there; an item that is sent for another must fill them alike.
Both are compared as the catalogue draws them, and so are the bores of the fittings that use
them. Tolerances: 0.5 mm in length and 0.2 mm across, common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from kdkit.catalogue import Catalogue, Fitting, Item, Piece
from kdkit.units import mm_text

__all__ = ["what_does_not_fit"]

_LENGTH, _ACROSS = 0.5, 0.2  # mm

Extent = tuple[float, float, float, float]


def what_does_not_fit(
    catalogue: Catalogue, old: str, new: str, today: Catalogue | None = None
) -> tuple[str, ...]:
    """Return in words why an item cannot be sent for another; none if it can.

    Args:
        catalogue: which has the old one as it was sold.
        old, new: names in the catalogues.
        today: which has the new one; None for the same.
    """
    today = today or catalogue
    one, other = catalogue.items[old], today.items[new]
    said = []
    lengths = _length(one), _length(other)
    if abs(lengths[0] - lengths[1]) > _LENGTH:
        said.append(f"it is {mm_text(lengths[1])} mm long, the other {mm_text(lengths[0])} mm")
    else:
        said += _across(one, other)
    if one.drive != other.drive:
        said.append(f"its drive is {other.drive or 'none'}, the manual shows {one.drive or 'none'}")
    if one.machine_thread != other.machine_thread:
        with_it, without = (old, new) if one.machine_thread else (new, old)
        said.append(f"{with_it} has a thread for a nut, {without} one for wood")
    if sorted(one.holes) != sorted(other.holes):
        said.append("its holes are others")
    return (*said, *_bores(catalogue, old, today, new))


def _length(item: Item) -> float:
    return round(_top(item) - min(p.z0 for p in item.pieces), 3)


def _top(item: Item) -> float:
    return max(p.z1 for p in item.pieces)


def _across(one: Item, other: Item) -> Iterator[str]:
    """Tell the first place along both, from the head, where they differ across."""
    cuts = sorted({_from_head(item, z) for item in (one, other) for p in item.pieces
                   for z in (p.z0, p.z1)})  # fmt: skip
    for low, high in itertools.pairwise(cuts):
        if high - low <= _LENGTH:
            continue
        at = f"{mm_text(low)} to {mm_text(high)} mm from its head"
        # Near both ends: a cone differs there most.
        for depth in (low + _LENGTH / 2, high - _LENGTH / 2):
            mine, its = _extent(one, depth), _extent(other, depth)
            if mine is None or its is None:
                if mine is not its:
                    yield f"{at} only one of the two has anything"
                    return
                continue
            if any(abs(a - b) > _ACROSS for a, b in zip(mine, its, strict=True)):
                yield (
                    f"{at} it is {_size(its)} across, the other {_size(mine)}: "
                    "the bores are made for that"
                )
                return
        if _surface(one, (low + high) / 2) != _surface(other, (low + high) / 2):
            yield f"{at} its surface is {_surface(other, (low + high) / 2)}, not that of the other"
            return


def _from_head(item: Item, z: float) -> float:
    return round(_top(item) - z, 3)


def _extent(item: Item, depth: float) -> Extent | None:
    """Return least x, most x, least y and most y of an item so deep below its head."""
    z = _top(item) - depth
    found = [_of_piece(p, z) for p in item.pieces if p.z0 <= z <= p.z1]
    if not found:
        return None
    return (
        min(e[0] for e in found), max(e[1] for e in found),
        min(e[2] for e in found), max(e[3] for e in found),
    )  # fmt: skip


def _of_piece(piece: Piece, z: float) -> Extent:
    x, y = piece.d0, piece.d0
    if piece.kind == "cone" and piece.d1 is not None:
        share = (z - piece.z0) / (piece.z1 - piece.z0)
        x = y = piece.d0 + (piece.d1 - piece.d0) * share
    elif piece.kind in ("box", "lens") and piece.d1 is not None:
        y = piece.d1
    return (
        piece.at[0] - x / 2, piece.at[0] + x / 2, piece.at[1] - y / 2, piece.at[1] + y / 2
    )  # fmt: skip


def _surface(item: Item, depth: float) -> str:
    z = _top(item) - depth
    return " and ".join(sorted({p.surface for p in item.pieces if p.z0 <= z <= p.z1}))


def _size(extent: Extent) -> str:
    x, y = extent[1] - extent[0], extent[3] - extent[2]
    return f"Ø{x:g}" if abs(x - y) < 1e-6 else f"{x:g} × {y:g} mm"


def _bores(catalogue: Catalogue, old: str, today: Catalogue, new: str) -> Iterator[str]:
    """Tell a fitting whose bores no fitting with the new item has, if it has any of its own."""
    mine, its = _using(catalogue, old), _using(today, new)
    if not its:
        return
    for name, fitting in mine.items():
        if not any(_bored(fitting) == _bored(other) for other in its.values()):
            first = next(iter(its))
            yield (
                f"{name} uses the other, and its bores or its way in are not those of {first}, "
                "which uses this"
            )
            return


def _using(catalogue: Catalogue, item: str) -> Mapping[str, Fitting]:
    return {
        name: fitting
        for name, fitting in catalogue.fittings.items()
        if any(rule.item == item for rule in fitting.items)
    }


def _bored(fitting: Fitting) -> list[str]:
    """Return in words all that is bored for a fitting, and how what it holds goes in."""
    return sorted(
        [f"{fitting.way} {fitting.holds} {[action.do for action in fitting.actions]}"]
        + [repr((b.member, b.at, b.into, b.diameter, b.depth)) for b in fitting.bores]
        + [repr((s.member, s.at, s.width, s.depth, s.length, s.disc)) for s in fitting.slots]
    )
