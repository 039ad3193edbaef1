"""How far the pieces of a step stand apart, and the guide lines between them.

Parts stand back along the way they travel, hardware stands out along its own axis. All
in product millimetres; the drawing's scale comes in as the room that the eye needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kdkit.catalogue.entries import Item
from kdkit.frames import AXES, Frame, Vec3, add, distance, dot, scaled, sub, unit
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.geometry.surfaces import part_middle, reach
from kdkit.illustrate.staging.build_state import ItemState, StepState
from kdkit.illustrate.staging.legs import Legs, legs_of
from kdkit.joinery.placed import Bore, Fastener, Joinery
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["Apart", "Guide", "Leg", "Travel", "item_frame", "mouth_height", "move_apart"]

MOVES = frozenset({OperationKind.MATE, OperationKind.LOAD, OperationKind.REMOVE})
INTO: Vec3 = AXES["+y"]
"""Loose parts are laid in from the front when the plan does not say otherwise."""

_ZERO: Vec3 = (0.0, 0.0, 0.0)
_ALONG = 0.1
"""Cosine to the way of travel below which a contact's normal stands across it."""


@dataclass(frozen=True, kw_only=True)
class Guide:
    """A line from where a piece stands to where it goes; ends in the picture's places."""

    start: Vec3
    end: Vec3
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Travel:
    """The way some parts travel.

    ``places``: where an arrow may lie, from and to, in the gap they cross; the best first.
    """

    parts: tuple[str, ...]
    way: Vec3
    places: tuple[tuple[Vec3, Vec3], ...]

    def backwards(self) -> Travel:
        """The way out of where it led in."""
        return Travel(
            parts=self.parts,
            way=scaled(self.way, -1.0),
            places=tuple((end, start) for start, end in self.places),
        )


@dataclass(frozen=True)
class Leg:
    """A straight stretch of the way in: ``turn`` is the number of the operation that makes it,
    counted in ``StepState.operations``; ``by`` how far it goes."""

    turn: int
    by: Vec3


@dataclass(frozen=True, kw_only=True)
class Apart:
    """A step pulled apart.

    ``parts``: shift of each part. ``items``: shift of each state's piece, its host's
    shift included, in the order of ``StepState.items``. ``mouths``: height of the
    surface over the origin of each piece's frame (a sunk head lies below it). ``legs``: of
    each part that moves, the stretches that undo its shift, carried along with what it goes
    onto first.
    """

    parts: Mapping[str, Vec3]
    items: tuple[Vec3, ...]
    mouths: tuple[float, ...]
    guides: tuple[Guide, ...]
    travels: tuple[Travel, ...]
    legs: Mapping[str, tuple[Leg, ...]]


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
        items: the catalogue's.
        gap: white between mating surfaces beyond what sticks out of them.
        item_gap: white between a piece of hardware and the mouth of its bore.
    """
    bores: dict[str, list[Bore]] = {}
    for bore in joinery.bores:
        if bore.fastener is not None:
            bores.setdefault(bore.fastener, []).append(bore)
    mouths = [mouth_height(one, assembly, bores.get(one.fastener.id, ())) for one in state.items]
    outs = _items_out(state, items, mouths, item_gap)
    shifts: dict[str, Vec3] = dict.fromkeys(state.parts, _ZERO)
    travels: list[Travel] = []
    guides: list[Guide] = []
    ways: dict[str, tuple[Leg, ...]] = {}
    for turn, operation in enumerate(state.operations):
        moving = [p for p in operation.parts if p in shifts]
        if operation.kind not in MOVES or not moving:
            continue
        leaves = operation.kind is OperationKind.REMOVE
        way = operation.direction or INTO
        if leaves:
            way = scaled(way, -1.0)
        onto = [p for p in operation.onto if p in shifts and p not in moving]
        others = set(onto or shifts) - set(moving)
        touching = _contacts(assembly, set(moving), others)
        legs = legs_of(operation)
        if legs is not None:
            way = legs.first
        room = gap + _sticking_out(state, outs, items, set(moving), way)
        room += _sliding(assembly, moving, others, touching if legs is None else (), way)
        behind = max(onto, key=lambda p: -dot(shifts[p], way), default=None)
        carried = shifts[behind] if behind is not None else _ZERO
        own = [scaled(way, room), *(legs.further if legs is not None else ())]
        brought = ways.get(behind, ()) if behind is not None else ()
        for part in moving:
            ways[part] = (*brought, *(Leg(turn, by) for by in own))
            shifts[part] = add(carried, scaled(way, -room))
            if legs is not None:
                shifts[part] = sub(shifts[part], legs.rest)
        if legs is not None:
            detour = list(_detour(legs, moving, touching, carried, room, assembly))
            travels += [t.backwards() for t in reversed(detour)] if leaves else detour
            guides += _detour_guides(legs, moving, touching, carried, room)
            continue
        travel = _travel(operation, moving, onto, touching, shifts, way, room, assembly)
        travels.append(travel.backwards() if leaves else travel)
        guides += _mating_guides(joinery, moving, touching, shifts, state)
    placed = []
    for one, out, mouth in zip(state.items, outs, mouths, strict=True):
        host = shifts[one.host]
        k = one.item.frame.k
        placed.append(add(host, scaled(k, out)))
        if out > 0:
            start = add(one.item.frame.origin, host)
            guides.append(
                Guide(
                    start=add(start, scaled(k, out + _low(items[one.item.item]))),
                    end=add(start, scaled(k, mouth)),
                    parts=(one.host,),
                )
            )
    return Apart(
        parts=shifts,
        items=tuple(placed),
        mouths=tuple(mouths),
        guides=tuple(guides),
        travels=tuple(travels),
        legs=ways,
    )


def item_frame(one: ItemState, shift: Vec3) -> Frame:
    """Return the item frame in the picture's places."""
    frame = one.item.frame
    return Frame(add(frame.origin, shift), frame.i, frame.j, frame.k)


