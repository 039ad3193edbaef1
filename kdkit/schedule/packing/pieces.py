"""What is packed: parts one by one, parts packed as one, and the hardware in its box.

Every face counts as one that shows: an interleaf lies under each piece, and a piece out of
which hardware stands is wrapped, so that bare hardware touches no other part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.entries import Catalogue, Item
from kdkit.frames import Frame, Vec2
from kdkit.geometry.convex import round_polygon
from kdkit.geometry.surfaces import corners_of
from kdkit.joinery.packed import packed_groups
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.mass import items_mass, weigh_parts
from kdkit.plan.operations.lying import item_points
from kdkit.plan.plan import Plan
from kdkit.schedule.hardware import placed_items
from kdkit.schedule.packing.rules import PackingRules
from kdkit.schedule.schedules import BoughtLine, CutLine, Schedules
from kdkit.schedule.uses import steps_of_parts

__all__ = ["HARDWARE", "Piece", "list_pieces"]

HARDWARE = ""
"""The mark of the box in which the hardware lies."""

_PROUD = 3.0  # mm; hardware that stands out less presses into the interleaf: common practice
_LEAST_BOX = (160.0, 60.0, 25.0)  # mm, of the hardware's box: common practice, no source
_SQUARE = 0.7  # width over length up to which that box stays flat: common practice, no source
_MOST_MARKS = 3

Points = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One thing that lies in a carton, flat on its broad side.

    Args:
        mark: its letter in the manual; of parts packed as one, theirs; "" for the hardware.
        parts: what it is; () for the hardware.
        size: length, width, height as it lies, mm; of anything that is no box, the box round
            it, hardware that stands out of it with it.
        mass_kg: with the hardware that is in it before packing.
        first: the step that first needs it.
        wrapped: hardware stands out of it.
        outline, openings: of a single panel, in length and width from a corner of its box.
    """

    mark: str
    title: str
    parts: tuple[str, ...]
    size: tuple[float, float, float]
    mass_kg: float
    first: int
    wrapped: bool = False
    outline: tuple[Vec2, ...] = ()
    openings: tuple[tuple[Vec2, ...], ...] = ()

    @property
    def is_hardware(self) -> bool:
        """True for the box of loose hardware."""
        return self.mark == HARDWARE

    @property
    def area(self) -> float:
        """Length times width, mm²."""
        return self.size[0] * self.size[1]


def list_pieces(
    resolved: Resolved,
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan,
    schedules: Schedules,
    rules: PackingRules,
) -> tuple[Piece, ...]:
    """Return everything that is packed, in the order of the parts, the hardware last.

    Their masses together are the product's, less hardware that is not supplied, with spares.
    """
    masses = weigh_parts(resolved.parts, joinery, catalogue)
    groups = packed_groups(joinery.joints)
    grouped = {name for group in groups for name in group}
    bodies = [(p.name,) for p in resolved.parts if p.name not in grouped] + list(groups)
    order = {part.name: n for n, part in enumerate(resolved.parts)}
    bodies.sort(key=lambda body: min(order[name] for name in body))
    fitted: dict[str, list[tuple[str, Points]]] = {}
    loose: list[str] = []
    for fastener, placed, is_in in placed_items(joinery, catalogue):
        if is_in:
            points = item_points(placed.frame, catalogue.items[placed.item].pieces)
            fitted.setdefault(placed.carrier or fastener.receiving, []).append(
                (placed.item, points)
            )
        elif catalogue.items[placed.item].supplied:
            loose.append(placed.item)
    steps = {name: used[0] for name, used in steps_of_parts(plan).items()}
    last = len(plan.steps) + 1
    units = {tuple(sorted(unit.parts)): unit.title or unit.name for unit in resolved.units}
    pieces = []
    for body in bodies:
        parts = [resolved.part(name) for name in body]
        inside = [one for name in body for one in fitted.get(name, ())]
        mass = sum(masses[name] for name in body) + items_mass(
            (item for item, _ in inside), catalogue
        )
        letters = sorted({schedules.letter_of(name) for name in body}, key=lambda x: (len(x), x))
        pieces.append(
            _piece(
                parts,
                [points for _, points in inside if len(points)],
                mark=_marks(letters),
                title=units.get(tuple(sorted(body)), ""),
                mass=mass,
                first=min(steps.get(name, last) for name in body),
                schedules=schedules,
            )
        )
    loose += [one.item for bag in schedules.bags for one in bag.items for _ in range(one.spares)]
    if loose:
        pieces.append(_hardware(loose, catalogue, rules))
    return tuple(pieces)


