"""A check of a certificate of impossibility that trusts nothing but geometry and joints.

It shares no code with what found the certificate. What it has to show is little:

* for each of its directions the blocks are a closed walk through every part of the set,
  each beginning where the last one ended;
* each block is true: that part cannot move that way while the other one stays, or the
  two cannot be joined while all the others are there, because no tool has room;
* the walks hold in all directions of the motion class that it claims. For every single
  straight move the sphere of directions is covered with what each walk holds for
  (``cover``); for the named directions alone each of them must be there.

Then in no direction can any of the parts, alone or with others, leave the rest: any
group that does not have all of them holds on the walk a part whose next one is
outside. And a product that came apart would take this set apart on the way, because
parts that are gone block nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import AXES, Vec3, dot, scaled, unit
from kdkit.geometry.assembly import Assembly, ContactKind
from kdkit.joinery.axes import protrusions
from kdkit.joinery.placed import Joinery
from kdkit.plan.plan import EVERY_DIRECTION, NAMED_DIRECTIONS, Block, Impossible
from kdkit.plan.verify.cover import Barrier, Hindrance, uncovered
from kdkit.plan.verify.meeting import (
    Meeting,
    Solid,
    find_meeting,
    overlaps,
    part_solid,
    piece_solid,
)
from kdkit.plan.verify.pieces import Piece, cut_into_pieces
from kdkit.plan.verify.rooms import Rooms

__all__ = ["Bodies", "verify_impossible"]

_SAME = 1 - 1e-9  # cosine


def verify_impossible(
    certificate: Impossible, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return what is wrong with a certificate and those by its side; empty: all hold.

    Args:
        certificate: from the planner, or read from a file.
        assembly, joinery, catalogue: the product it is about.
    """
    faults = list(_faults_of(certificate, assembly, joinery, catalogue))
    for n, other in enumerate(certificate.more):
        found = _faults_of(other, assembly, joinery, catalogue)
        faults += [f"more[{n}]: {fault}" for fault in found]
    reasons = certificate.reasons
    for n, one in enumerate(reasons):
        for m, other in enumerate(reasons[:n]):
            if len(set(one.parts) & set(other.parts)) > 1:
                faults.append(
                    f"more[{n - 1}]: it is no reason by itself: it has more than one part in"
                    f" common with {f'more[{m - 1}]' if m else 'the first'}"
                )
    return tuple(faults)


