"""Balance at every moment: what stands by itself, what somebody holds, and how high the work is.

The plan is done forward. What has been fastened to each other by then is one body; what stands
on dry pins only is a body of its own until something draws it. Each body must stand on the
floor, or on what it lies on, with both margins of ``choice.balance``; pins on two other parts
keep it too. What does not is held: a light part by the one who works, everything else by a
second person or a prop.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from kdkit.catalogue.work import pulls_together
from kdkit.frames import Vec2, Vec3, dot
from kdkit.geometry.meetings import MEETINGS
from kdkit.joinery.placed import PlacedJoint
from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import members
from kdkit.plan.choice.balance import (
    BRACED,
    GRAVITY,
    LEAN,
    SLIDES,
    depth_inside,
    hull_of,
    lean_deg,
    push_along,
    push_to_tip,
)
from kdkit.plan.choice.footing import ARMS, IN_HAND, PACKED, Footing, axes_of, in_posture
from kdkit.plan.choice.resting import LEVEL, is_under
from kdkit.plan.operations.lying import item_points
from kdkit.plan.operations.persons import man_tilt
from kdkit.plan.operations.pushing import middle_of, push_of, pushed_at
from kdkit.plan.order.build import Scene
from kdkit.plan.plan import Operation, OperationKind, Posture, WhyTwo

__all__ = ["floor_taken", "mark_standing"]

_MOVES = (OperationKind.MATE, OperationKind.LOAD)
_TURNS = (OperationKind.TURN, OperationKind.STAND)
_WORKS = (
    *_MOVES,
    OperationKind.FASTEN,
    OperationKind.WAIT,
    OperationKind.SQUARE,
    OperationKind.FIXTURE,
    OperationKind.SECURE,
    OperationKind.CAP,
)
_ONE_HAND = (OperationKind.FASTEN, OperationKind.FIXTURE, OperationKind.CAP)


def mark_standing(
    scene: Scene,
    operations: Sequence[Operation],
    order: Sequence[str],
    *,
    packed: bool = False,
) -> list[Operation]:
    """Return the operations with their margins, what is held, and what a turn takes.

    Args:
        order: the operations' ids as they are done.
        packed: joints made before packing are closed from the start.
    """
    work = _Standing(scene, packed)
    by_id = {o.id: o for o in operations}
    marked = {id: work.do(by_id[id]) for id in order}
    return [marked.get(o.id, o) for o in operations]


def floor_taken(scene: Scene, operations: Iterable[Operation]) -> tuple[float, float]:
    """Return the greatest length and width that the work takes up on the floor, mm."""
    long, wide = 0.0, 0.0
    number = {name: n for n, name in enumerate(scene.blocking.names)}
    for operation in operations:
        if operation.kind not in (*_MOVES, *_TURNS) or not operation.parts:
            continue
        along, across, _ = axes_of(operation.posture)
        corners = [
            corner
            for name in (*operation.parts, *operation.onto)
            for corner in scene.facts[number[name]].poise.corners
        ]
        sides = []
        for way in (along, across):
            ends = [dot(corner, way) for corner in corners]
            sides.append(max(ends) - min(ends))
        long, wide = max(long, *sides), max(wide, min(sides))
    return long, wide


@dataclass(eq=False)
class _Standing:
    """What is together and what is fastened so far; the parts by their numbers."""

    scene: Scene
    packed: bool
    groups: dict[int, int] = field(default_factory=dict)
    bodies: dict[int, int] = field(default_factory=dict)
    pinned: set[tuple[int, int]] = field(default_factory=set)
    lying: dict[int, Posture] = field(default_factory=dict)
    feet: dict[int, list[Vec3]] = field(default_factory=dict)
    secured: bool = False

    def __post_init__(self) -> None:
        self.footing = Footing(self.scene.facts)
        self.names = self.scene.blocking.names
        self.number = {name: n for n, name in enumerate(self.names)}
        self.fasteners = {f.id: f for f in self.scene.joinery.fasteners}
        self.joints = {j.name: j for j in self.scene.joinery.joints}
        for n in range(len(self.names)):
            self.groups[n] = self.bodies[n] = 1 << n
        for joint in self.scene.joinery.joints if self.packed else ():
            if joint.workshop:
                ends = self._ends(joint)
                self._unite(self.groups, *ends)
                self._unite(self.bodies, *ends)

    @cached_property
    def poises(self) -> list[tuple[float, Vec3]]:
        """Mass and middle of each part."""
        return [(fact.poise.mass, fact.poise.middle) for fact in self.scene.facts]

    def do(self, operation: Operation) -> Operation:
        """Do an operation; return it with what was found of how the work stands."""
        kind = operation.kind
        if kind is OperationKind.FIXTURE:
            self._put_on_feet(operation)
        waiting: list[int] = []
        if kind in _MOVES:
            waiting = self._waiting(operation)
            self._bring_together(operation)
        if kind in _TURNS:
            before = self.lying.get(self.groups[self.number[operation.parts[0]]])
            operation = man_tilt(self.scene, operation, before)
            self.lying[self._group(operation)] = operation.posture
        if kind is OperationKind.WAIT:
            self._draw(operation)
        found = operation
        if kind in (*_WORKS, *_TURNS) and operation.parts:
            found = self._judged(operation, waiting)
        if kind is OperationKind.FASTEN:
            self._draw(operation)
        if kind is OperationKind.SECURE:
            self.secured = True
        return found

    # -- what is together ------------------------------------------------------------------

    def _ends(self, joint: PlacedJoint) -> tuple[int, int]:
        return self.number[joint.butting], self.number[joint.receiving]

    def _group(self, operation: Operation) -> int:
        return self.groups[self.number[(operation.onto or operation.parts)[0]]]

    def _unite(self, sets: dict[int, int], a: int, b: int) -> None:
        if sets[a] == sets[b]:
            return
        both = sets[a] | sets[b]
        for part in members(both):
            sets[part] = both

    def _bring_together(self, operation: Operation) -> None:
        first = self.number[(operation.onto or operation.parts)[0]]
        for name in (*operation.parts, *operation.onto):
            self._unite(self.groups, first, self.number[name])
        self.lying[self.groups[first]] = operation.posture
        for name in operation.joints:
            joint = self.joints[name]
            a, b = self._ends(joint)
            if self._keeps(joint):
                self._unite(self.bodies, a, b)
            elif self._is_pinned(joint):
                self.pinned |= {(a, b), (b, a)}

    def _draw(self, operation: Operation) -> None:
        for name in operation.joints:
            joint = self.joints[name]
            entries = (self.scene.joinery.fittings.get(f) for f in joint.fittings)
            if any(entry is None or pulls_together(entry) for entry in entries):
                self._unite(self.bodies, *self._ends(joint))

    def _keeps(self, joint: PlacedJoint) -> bool:
        """Tell whether parts stay together as soon as they are: in a groove, on hinges or runners.

        A rail in one socket does not, it would slip out.
        """
        entries = [self.scene.joinery.fittings.get(f) for f in joint.fittings]
        found = [entry for entry in entries if entry is not None]
        if joint.contact.kind in MEETINGS:
            return any(a.do in ("hang", "run-in") for entry in found for a in entry.actions)
        return any(entry.holds == "captured" for entry in found)

    def _is_pinned(self, joint: PlacedJoint) -> bool:
        entries = [self.scene.joinery.fittings.get(f) for f in joint.fittings]
        return joint.contact.sunk > 0 or any(e is not None and e.holds != "free" for e in entries)

    def _put_on_feet(self, operation: Operation) -> None:
        for name in operation.fasteners:
            fastener = self.fasteners[name]
            if fastener.butting is not None or fastener.frame.k[2] > -0.7:
                continue
            for one in fastener.items:
                if one.item in operation.items:
                    pieces = self.scene.catalogue.items[one.item].pieces
                    points = item_points(one.frame, pieces)
                    self.feet.setdefault(self.number[fastener.receiving], []).extend(
                        (x, y, z) for x, y, z in points.tolist()
                    )

    # -- how it stands ---------------------------------------------------------------------

    def _waiting(self, operation: Operation) -> list[int]:
        """Return the bodies that do not stay where they are until what comes holds them."""
        if operation.kind is not OperationKind.MATE or len(operation.onto) < 2:
            return []
        group = self._group(operation)
        if self.secured and operation.posture is Posture.STANDING and not operation.subassembly:
            return []
        still = replace(operation, joints=(), height=0.0)
        falling = self._judge(still, group, 0, 0.0)[1]
        if falling and operation.posture is not Posture.STANDING:
            high = self._gap(group, POSTURES.index(operation.posture))
            packed = self._judge(still, group, 0, high)[1] if high else falling
            falling = min(falling, packed, key=len)
        return falling

    def _judged(self, operation: Operation, waiting: Sequence[int] = ()) -> Operation:
        """Return an operation with how the work stands in it.

        Args:
            waiting: what must be held while it is done, though it stands afterwards.
        """
        group = self._group(operation)
        if group.bit_count() == 1 and operation.kind not in _TURNS:
            return operation  # done on the bare part, which lies flat
        height = self._work_height(operation, group)
        operation = replace(operation, height=height)
        if operation.kind is OperationKind.SECURE:
            why = operation.why_two or (WhyTwo.FREE,)
            return replace(operation, why_two=why, lean=self._margins(group, group, operation)[0])
        if self.secured and operation.posture is Posture.STANDING and not operation.subassembly:
            return operation
        already = len(operation.held)
        kept = self._held(operation, waiting, several=True)
        operation = replace(operation, held=kept[0], in_hand=kept[1])
        worked = sum(1 << self.number[n] for n in dict.fromkeys(operation.onto or operation.parts))
        pack = 0.0
        found, falling = self._judge(operation, group, worked, pack)
        if falling and operation.posture is not Posture.STANDING:
            high = self._gap(group, POSTURES.index(operation.posture))
            packed = self._judge(operation, group, worked, high) if high else (found, falling)
            if len(packed[1]) < len(falling):
                pack, (found, falling) = high, packed
        if falling and operation.kind in _ONE_HAND:
            braced = replace(operation, braced=True)
            steadied = self._judge(braced, group, worked, pack)
            if len(steadied[1]) < len(falling):
                operation, (found, falling) = braced, steadied
        held, in_hand = self._held(operation, falling, several=bool(waiting))
        why = operation.why_two
        if len(held) > already and WhyTwo.HELD not in why:
            why = tuple(w for w in WhyTwo if w in (*why, WhyTwo.HELD))
        return replace(
            operation,
            lean=min((lean for lean, _ in found.values()), default=None),
            push=min(
                (p for _, p in found.values() if p is not None and p != float("inf")), default=None
            ),
            pack=pack,
            held=held,
            in_hand=in_hand,
            why_two=why,
        )

    def _judge(
        self, operation: Operation, group: int, worked: int, pack: float
    ) -> tuple[dict[int, tuple[float, float | None]], list[int]]:
        """Return the margins of what stands, and the bodies that do not.

        Args:
            worked: the parts of the bodies that are worked on.
            pack: mm over the floor up to which what lies lower is packed up.
        """
        pushed = operation.kind not in _TURNS
        kept = {*operation.held, *operation.in_hand}
        found: dict[int, tuple[float, float | None]] = {}
        falling: list[int] = []

        def stands(body: int) -> bool:
            lean, push = self._margins(body, group, operation, pack)
            heavy = self.footing.weighed(body)[0] > IN_HAND
            touched = pushed and heavy and bool(body & worked)
            if lean < LEAN or (touched and push < self._needed(group, operation)):
                return False
            found[body] = lean, push if touched else None
            return True

        bodies = list(dict.fromkeys(self.bodies[part] for part in members(group)))
        rest = group
        for body in bodies:
            if kept and any(self.names[p] in kept for p in members(body)):
                rest &= ~body
            elif not self._is_kept(body, group) and not stands(body):
                falling.append(body)
        for body in falling:
            rest &= ~body
        while rest and rest not in bodies and not stands(rest):  # hold the largest of it
            falling.append(self.bodies[self._largest(members(rest))])
            found.pop(falling[-1], None)
            rest &= ~falling[-1]
        return found, falling

    def _needed(self, group: int, operation: Operation) -> float:
        """Return the push that what is worked on must bear, N: before more, all of it slides."""
        push = push_of(operation) * (1 - BRACED if operation.braced else 1)
        return min(push, SLIDES * self.footing.weighed(group)[0] * GRAVITY)

    def _held(
        self, operation: Operation, falling: Sequence[int], *, several: bool = False
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return what a second person holds, and what the one who works keeps hold of."""
        held, in_hand = list(operation.held), list(operation.in_hand)
        brought = sum(1 << self.number[name] for name in operation.parts)
        brings = operation.kind is OperationKind.MATE
        full = brings and not self._is_light(members(brought))
        several = several and not full  # light ones on their pins, while a light one comes
        for body in falling:
            parts = members(body)
            if any(self.names[part] in (*held, *in_hand) for part in parts):
                continue
            main = self._largest(parts)
            free = several or not in_hand
            hand = free and not (full and not body & brought) and self._is_light(parts)
            (in_hand if hand else held).append(self.names[main])
        return tuple(held), tuple(in_hand)

    def _is_light(self, parts: Sequence[int]) -> bool:
        """Tell whether one hand keeps some parts."""
        mass = sum(self.poises[part][0] for part in parts)
        long = max(self.scene.spans[self.names[part]] for part in parts)
        return mass <= IN_HAND and long <= ARMS

    def _largest(self, parts: Sequence[int]) -> int:
        return max(parts, key=lambda part: (self.scene.facts[part].area, -part))

    def _is_kept(self, body: int, group: int) -> bool:
        """Tell whether pins on two other parts keep a body, or it is a loose part in its place."""
        if all(self.scene.facts[part].loose for part in members(body)):
            return True
        others = {b for a, b in self.pinned if body >> a & 1 and group & ~body & 1 << b}
        return len(others) > 1

    def _margins(
        self, body: int, group: int, operation: Operation, pack: float = 0.0
    ) -> tuple[float, float]:
        """Return by how much a body may lean, degrees, and the push at the work that tips it, N."""
        q = POSTURES.index(operation.posture)
        along, across, up = axes_of(operation.posture)
        ground, low = self._carriers(body, group, q, pack)
        if not ground:
            return -90.0, 0.0
        whole, middle = self.footing.weighed(body)
        at: Vec2 = (dot(middle, along), dot(middle, across))
        hull = hull_of(ground)
        depth = depth_inside(at, hull)
        lean = lean_deg(depth, dot(middle, up) - low)
        top = self.footing.high(body, q)  # it is pushed no higher than it is
        pushes = pushed_at(operation, self.scene.joinery)
        if pushes is None:
            height = min(operation.height + self._floor(group, q), top)
            return lean, push_to_tip(whole, depth, height - low)
        push = float("inf")
        for spot, way in pushes:
            x, y, z = in_posture(spot, q)
            spot = x, y, min(z, top) - low
            push = min(push, push_along(whole, at, hull, spot, in_posture(way, q)))
        return lean, push

    def _carriers(self, body: int, group: int, q: int, pack: float) -> tuple[list[Vec2], float]:
        """Return the points on which a body stands, on the floor and on other bodies.

        They are as they lie in the posture; and how high the lowest is, mm.
        """
        floor = self._floor(group, q)
        points: list[Vec3] = []
        flat: list[Vec2] = []
        low = float("inf")
        if not pack:
            flat = list(self.footing.on_floor(body, q, floor))
            low = self.footing.lows(body)[q] if flat else low
        for part in members(body) if pack or self.feet else ():
            corners = [*(self.footing.flat[q][part] if pack else ()), *self._feet(part, q)]
            lowest = min((up for _, _, up in corners), default=float("inf"))
            if lowest <= floor + pack + LEVEL:
                level = (lowest if pack else floor) + LEVEL
                points += [c for c in corners if c[2] <= level]
        beside = group & ~body
        for part in members(body) if beside else ():
            for touch in self.scene.facts[part].poise.touches:
                if beside >> touch.other & 1 and is_under(touch, q):
                    points += [in_posture(c, q) for c in touch.corners]
        low = min([low, *(up for _, _, up in points)])
        return [*flat, *((x, y) for x, y, _ in points)], low

    def _feet(self, part: int, q: int) -> list[Vec3]:
        """Return the points on which feet of a part stand, as they lie in the posture."""
        if POSTURES[q] is not Posture.STANDING or part not in self.feet:
            return []
        return [in_posture(point, q) for point in self.feet[part]]

    def _gap(self, group: int, q: int) -> float:
        """Return how far over the floor the highest part lies that can be packed up, mm."""
        floor = self._floor(group, q)
        gaps = [self.scene.facts[part].lows[q] - floor for part in members(group)]
        return max((gap for gap in gaps if LEVEL < gap <= PACKED), default=0.0)

    def _floor(self, group: int, q: int) -> float:
        feet = (point for part in self.feet if group >> part & 1 for point in self._feet(part, q))
        return min([self.footing.lows(group)[q], *(up for _, _, up in feet)])

    def _work_height(self, operation: Operation, group: int) -> float:
        """Return how high over the floor the work is done, mm."""
        q = POSTURES.index(operation.posture)
        _, _, up = axes_of(operation.posture)
        if operation.kind in _TURNS:
            return 0.0
        points = [
            one.frame.origin for id in operation.fasteners for one in self.fasteners[id].items
        ]
        contacts = [self.joints[name].contact for name in operation.joints]
        if operation.kind is OperationKind.MATE and contacts:  # where the hands push
            points = [middle_of(contact) for contact in contacts]
        elif operation.kind in _MOVES:
            moving = [self.number[name] for name in operation.parts]
            whole = sum(self.poises[part][0] for part in moving)
            points = []
            height = sum(self.poises[p][0] * dot(self.poises[p][1], up) for p in moving)
            if whole:
                return height / whole - self._floor(group, q)
        floor = self._floor(group, q)
        return max((dot(point, up) for point in points), default=floor) - floor