def _low(item: Item) -> float:
    return min(p.z0 for p in item.pieces)


def _high(item: Item) -> float:
    return max(p.z1 for p in item.pieces)


def mouth_height(one: ItemState, assembly: Assembly, bores: Sequence[Bore]) -> float:
    """Return how far the mouth of a piece's bore lies above the origin of its frame.

    Args:
        bores: those of the piece's fastener.
    """
    frame = one.item.frame
    heights = []
    for bore in bores:
        if bore.part not in (one.host, one.fastener.receiving):
            continue
        part = assembly.part(bore.part).frame
        if dot(part.vector_to_outer(bore.into), frame.k) > -0.99:
            continue
        at = frame.point_to_inner(part.point_to_outer(bore.mouth))
        if abs(at[0]) + abs(at[1]) < 0.1:
            heights.append(at[2])
    return max((h for h in heights if h > -1.0), default=0.0)


def _items_out(
    state: StepState, items: Mapping[str, Item], mouths: Sequence[float], item_gap: float
) -> list[float]:
    """Return how far along its axis each piece stands out of its place.

    New pieces of one fastener that go the same way stand behind each other in the order
    in which the fitting's actions use them.
    """
    outs = [0.0] * len(state.items)
    rows: dict[tuple[str, tuple[float, ...]], list[int]] = {}
    for n, one in enumerate(state.items):
        if one.new:
            k = tuple(round(c, 2) for c in one.item.frame.k)
            rows.setdefault((one.fastener.id, k), []).append(n)
    for members in rows.values():
        reached = -math.inf
        for turn in sorted({state.items[n].turn for n in members}):
            tops = [reached]
            for n in (m for m in members if state.items[m].turn == turn):
                one = state.items[n]
                item = items[one.item.item]
                base = dot(one.item.frame.origin, one.item.frame.k)
                out = mouths[n] - _low(item) + item_gap
                outs[n] = max(out, reached + 0.5 * item_gap - base - _low(item))
                tops.append(base + outs[n] + _high(item))
            reached = max(tops)
    return outs


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


def _sliding(
    assembly: Assembly,
    moving: Sequence[str],
    others: set[str],
    touching: Sequence[Contact],
    way: Vec3,
) -> float:
    """Return how much farther parts stand out that slide in between others.

    Laid-in shelves and backs in grooves run along the others; most of that run is added,
    but no more than a good third of the whole, to keep the picture compact.
    """
    along_groove = any(
        c.kind is ContactKind.SUNK and abs(dot(c.frame.k, way)) < 0.3 for c in touching
    )
    butts = any(abs(dot(c.frame.k, way)) > 0.7 for c in touching)
    if not others or (butts and not along_groove):
        return 0.0
    low, high = _reach(assembly, moving, way)
    other_low, other_high = _reach(assembly, sorted(others), way)
    run = min(high, other_high) - max(low, other_low)
    return max(0.0, min(0.8 * run, 0.4 * (other_high - other_low)))


def _reach(assembly: Assembly, parts: Sequence[str], way: Vec3) -> tuple[float, float]:
    """Return the least and greatest measure of parts along a direction."""
    return reach([assembly.part(name) for name in parts], way)


