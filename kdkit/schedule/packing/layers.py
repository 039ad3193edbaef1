"""Pieces laid out in layers on a footprint.

A layer is as high as its tallest piece. Beside that stand columns of pieces, each lying wholly
on the one below; what is left free is filled, so that every layer ends level and bears the
next. Coordinates count from a lower corner of the contents, x along the carton's length.

The layers go in by these rules, the first before the second:

1. the hardware's box lies in the uppermost layer, where whoever opens the carton sees it;
2. layers that weigh at least half of what the heaviest does lie below all others;
3. of two layers alike in that, the one whose parts are needed first lies above.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import rectpack  # type: ignore[import-untyped]  # it has no types

from kdkit.schedule.packing.pieces import Piece
from kdkit.schedule.packing.rules import PackingRules

__all__ = ["Box", "Layer", "Placed", "Void", "stack_layers"]

Box = tuple[float, float, float, float, float, float]
"""Least x, y, z, greatest x, y, z."""

_Rect = tuple[float, float, float, float]

_FINE = 100  # the packing library counts in hundredths of a millimetre
_SLACK = 2  # of these: sums of rounded lengths still fit where the lengths do
_ALIKE = 0.6  # of the area below: what is smaller is laid beside, not on top
_HIGH = 0.6  # of a layer's height: what is lower and large belongs into another layer
_LARGE = 0.25  # of the footprint
_HEAVY = 0.5  # of the heaviest layer, or piece
# All but the first: common practice, no source.

_WAYS = (rectpack.MaxRectsBssf, rectpack.MaxRectsBl)


@dataclass(frozen=True)
class Placed:
    """A piece in its place; ``turned``: its length lies across the carton."""

    piece: Piece
    box: Box
    turned: bool


@dataclass(frozen=True)
class Void:
    """A room that is filled, so that nothing slides and the next layer lies level."""

    box: Box


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer, from the level on which its interleaf lies to the level that it ends at."""

    low: float
    high: float
    placed: tuple[Placed, ...]
    voids: tuple[Void, ...]

    @property
    def mass_kg(self) -> float:
        """What its pieces weigh."""
        return sum(p.piece.mass_kg for p in self.placed)


@dataclass(frozen=True)
class _Column:
    """Pieces on each other, the largest below."""

    pieces: tuple[Piece, ...]

    @property
    def foot(self) -> tuple[float, float]:
        return self.pieces[0].size[:2]

    def height(self, rules: PackingRules) -> float:
        return sum(p.size[2] for p in self.pieces) + rules.interleaf * (len(self.pieces) - 1)


@dataclass(frozen=True)
class _Flat:
    """A layer before it has its place in the carton: columns with their rectangles."""

    columns: tuple[tuple[_Column, _Rect], ...]
    height: float

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(piece for column, _ in self.columns for piece in column.pieces)

    @property
    def mass(self) -> float:
        return sum(piece.mass_kg for piece in self.pieces)

    @property
    def has_hardware(self) -> bool:
        return any(piece.is_hardware for piece in self.pieces)


def stack_layers(
    pieces: Sequence[Piece],
    footprint: tuple[float, float],
    rules: PackingRules,
    most_height: float = math.inf,
) -> tuple[Layer, ...] | None:
    """Return the layers on a footprint from the bottom up.

    None where a piece is too large for it, or all of them together become too high.
    """
    if not all(_fits(piece, footprint) for piece in pieces):
        return None
    rest = sorted(pieces, key=lambda p: (-p.size[2], -p.area, p.mark, p.parts))
    flats: list[_Flat] = []
    while rest:
        if sum(flat.height + rules.interleaf for flat in flats) >= most_height:
            return None
        # The hardware is first: whatever lies beside it lies in the uppermost layer, too.
        seed = next((p for p in rest if p.is_hardware), rest[0])
        flat = _one_layer(seed, rest, footprint, rules)
        flats.append(flat)
        taken = {id(piece) for piece in flat.pieces}
        rest = [piece for piece in rest if id(piece) not in taken]
    if sum(flat.height + rules.interleaf for flat in flats) >= most_height:
        return None
    level, layers = 0.0, []
    for flat in _in_order(flats):
        layer = _settled(flat, level, footprint, rules)
        layers.append(layer)
        level = layer.high
    return tuple(layers)


