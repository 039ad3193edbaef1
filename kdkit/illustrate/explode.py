"""How far the pieces of a step stand apart, and the guide lines between them.

Parts stand back along the way they travel, hardware stands out along its own axis. All
in product millimetres; the drawing's scale comes in as the room that the eye needs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Item
from kdkit.frames import AXES, Frame, Vec3, add, distance, dot, scaled, sub
from kdkit.geometry.assembly import Assembly, Contact
from kdkit.illustrate.build_state import ItemState, StepState
from kdkit.joinery.placed import Joinery
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["Apart", "Guide", "Travel", "item_frame", "move_apart"]

MOVES = frozenset({OperationKind.MATE, OperationKind.LOAD})
INTO: Vec3 = AXES["+y"]
"""Loose parts are laid in from the front when the plan does not say otherwise."""

_ZERO: Vec3 = (0.0, 0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Guide:
    """A line from where a piece stands to where it goes; ends in the picture's places."""

    start: Vec3
    end: Vec3
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Travel:
    """The way some parts travel; ``start`` and ``end`` lie in the gap they cross."""

    parts: tuple[str, ...]
    start: Vec3
    end: Vec3


@dataclass(frozen=True, kw_only=True)
class Apart:
    """A step pulled apart.

    ``parts``: shift of each part. ``items``: shift of each state's piece, its host's
    shift included, in the order of ``StepState.items``.
    """

    parts: Mapping[str, Vec3]
    items: tuple[Vec3, ...]
    guides: tuple[Guide, ...]
    travels: tuple[Travel, ...]


def move_apart(
    state: StepState,
    assembly: Assembly,
    joinery: Joinery,
    items: Mapping[str, Item],
    *,
    gap: float,
    item_gap: float,
) -> Apart:
    """Return where everything stands in a step's picture.

    Args:
        gap: white between mating surfaces beyond what sticks out of them.
        item_gap: white between a piece of hardware and the mouth of its bore.
    """
    outs = [_item_out(one, items, item_gap) for one in state.items]
    shifts: dict[str, Vec3] = dict.fromkeys(state.parts, _ZERO)
    travels: list[Travel] = []
    guides: list[Guide] = []
    for operation in state.operations:
        moving = [p for p in operation.parts if p in shifts]
        if operation.kind not in MOVES or not moving:
            continue
        way = operation.direction or INTO
        onto = [p for p in operation.onto if p in shifts and p not in moving]
        room = gap + _sticking_out(state, outs, items, set(moving), way)
        behind = max(onto, key=lambda p: -dot(shifts[p], way), default=None)
        carried = shifts[behind] if behind is not None else _ZERO
        for part in moving:
            shifts[part] = add(carried, scaled(way, -room))
        touching = _contacts(assembly, set(moving), set(onto or shifts) - set(moving))
        travels.append(_travel(operation, moving, onto, touching, shifts, way, room, assembly))
        guides += _mating_guides(joinery, moving, touching, shifts, state)
    placed = []
    for one, out in zip(state.items, outs, strict=True):
        host = shifts[one.host]
        k = one.item.frame.k
        placed.append(add(host, scaled(k, out)))
        if out > 0:
            mouth = add(one.item.frame.origin, host)
            tip = add(mouth, scaled(k, out + _low(items[one.item.item])))
            guides.append(Guide(start=tip, end=mouth, parts=(one.host,)))
    return Apart(
        parts=shifts, items=tuple(placed), guides=tuple(guides), travels=tuple(travels)
    )


def item_frame(one: ItemState, shift: Vec3) -> Frame:
    """Return the item frame in the picture's places."""
    frame = one.item.frame
    return Frame(add(frame.origin, shift), frame.i, frame.j, frame.k)


def _low(item: Item) -> float:
    return min(p.z0 for p in item.pieces)


def _high(item: Item) -> float:
    return max(p.z1 for p in item.pieces)


