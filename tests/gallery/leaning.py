"""Products that come apart at a slant, or do not, whichever way they are pulled."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from kdkit.frames import Frame
from kdkit.model.resolved import Part
from tests.boxes import Made, board, make
from tests.gallery.products import in_row

__all__ = ["LEANING", "closed_slot", "peg_in_slot"]

Joints = dict[tuple[str, str], str | tuple[str, ...]]

PLATES: Joints = {("block", "front"): "dowels", ("block", "rear"): "dowels"}
LIDS: Joints = {("block", "lid"): "dowels", ("block", "side"): "dowels"}


def _slotted(angle: float, mouth: float = 30.0) -> list[Part]:
    """A block 300 × 40 × 300 with a slot from (100, 100) outwards, and a peg in it.

    Seen from the front the slot rises at the angle; plates close it before and behind. It
    is 30 wide at its end and widens, or narrows, to ``mouth`` 150 further out; the peg
    fills it so far.
    """
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    half, far = 15.0, 600.0
    wide = half + (mouth / 2 - half) * far / 150.0
    if mouth < 30.0:
        far, wide = 150.0, mouth / 2

    def at(along: float, aside: float) -> tuple[float, float]:
        return 100 + along * c - aside * s, 100 + along * s + aside * c

    way = Polygon([at(0, half), at(0, -half), at(far, -wide), at(far, wide)])
    if mouth < 30.0:
        way = way.union(Polygon([at(150, wide), at(150, -wide), at(600, -wide), at(600, wide)]))
    rest = shapely.box(0, 0, 300, 300).difference(way)
    plain = board("block", (0, 0, 0), (300, 40, 300))
    block = replace(plain, outline=tuple((z, x) for x, z in rest.exterior.coords[:-1]))
    frame = Frame((100.0, 0.0, 100.0), (c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c))
    peg = board("peg", (0, 0, -half), (150, 40, half), at=frame)
    if mouth != 30.0:
        placed = Frame(frame.point_to_outer((0.0, 40.0, 0.0)), frame.k, frame.i, frame.j)
        ring = ((-half, 0.0), (half, 0.0), (mouth / 2, 150.0), (-mouth / 2, 150.0))
        peg = replace(peg, frame=placed, outline=ring, thickness=40.0)
    front = board("front", (0, -18, 0), (300, 0, 300))
    rear = board("rear", (0, 40, 0), (300, 58, 300))
    return [block, front, rear, peg]


def _lids() -> list[Part]:
    """Boards over the two sides at which the slot may end."""
    return [
        board("lid", (0, -18, 300), (300, 58, 318)),
        board("side", (300, -18, 0), (318, 58, 318)),
    ]


def _as_one(parts: Sequence[Part], joints: Joints) -> Made:
    """All that is joined comes as one."""
    return make(parts, joints, workshop=list(joints))


def peg_in_slot(angle: float, mouth: float = 30.0) -> Made:
    """The block and its plates come as one, the peg by itself."""
    return _as_one(_slotted(angle, mouth), PLATES)


def closed_slot(angle: float) -> Made:
    """The same with the slot's mouth shut."""
    return _as_one([*_slotted(angle), *_lids()], {**PLATES, **LIDS})


def _peg_in_leaning_box(lidded: bool = False) -> Made:
    """A square peg in a box without a lid that leans two ways at once."""
    x, y = math.radians(30.0), math.radians(20.0)
    i = (math.cos(y), 0.0, -math.sin(y))
    j = (math.sin(x) * math.sin(y), math.cos(x), math.sin(x) * math.cos(y))
    k = (math.cos(x) * math.sin(y), -math.sin(x), math.cos(x) * math.cos(y))
    at = Frame((0.0, 0.0, 0.0), i, j, k)
    parts = [
        board("peg", (-30, -30, 0), (30, 30, 200), at=at),
        board("floor", (-48, -48, -18), (48, 48, 0), at=at),
        board("right", (30, -30, 0), (48, 48, 180), at=at),
        board("behind", (-48, 30, 0), (30, 48, 180), at=at),
        board("left", (-48, -48, 0), (-30, 30, 180), at=at),
        board("before", (-30, -48, 0), (48, -30, 180), at=at),
    ]
    walls = ("right", "behind", "left", "before")
    joints: Joints = {(wall, "floor"): "dowels" for wall in walls}
    if lidded:
        parts[0] = board("peg", (-30, -30, 0), (30, 30, 180), at=at)
        parts.append(board("cover", (-48, -48, 180), (48, 48, 198), at=at))
        joints |= {("right", "cover"): "dowels"}
    return _as_one(parts, joints)


LEANING: Mapping[str, Callable[[], Made]] = {
    "peg in a slot at 45°": lambda: peg_in_slot(45),
    "peg in a slot at 37.3°": lambda: peg_in_slot(37.3),
    "peg in a slot at 45°, shut": lambda: closed_slot(45),
    "wedge in a slot that widens": lambda: peg_in_slot(30, mouth=50.0),
    "wedge in a slot that narrows": lambda: peg_in_slot(30, mouth=20.0),
    "slot filled last": lambda: in_row(make(_slotted(45), PLATES), "block", "front", "rear", "peg"),
    "shut slot filled last": lambda: in_row(
        make([*_slotted(45), *_lids()], {**PLATES, **LIDS}),
        *("block", "front", "rear", "lid", "side", "peg"),
    ),
    "peg in a box that leans two ways": _peg_in_leaning_box,
    "peg in a box that leans two ways, shut": lambda: _peg_in_leaning_box(lidded=True),
}