def _fits(piece: Piece, footprint: tuple[float, float]) -> bool:
    a, b = piece.size[:2]
    room = [side + 0.01 for side in footprint]
    return (a <= room[0] and b <= room[1]) or (b <= room[0] and a <= room[1])


def _in_order(flats: Sequence[_Flat]) -> list[_Flat]:
    """Return the layers from the bottom up, by the rules at the top of this module."""
    heaviest = max((flat.mass for flat in flats if not flat.has_hardware), default=0.0)
    return sorted(
        flats,
        key=lambda flat: (
            flat.has_hardware,
            flat.mass < _HEAVY * heaviest,
            -min(piece.first for piece in flat.pieces),
            -flat.mass,
            [piece.parts for piece in flat.pieces],
        ),
    )


def _one_layer(
    seed: Piece, rest: Sequence[Piece], footprint: tuple[float, float], rules: PackingRules
) -> _Flat:
    """Return the layer round one piece: of several proposals the one with most in it."""
    height = seed.size[2]
    columns = [_Column((seed,)), *_columns(seed, rest, footprint, rules)]
    best: list[tuple[int, _Rect]] = []
    for way in _WAYS:
        found = _lay([column.foot for column in columns], footprint, way)
        if found[:1] and found[0][0] == 0 and _volume(found, columns) > _volume(best, columns):
            best = found
        if len(best) == len(columns):
            break
    if not best:
        raise ValueError("the packing library found no room for a piece on an empty footprint")
    return _Flat(tuple((columns[n], rect) for n, rect in best), height)


def _volume(found: Sequence[tuple[int, _Rect]], columns: Sequence[_Column]) -> float:
    return sum(math.prod(p.size) for n, _ in found for p in columns[n].pieces)


def _columns(
    seed: Piece, rest: Sequence[Piece], footprint: tuple[float, float], rules: PackingRules
) -> list[_Column]:
    """Return the columns that may stand beside a piece, the largest first."""
    high = seed.size[2]
    lighter = _HEAVY * max(piece.mass_kg for piece in rest)
    left = sorted(
        (
            piece
            for piece in rest
            if piece is not seed
            and piece.size[2] <= high + 0.01
            and (not seed.is_hardware or piece.mass_kg <= lighter)
        ),
        key=lambda p: (-p.area, -p.size[2], p.mark, p.parts),
    )
    columns = []
    while left:
        pile = [left.pop(0)]
        level = pile[0].size[2]
        for piece in list(left):
            below = pile[-1]
            if (
                level + rules.interleaf + piece.size[2] <= high + 0.01
                and piece.size[0] <= below.size[0] + 0.01
                and piece.size[1] <= below.size[1] + 0.01
                and piece.area >= _ALIKE * below.area
            ):
                pile.append(piece)
                left.remove(piece)
                level += rules.interleaf + piece.size[2]
        if level >= _HIGH * high or pile[0].area <= _LARGE * footprint[0] * footprint[1]:
            columns.append(_Column(tuple(pile)))
    return columns


def _lay(
    feet: Sequence[tuple[float, float]], footprint: tuple[float, float], way: Any
) -> list[tuple[int, _Rect]]:
    """Return the rectangles that the packing library finds room for, by their numbers.

    Raises:
        ValueError: it lays them on each other or over the edge (a fault in the library).
    """
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=rectpack.PackingBin.BFF,
        pack_algo=way,
        sort_algo=rectpack.SORT_NONE,
        rotation=True,
    )
    for n, foot in enumerate(feet):
        packer.add_rect(*(math.ceil(side * _FINE - 1e-6) for side in foot), rid=n)
    packer.add_bin(*(math.ceil(side * _FINE - 1e-6) + _SLACK for side in footprint), count=1)
    packer.pack()
    found: list[tuple[int, _Rect]] = []
    for sheet in packer:
        for rect in sheet:
            x, y = rect.x / _FINE, rect.y / _FINE
            found.append((rect.rid, (x, y, x + rect.width / _FINE, y + rect.height / _FINE)))
    found.sort()
    for n, (_, a) in enumerate(found):
        beyond = a[2] > footprint[0] + 0.05 or a[3] > footprint[1] + 0.05
        if beyond or any(_cover(a, b) for _, b in found[:n]):
            raise ValueError("the packing library laid rectangles where there is no room")
    return found


