"""Large and nasty products for the planner's measurements."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace

from kdkit.frames import Vec2
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedJoint
from tests.boxes import Made, board, make, pinwheel
from tests.cabinets import built_in, joint, resolved, use

__all__ = ["case_of_bays", "crate", "heap", "scattered", "tower", "wall_of_cabinets"]

_T = 18.0


def placed(parts: Sequence[Part], joints: Sequence[ResolvedJoint]) -> Made:
    """A product with fittings of the catalogue, tools and their room included."""
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return product, assembly, joinery, built_in()


def case_of_bays(panels: int, cams: int = 4) -> Made:
    """A case of about a square number of bays: so many panels, cams on every end.

    The bays are 400 wide and the shelves at least 120 apart, so that the cams can be
    reached; shelves of neighbouring bays lie apart, so that their bolts do not meet.
    """
    bay, deep = 400.0, 400.0
    bays = max(1, round(math.sqrt(panels / 4)))
    shelves = panels - 2 - (bays + 1)
    rows = -(-shelves // bays)
    high = 2 * _T + (rows + 1) * 240.0
    wide = bays * bay + (bays + 1) * _T
    parts = [
        board("bottom", (0, 0, 0), (wide, deep, _T)),
        board("top", (0, 0, high - _T), (wide, deep, high)),
    ]
    ends = 50.0
    cam = use("cam-and-bolt", count=cams, ends=ends)
    joints = []
    for n in range(bays + 1):
        x = n * (bay + _T)
        name = f"upright_{n:02d}"
        parts.append(board(name, (x, 0, _T), (x + _T, deep, high - _T)))
        joints += [joint(name, "bottom", cam), joint(name, "top", cam)]
    for n in range(shelves):
        column, row = n % bays, n // bays
        x = column * (bay + _T) + _T
        z = _T + 240.0 * (row + 1) + 60.0 * (column % 2)
        name = f"shelf_{n:03d}"
        parts.append(board(name, (x, 0, z), (x + bay, deep, z + _T)))
        joints += [joint(name, f"upright_{side:02d}", cam) for side in (column, column + 1)]
    return placed(parts, joints)


def wall_of_cabinets(cabinets: int) -> Made:
    """Cabinets of six panels side by side, each joined to the next: cams, dowels, screws."""
    parts: list[Part] = []
    joints: list[ResolvedJoint] = []
    corner = use("cam-and-bolt"), use("dowel-8x35")
    for n in range(cabinets):
        x = n * 600.0
        name = f"c{n:02d}_{{}}".format
        parts += [
            board(name("left"), (x, 0, 0), (x + _T, 400, 720)),
            board(name("right"), (x + 600 - _T, 0, 0), (x + 600, 400, 720)),
            board(name("bottom"), (x + _T, 0, 0), (x + 600 - _T, 400, _T)),
            board(name("top"), (x + _T, 0, 720 - _T), (x + 600 - _T, 400, 720)),
            board(name("shelf"), (x + _T, 0, 350), (x + 600 - _T, 390, 350 + _T)),
            board(name("back"), (x, 400, 0), (x + 600, 403, 720)),
        ]
        for lying in ("bottom", "top", "shelf"):
            joints += [joint(name(lying), name(side), *corner) for side in ("left", "right")]
        for other in ("left", "right", "bottom", "top"):
            joints.append(joint(name("back"), name(other), use("back-screwed")))
    return placed(parts, joints)


def scattered(boards: int) -> Made:
    """Boards of all sizes, joined to nothing, each clear of the others."""
    chance = random.Random(1)
    parts = []
    for n in range(boards):
        size = [chance.uniform(100, 600), chance.uniform(100, 600), _T]
        chance.shuffle(size)
        x, y, z = n % 6 * 700.0, n // 6 % 6 * 700.0, n // 36 * 700.0
        parts.append(board(f"board_{n:03d}", (x, y, z), (x + size[0], y + size[1], z + size[2])))
    return make(parts, {})


def heap(boards: int) -> Made:
    """Boards one on the other, no two alike, joined to nothing."""
    return make(
        [
            board(f"board_{n:03d}", (0, 0, n * _T), (300 + n, 200 + 2 * n, (n + 1) * _T))
            for n in range(boards)
        ],
        {},
    )


def tower(pinwheels: int) -> Made:
    """Pin-wheels of four boards, one on the other: nothing leaves but in halves."""
    parts: list[Part] = []
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for n in range(pinwheels):
        some, held = pinwheel(f"w{n:02d}_", (0, 0, 200.0 * n))
        parts += some
        joints.update(held)
    return make(parts, joints)


def crate(dividers: int) -> Made:
    """So many dividers each way, halved over each other: every one has many notches."""
    pitch, high = 60.0, 120.0
    size = pitch * (dividers + 1)
    parts = []
    for n in range(dividers):
        at = pitch * (n + 1)
        along = board(f"along_{n:02d}", (0, at - 5, 0), (size, at + 5, high))
        across = board(f"across_{n:02d}", (at - 5, 0, 0), (at + 5, size, high))
        parts += [
            _notched(along, size, high, dividers, pitch, True),
            _notched(across, size, high, dividers, pitch, False),
        ]
    return make(parts, {})


def _notched(
    part: Part, run: float, high: float, notches: int, pitch: float, from_above: bool
) -> Part:
    """A standing board with notches down to (or up to) the middle of its height."""
    along_y = abs(part.frame.i[2]) > 0.5  # its width runs across the product
    up = part.frame.i[2] if along_y else part.frame.j[2]
    notch_up = from_above == (up > 0)
    ring: list[Vec2]
    if notch_up:
        ring = [(0.0, 0.0), (run, 0.0), (run, high)]
        for n in reversed(range(notches)):
            low, top = pitch * (n + 1) - 5.2, pitch * (n + 1) + 5.2
            ring += [(top, high), (top, high / 2 - 0.2), (low, high / 2 - 0.2), (low, high)]
        ring.append((0.0, high))
    else:
        ring = [(0.0, 0.0)]
        for n in range(notches):
            low, top = pitch * (n + 1) - 5.2, pitch * (n + 1) + 5.2
            ring += [(low, 0.0), (low, high / 2 + 0.2), (top, high / 2 + 0.2), (top, 0.0)]
        ring += [(run, 0.0), (run, high), (0.0, high)]
    if along_y:
        ring = [(y, x) for x, y in reversed(ring)]
    return replace(
        part,
        outline=tuple(ring),
        bands=(0.0,) * len(ring),
        edge_sides=("",) * len(ring),
    )