def _item_out(one: ItemState, items: Mapping[str, Item], item_gap: float) -> float:
    """Return how far along its axis a piece stands out of its place."""
    if not one.new:
        return 0.0
    return max(0.0, -_low(items[one.item.item])) + item_gap


def _sticking_out(
    state: StepState,
    outs: list[float],
    items: Mapping[str, Item],
    moving: set[str],
    way: Vec3,
) -> float:
    """Return how much room hardware takes up between the moving parts and the rest."""
    need = 0.0
    for one, out in zip(state.items, outs, strict=True):
        members = {one.fastener.butting, one.fastener.receiving}
        if one.item.carrier is None or not (members & moving) or not (members - moving):
            continue
        if abs(dot(one.item.frame.k, way)) > 0.5:
            need = max(need, out + _high(items[one.item.item]))
    return need


def _contacts(assembly: Assembly, moving: set[str], others: set[str]) -> list[Contact]:
    return [
        c
        for c in assembly.contacts
        if (c.butting in moving and c.receiving in others)
        or (c.receiving in moving and c.butting in others)
    ]


def _middle(contact: Contact) -> Vec3:
    n = len(contact.polygon)
    x = sum(p[0] for p in contact.polygon) / n
    y = sum(p[1] for p in contact.polygon) / n
    return contact.frame.point_to_outer((x, y, 0.0))


def _travel(
    operation: Operation,
    moving: list[str],
    onto: list[str],
    touching: list[Contact],
    shifts: Mapping[str, Vec3],
    way: Vec3,
    room: float,
    assembly: Assembly,
) -> Travel:
    """Return the arrow's place: in the gap over the middle of the touching surfaces."""
    square = [c for c in touching if abs(dot(c.frame.k, way)) > 0.7] or touching
    points = [_middle(c) for c in square] or [_centre(assembly, p) for p in moving]
    middle = scaled(
        (sum(p[0] for p in points), sum(p[1] for p in points), sum(p[2] for p in points)),
        1.0 / len(points),
    )
    there = shifts[onto[0]] if onto else _ZERO
    end = add(middle, there)
    return Travel(parts=tuple(moving), start=sub(end, scaled(way, room)), end=end)


def _centre(assembly: Assembly, name: str) -> Vec3:
    part = assembly.part(name)
    xs = [p[0] for p in part.outline]
    ys = [p[1] for p in part.outline]
    return part.frame.point_to_outer(
        ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, -part.thickness / 2)
    )


def _mating_guides(
    joinery: Joinery,
    moving: list[str],
    touching: list[Contact],
    shifts: Mapping[str, Vec3],
    state: StepState,
) -> list[Guide]:
    """Return guide lines from bore to bore, or between corners where nothing is bored."""
    guides = []
    fastened: set[frozenset[str]] = set()
    carried = {f.id for f in joinery.fasteners if any(i.carrier is not None for i in f.items)}
    for fastener in joinery.fasteners:
        a, b = fastener.butting, fastener.receiving
        if a is None or a not in shifts or b not in shifts or (a in moving) == (b in moving):
            continue
        if fastener.id not in carried:
            continue
        fastened.add(frozenset((a, b)))
        origin = fastener.frame.origin
        guides.append(
            Guide(start=add(origin, shifts[a]), end=add(origin, shifts[b]), parts=(a, b))
        )
    for contact in touching:
        a, b = contact.butting, contact.receiving
        if frozenset((a, b)) in fastened or distance(shifts[a], shifts[b]) < 1.0:
            continue
        for corner in _far_corners(contact):
            point = contact.frame.point_to_outer((corner[0], corner[1], 0.0))
            guides.append(
                Guide(start=add(point, shifts[a]), end=add(point, shifts[b]), parts=(a, b))
            )
    return guides


def _far_corners(contact: Contact) -> list[tuple[float, float]]:
    """Return a corner at the start and one at the end of the run."""
    ordered = sorted(contact.polygon)
    return [ordered[0], ordered[-1]]