def _faults_of(
    certificate: Impossible, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[str, ...]:
    named = set(certificate.parts)
    of = _bodies(certificate.parts, assembly, joinery)
    if len(named) < 2:
        return ("it takes at least two parts to hold each other",)
    if named - set(of):
        return (f"the product has no part {', '.join(sorted(named - set(of)))}",)
    inside = [part for name in certificate.parts for part in of[name]]
    if len(inside) != len(set(inside)):
        return ("a part is named twice",)
    if certificate.motion_class not in (EVERY_DIRECTION, NAMED_DIRECTIONS):
        said = certificate.motion_class or "none"
        return (f"motion_class: this check knows no such class of motions: {said}",)
    faults = []
    if certificate.motion_class == NAMED_DIRECTIONS:
        for v in _directions(assembly, joinery):
            if not any(dot(v, w) > _SAME for w, _ in certificate.loops):
                faults.append(f"nothing is said about the direction {_shown(v)}")
    bodies = Bodies(assembly, joinery, catalogue, set(inside))
    for v, walk in certificate.loops:
        if abs(dot(v, v) - 1.0) > 1e-9:
            faults.append(f"{_shown(v)} is no direction")
            continue
        faults += _faults_of_walk(v, walk, named)
        for part, by in dict.fromkeys((block.part, block.by) for block in walk):
            if part not in named or by not in named or part == by:
                continue
            if not any(bodies.holds(p, q, v) for p in of[part] for q in of[by]):
                faults.append(f"{part} can move along {_shown(v)} without {by}")
    if not faults and certificate.motion_class == EVERY_DIRECTION:
        known: dict[tuple[str, str], Hindrance] = {}
        walks = [
            (v, [_hindrance(block, of, bodies, known) for block in _once(walk)])
            for v, walk in certificate.loops
        ]
        open_way = uncovered(walks)
        if open_way is not None:
            faults.append(
                f"nothing is said about the direction {_shown(open_way)}: none of the walks "
                f"holds there, so motion_class claims too much"
            )
    return tuple(dict.fromkeys(faults))


def _once(walk: tuple[Block, ...]) -> list[Block]:
    return list({(block.part, block.by): block for block in walk}.values())


def _hindrance(
    block: Block,
    of: Mapping[str, Sequence[str]],
    bodies: Bodies,
    known: dict[tuple[str, str], Hindrance],
) -> Hindrance:
    """All that keeps the parts of one name from moving without those of another."""
    key = (block.part, block.by)
    if key not in known:
        pairs = [(p, q) for p in of[block.part] for q in of[block.by]]
        known[key] = Hindrance(
            pins=tuple(way for p, q in pairs for way in bodies.pinned_ways(p, q)),
            shut=any(bodies.cannot_be_fastened(p, q) for p, q in pairs),
            barriers=[barrier for p, q in pairs for barrier in bodies.barriers(p, q)],
        )
    return known[key]


def _bodies(names: Iterable[str], assembly: Assembly, joinery: Joinery) -> dict[str, list[str]]:
    """The parts of each name that is a part's, or "a + b": all that is packed as one."""
    groups: list[set[str]] = []
    for joint in joinery.joints:
        if joint.workshop:
            pair = {joint.butting, joint.receiving}
            touching = [g for g in groups if g & pair]
            groups = [g for g in groups if not g & pair] + [pair.union(*touching)]
    known = [*({part.name} for part in assembly.parts), *groups]
    found = {name: name.split(" + ") for name in names}
    return {name: parts for name, parts in found.items() if set(parts) in known}


def _faults_of_walk(v: Vec3, walk: tuple[Block, ...], named: set[str]) -> Iterator[str]:
    where = f"along {_shown(v)}"
    for block in walk:
        if block.part == block.by or {block.part, block.by} - named:
            yield f"{where} a block is not between two of the parts: {block.part}, {block.by}"
    for now, after in zip(walk, (*walk[1:], *walk[:1]), strict=True):
        if now.by != after.part:
            yield f"{where} the walk breaks off at {now.by}"
    for part in sorted(named - {block.part for block in walk}):
        yield f"{where} the walk does not pass {part}"


def _directions(assembly: Assembly, joinery: Joinery) -> Iterator[Vec3]:
    """Both ways along the product's axes, the joints' normals and the grooves."""
    yield from AXES.values()
    found = [joint.contact.frame.k for joint in joinery.joints]
    found += [joint.leaves for joint in joinery.joints if joint.leaves is not None]
    found += [j.contact.frame.i for j in joinery.joints if j.contact.kind is ContactKind.SUNK]
    frames = {part.name: part.frame for part in assembly.parts}
    for groove in joinery.grooves:
        if groove.part in frames and groove.surface in ("face", "back"):
            ring = groove.polygon
            sides = zip(ring, (*ring[1:], ring[0]), strict=True)
            a, b = max(sides, key=lambda side: math.dist(*side))
            found.append(frames[groove.part].vector_to_outer((b[0] - a[0], b[1] - a[1], 0.0)))
    for v in found:
        yield unit(v)
        yield scaled(unit(v), -1.0)


@dataclass(frozen=True)
class _Item:
    """Hardware that sticks out of a part. ``mate``: the part whose bore takes it."""

    solid: Solid
    mate: str | None
    axis: Vec3
    fastener: str


class Bodies:
    """The parts of a set with the hardware that is in them while all of them are there."""

    def __init__(
        self, assembly: Assembly, joinery: Joinery, catalogue: Catalogue, present: set[str]
    ) -> None:
        self._joinery = joinery
        self._catalogue = catalogue
        self._shut: dict[frozenset[str], bool] = {}
        self._cut: dict[str, tuple[Piece, ...]] = {}
        self._wood = {
            part.name: part_solid(part, joinery.grooves)
            for part in assembly.parts
            if part.name in present
        }
        self._items: dict[str, list[_Item]] = {name: [] for name in self._wood}
        carried = {fixture.name: fixture.carries for fixture in joinery.fixtures}
        fasteners = {fastener.id: fastener for fastener in joinery.fasteners}
        for sticking in protrusions(joinery, catalogue):
            if sticking.part not in present:
                continue
            fastener = fasteners[sticking.fastener]
            pair = (fastener.butting, fastener.receiving)
            mate = None
            if fastener.butting is not None:
                mate = pair[1] if sticking.part == pair[0] else pair[0]
            meant_for = {mate} if mate is not None else set(carried.get(fastener.joint, ()))
            fitting = joinery.fittings.get(fastener.fitting)
            stages = (
                [a.stage for a in fitting.actions if a.item == sticking.item] if fitting else []
            )
            if (
                stages[:1] == ["workshop"]
                or (meant_for and meant_for <= present)
                or Rooms(self._wood, (), joinery, catalogue).is_too_late(
                    fastener, sticking.item if mate is not None else None, sticking.part
                )
            ):
                solid = piece_solid(sticking.frame, sticking.pieces)
                self._items[sticking.part].append(_Item(solid, mate, sticking.frame.k, fastener.id))

    def holds(self, part: str, by: str, v: Vec3) -> bool:
        """Tell whether ``part`` cannot move along v while ``by`` stays where it is."""
        return (
            self.is_pinned(part, by, v)
            or self.meeting(part, by, v) is not None
            or self.cannot_be_fastened(part, by)
        )

    def cannot_be_fastened(self, part: str, by: str) -> bool:
        """Tell whether no tool reaches a fastener of the two while all of the set are there."""
        pair = frozenset((part, by))
        if pair not in self._shut:
            hardware = [(p, i.fastener, i.solid) for p, some in self._items.items() for i in some]
            rooms = Rooms(self._wood, hardware, self._joinery, self._catalogue)
            self._shut[pair] = rooms.is_shut(part, by)
        return self._shut[pair]

    def is_pinned(self, part: str, by: str, v: Vec3) -> bool:
        """Tell whether pins between the two allow another way only."""
        return any(dot(v, way) < _SAME for way in self.pinned_ways(part, by))

    def pinned_ways(self, part: str, by: str) -> tuple[Vec3, ...]:
        """Return for each joint that pins the two the only way in which the part comes off."""
        found = []
        for joint in self._joinery.joints:
            if {joint.butting, joint.receiving} != {part, by}:
                continue
            fittings = [self._joinery.fittings.get(f) for f in joint.fittings]
            if any(f is not None and f.holds == "pinned" for f in fittings):
                k = joint.leaves or joint.contact.frame.k
                found.append(k if part == joint.butting else scaled(k, -1.0))
        return tuple(found)

    def barriers(self, part: str, by: str) -> Iterator[Barrier]:
        """Yield the pairs of convex pieces of the two that may meet, hardware included."""
        for one in self._pieces(part):
            for other in self._pieces(by):
                yield Barrier(one, other)
        for item in self._items[part]:
            if item.mate == by:
                continue
            yield from self._item_barriers(item, by, self._wood[by], leads=True)
            for other_item in self._items[by]:
                if other_item.mate != part:
                    yield from self._item_barriers(item, None, other_item.solid, leads=True)
        for item in self._items[by]:
            if item.mate != part:
                yield from self._item_barriers(item, part, self._wood[part], leads=False)

    def _item_barriers(
        self, item: _Item, name: str | None, solid: Solid, *, leads: bool
    ) -> Iterator[Barrier]:
        """The pieces of an item and of a part (or of an item, which has no name)."""
        inside = overlaps(item.solid, solid, item.axis)
        but = (item.axis, scaled(item.axis, -1.0)) if inside else ()
        for one in cut_into_pieces(item.solid):
            for other in self._pieces(name) if name is not None else cut_into_pieces(solid):
                yield Barrier(one, other, but) if leads else Barrier(other, one, but)

    def _pieces(self, part: str) -> tuple[Piece, ...]:
        if part not in self._cut:
            self._cut[part] = cut_into_pieces(self._wood[part])
        return self._cut[part]

    def meeting(self, part: str, by: str, v: Vec3) -> Meeting | None:
        """Return where ``part``, moved along v, meets ``by``, hardware included."""
        found = find_meeting(self._wood[part], self._wood[by], v)
        if found is not None:
            return found
        for item in self._items[part]:
            for other in (self._wood[by], *(o.solid for o in self._items[by] if o.mate != part)):
                if item.mate != by and not self._passes(item, other, v):
                    found = find_meeting(item.solid, other, v)
                    if found is not None:
                        return found
        for item in self._items[by]:
            if item.mate != part and not self._passes(item, self._wood[part], v):
                found = find_meeting(self._wood[part], item.solid, v)
                if found is not None:
                    return found
        return None

    def _passes(self, item: _Item, other: Solid, v: Vec3) -> bool:
        """An item that stands in a bore of the other part leaves it along its axis."""
        return abs(dot(item.axis, v)) > _SAME and overlaps(item.solid, other, v)


def _shown(v: Vec3) -> str:
    return "({:g}, {:g}, {:g})".format(*(round(c, 6) + 0.0 for c in v))