def _contacts(assembly: Assembly, moving: set[str], others: set[str]) -> list[Contact]:
    return [
        c
        for c in assembly.contacts
        if (c.butting in moving and c.receiving in others)
        or (c.receiving in moving and c.butting in others)
    ]


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
    """Return where the arrow may lie: in the gap over the touching surfaces."""
    square = [c for c in touching if abs(dot(c.frame.k, way)) > 0.7] or touching
    square = sorted(square, key=lambda c: -round(c.area, 3))[:4]
    points = [p for share in (0.5, 0.3, 0.7, 0.1, 0.9) for c in square for p in [_at(c, share)]]
    points += [_at(c, share) for share in (-0.12, 1.12) for c in square]
    if not points:
        points = [part_middle(assembly.part(p)) for p in moving]
    there = shifts[onto[0]] if onto else _ZERO
    ends = [add(p, there) for p in points]
    return Travel(
        parts=tuple(moving),
        way=way,
        places=tuple((sub(end, scaled(way, room)), end) for end in ends),
    )


def _detour(
    legs: Legs,
    moving: Sequence[str],
    touching: Sequence[Contact],
    there: Vec3,
    room: float,
    assembly: Assembly,
) -> Iterator[Travel]:
    """Yield where the arrow of each leg may lie: over the surfaces that come to touch."""
    ends = [_at(c, share) for share in (0.5, 0.3, 0.7, 0.1, 0.9) for c in touching[:4]]
    ends += [part_middle(assembly.part(name)) for name in moving]
    for stretch in legs.stretches([add(end, there) for end in ends], room):
        places = tuple(zip(stretch[::2], stretch[1::2], strict=True))
        start, end = places[0]
        if distance(start, end) > 1.0:
            yield Travel(parts=tuple(moving), way=unit(sub(end, start)), places=places)


def _detour_guides(
    legs: Legs, moving: Sequence[str], touching: Sequence[Contact], there: Vec3, room: float
) -> Iterator[Guide]:
    """Yield guide lines along the straight legs, from the corners of what comes to touch."""
    corners = [c.frame.point_to_outer((x, y, 0.0)) for c in touching for x, y in _far_corners(c)]
    for corner in dict.fromkeys(corners):
        path = legs.path(add(corner, there), room)
        straight = path if legs.tilt is None else path[:-1]
        for start, end in pairwise(straight):
            yield Guide(start=start, end=end, parts=tuple(moving))


def _at(contact: Contact, share: float) -> Vec3:
    """Return a point on the middle line of a contact, at a share of its run."""
    xs = [p[0] for p in contact.polygon]
    ys = [p[1] for p in contact.polygon]
    x = min(xs) + share * (max(xs) - min(xs))
    return contact.frame.point_to_outer((x, (min(ys) + max(ys)) / 2, 0.0))


def _mating_guides(
    joinery: Joinery,
    moving: list[str],
    touching: list[Contact],
    shifts: Mapping[str, Vec3],
    state: StepState,
) -> list[Guide]:
    """Return guide lines from bore to bore, or between corners where nothing is bored.

    Parts that only slide past each other get none: a line along their faces would look
    like a groove.
    """
    guides = []
    fastened: set[frozenset[str]] = set()
    apart = {joint.name for joint in joinery.joints if joint.contact.worked is not None}
    carried = {f.id for f in joinery.fasteners if any(i.carrier is not None for i in f.items)}
    for fastener in joinery.fasteners:
        a, b = fastener.butting, fastener.receiving
        if a is None or a not in shifts or b not in shifts or (a in moving) == (b in moving):
            continue
        if fastener.id not in carried:
            continue
        fastened.add(frozenset((a, b)))
        origin = fastener.frame.origin
        if fastener.joint in apart:
            origin = _meeting_point(fastener)
        guides.append(Guide(start=add(origin, shifts[a]), end=add(origin, shifts[b]), parts=(a, b)))
    for contact in touching:
        a, b = contact.butting, contact.receiving
        if frozenset((a, b)) in fastened or distance(shifts[a], shifts[b]) < 1.0:
            continue
        travel = unit(sub(shifts[a], shifts[b]))
        if contact.sunk == 0 and abs(dot(travel, contact.frame.k)) < _ALONG:
            continue
        for corner in _far_corners(contact):
            point = contact.frame.point_to_outer((corner[0], corner[1], 0.0))
            guides.append(
                Guide(start=add(point, shifts[a]), end=add(point, shifts[b]), parts=(a, b))
            )
    return guides


def _meeting_point(fastener: Fastener) -> Vec3:
    """Return where the halves of a fastener that bridges a gap meet: on the receiving part."""
    other = next((i for i in fastener.items if i.carrier == fastener.receiving), None)
    return other.frame.origin if other is not None else fastener.frame.origin


def _far_corners(contact: Contact) -> list[tuple[float, float]]:
    """Return a corner at the start and one at the end of the run."""
    ordered = sorted(contact.polygon)
    return [ordered[0], ordered[-1]]