def _cover(a: _Rect, b: _Rect) -> bool:
    return a[0] < b[2] - 1e-6 and b[0] < a[2] - 1e-6 and a[1] < b[3] - 1e-6 and b[1] < a[3] - 1e-6


def _settled(flat: _Flat, low: float, footprint: tuple[float, float], rules: PackingRules) -> Layer:
    """Return a layer in its place, with what is filled up in it."""
    floor = low + rules.interleaf
    top = floor + flat.height
    placed: list[Placed] = []
    voids: list[Void] = []
    for column, (x0, y0, x1, y1) in flat.columns:
        z = floor
        turned = abs((x1 - x0) - column.foot[0]) > 0.02
        for n, piece in enumerate(column.pieces):
            a, b, high = piece.size
            wide, deep = (b, a) if turned else (a, b)
            placed.append(Placed(piece, (x0, y0, z, x0 + wide, y0 + deep, z + high), turned))
            foot = rules.interleaf if n else 0.0
            beside = (
                (x0 + wide, y0, z - foot, x1, y1, z + high),
                (x0, y0 + deep, z - foot, x0 + wide, y1, z + high),
            )
            voids += [Void(box) for box in beside if _worth(box, rules)]
            z += high + rules.interleaf
        z -= rules.interleaf
        if top - z > rules.level:
            voids.append(Void((x0, y0, z, x1, y1, top)))
    free = _free([rect for _, rect in flat.columns], footprint)
    voids += [
        Void(box)
        for x0, y0, x1, y1 in free
        for box in ((x0, y0, floor, x1, y1, top),)
        if _worth(box, rules)
    ]
    placed.sort(key=lambda p: (p.box[2], p.box[1], p.box[0]))
    return Layer(low=low, high=top, placed=tuple(placed), voids=tuple(voids))


def _worth(box: Box, rules: PackingRules) -> bool:
    return min(box[3] - box[0], box[4] - box[1]) >= rules.least_void


def _free(taken: Sequence[_Rect], footprint: tuple[float, float]) -> list[_Rect]:
    """Return rectangles that cover what others leave free, none over another.

    The footprint is cut into strips across x at every side of a rectangle; strips side by side
    that are free in the same places are one.
    """
    xs = sorted({0.0, footprint[0], *(x for r in taken for x in (r[0], r[2]))})
    xs = [x for x in xs if x <= footprint[0]]
    open_strips: dict[tuple[float, float], float] = {}
    found: list[_Rect] = []
    for x0, x1 in itertools.pairwise(xs):
        gaps = _gaps([r for r in taken if r[0] < x1 - 1e-6 and r[2] > x0 + 1e-6], footprint[1])
        for gap in [g for g in open_strips if g not in gaps]:
            found.append((open_strips.pop(gap), gap[0], x0, gap[1]))
        for gap in gaps:
            open_strips.setdefault(gap, x0)
    found += [(start, gap[0], footprint[0], gap[1]) for gap, start in open_strips.items()]
    return found


def _gaps(taken: Sequence[_Rect], width: float) -> list[tuple[float, float]]:
    gaps, at = [], 0.0
    for rect in sorted(taken, key=lambda r: r[1]):
        if rect[1] - at > 1e-6:
            gaps.append((at, rect[1]))
        at = max(at, rect[3])
    if width - at > 1e-6:
        gaps.append((at, width))
    return gaps