def _marks(letters: Sequence[str]) -> str:
    if len(letters) > _MOST_MARKS:
        return f"{letters[0]}…{letters[-1]}"
    return "+".join(letters)


def _piece(
    parts: Sequence[Part],
    hardware: Sequence[Points],
    *,
    mark: str,
    title: str,
    mass: float,
    first: int,
    schedules: Schedules,
) -> Piece:
    """Return parts that are packed as one, lying on their broadest side.

    The box is measured along the largest part, so that what leans in the product lies flat.
    """
    main = max(parts, key=lambda p: (np.ptp(corners_of(p), axis=0).max(), p.name))
    bare = _measured(main.frame, [corners_of(p) for p in parts])
    full = _measured(main.frame, [corners_of(p) for p in parts] + list(hardware))
    proud = max(*(bare[0] - full[0]), *(full[1] - bare[1]))
    sizes = [float(s) for s in full[1] - full[0]]
    # Height, then length; of equal sizes the panel's own axes: thickness, then length.
    up = min(range(3), key=lambda n: (round(sizes[n], 3), -n))
    along, across = sorted((n for n in range(3) if n != up), key=lambda n: (-round(sizes[n], 3), n))
    outline: tuple[Vec2, ...] = ()
    openings: tuple[tuple[Vec2, ...], ...] = ()
    if len(parts) == 1 and up == 2:

        def flat(ring: Iterable[Vec2]) -> tuple[Vec2, ...]:
            return tuple(
                (p[along] - float(full[0][along]), p[across] - float(full[0][across])) for p in ring
            )

        outline = flat(main.outline)
        rounds = [round_polygon(r) for r in main.round_cutouts]
        openings = tuple(flat(ring) for ring in (*main.cutouts, *rounds))
    return Piece(
        mark=mark,
        title=title or _titles(parts, schedules),
        parts=tuple(p.name for p in parts),
        size=(sizes[along], sizes[across], sizes[up]),
        mass_kg=mass,
        first=first,
        wrapped=float(proud) > _PROUD,
        outline=outline,
        openings=openings,
    )


def _titles(parts: Sequence[Part], schedules: Schedules) -> str:
    lines: tuple[CutLine | BoughtLine, ...] = (*schedules.cut, *schedules.bought)
    titles = {line.letter: line.title for line in lines}
    return ", ".join(dict.fromkeys(titles[schedules.letter_of(p.name)] for p in parts))


def _measured(frame: Frame, points: Sequence[Points]) -> tuple[Points, Points]:
    """Return the least and the greatest of some points along a frame's axes."""
    axes = np.array([frame.i, frame.j, frame.k])
    inner = (np.concatenate(points) - np.array(frame.origin)) @ axes.T
    return inner.min(axis=0), inner.max(axis=0)


def _hardware(items: Sequence[str], catalogue: Catalogue, rules: PackingRules) -> Piece:
    """Return the box for loose hardware: as flat as its thickest item and its width let it be.

    Its room is that of the boxes round all items over the share of a heap that they fill.
    """
    boxes = {item: _item_box(catalogue.items[item]) for item in sorted(set(items))}
    height = max(_LEAST_BOX[2], *(box[2] for box in boxes.values()))
    room = sum(math.prod(boxes[item]) for item in items) / rules.loose
    length = max(_LEAST_BOX[0], *(box[0] for box in boxes.values()))
    width = max(_LEAST_BOX[1], min(room / height / length, _SQUARE * length))
    height = max(height, room / length / width)
    return Piece(
        mark=HARDWARE,
        title="",
        parts=(),
        size=(math.ceil(length), math.ceil(width), math.ceil(height)),
        mass_kg=items_mass(items, catalogue),
        first=0,
    )


def _item_box(item: Item) -> tuple[float, float, float]:
    """Return the box round an item, longest size first."""
    low, high = [math.inf] * 3, [-math.inf] * 3
    for piece in item.pieces:
        x = piece.d0 if piece.kind != "cone" else max(piece.d0, piece.d1 or 0.0)
        y = piece.d1 if piece.kind in ("box", "lens") and piece.d1 is not None else x
        u, v = piece.at
        ends = ((u - x / 2, u + x / 2), (v - y / 2, v + y / 2), (piece.z0, piece.z1))
        for n, (a, b) in enumerate(ends):
            low[n], high[n] = min(low[n], a), max(high[n], b)
    a, b, c = sorted((h - g for g, h in zip(low, high, strict=True)), reverse=True)
    return a, b, c
