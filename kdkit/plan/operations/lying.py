"""What the work would lie on: hardware that sticks out below the wood, and how far.

Nothing is laid on its handle. Where an operation turns the work onto hardware, or begins
on it, it says how high the strips must be that go under the wood beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.entries import Piece
from kdkit.frames import Frame, Vec3, dot, scaled
from kdkit.joinery.placed import Fastener
from kdkit.model.resolved import Part
from kdkit.parts.postures import POSTURES, UP
from kdkit.plan.order.build import Scene
from kdkit.plan.plan import Operation, OperationKind, Posture

__all__ = ["item_points", "mark_lying"]

_PROUD = 3.0
"""mm; what stands out less (a head, a hinge's cup) sinks into the blanket that the work
lies on: common practice, no source."""

_ROUND = 12  # points that stand for a circle

_MOVES = (OperationKind.MATE, OperationKind.LOAD)
_LYING = (*_MOVES, OperationKind.TURN, OperationKind.STAND)
_DOES = (OperationKind.FIT, OperationKind.FASTEN, OperationKind.FIXTURE, OperationKind.CAP)

_DOWN = tuple(scaled(UP[posture], -1.0) for posture in POSTURES)

_Under = tuple[float, tuple[str, ...]]
"""How far hardware reaches below the wood, mm, and which items do."""

Points = NDArray[np.float64]


def mark_lying(
    scene: Scene,
    parts: Iterable[Part],
    operations: Sequence[Operation],
    order: Sequence[str],
    *,
    packed: bool = False,
) -> list[Operation]:
    """Return the operations; those that lay the work on its hardware say so.

    Args:
        order: the operations' ids as they are done.
        packed: joints made before packing are there from the start, with their hardware.
    """
    by_id = {o.id: o for o in operations}
    done = [by_id[id] for id in order]
    work = _Work(scene, {part.name: part for part in parts})
    used = {(name, item) for o in done for name in o.fasteners for item in o.items}
    made = {f for joint in scene.joinery.joints if joint.workshop for f in joint.fasteners}
    for fastener in scene.joinery.fasteners:
        for item in dict.fromkeys(one.item for one in fastener.items):
            before = packed and (fastener.id, item) not in used and fastener.id in made
            if before or _comes_fitted(scene, fastener, item):
                work.fit(fastener, item, None)
    marked = {}
    for operation in done:
        told = work.do(operation)
        if told is not None:
            marked[operation.id] = told
    return [marked.get(operation.id, operation) for operation in operations]


def item_points(frame: Frame, pieces: Iterable[Piece]) -> Points:
    """Return points in the product between which what sticks out of a mouth lies."""
    found: list[Vec3] = []
    for piece in pieces:
        low = max(piece.z0, 0.0)
        if piece.z1 <= low:
            continue
        u, v = piece.at
        x, y = piece.d0 / 2, (piece.d1 or piece.d0) / 2
        if piece.kind in ("box", "lens"):
            ring = [(u - x, v - y), (u + x, v - y), (u + x, v + y), (u - x, v + y)]
        else:
            r = max(x, y) if piece.kind == "cone" else x
            turns = (2 * math.pi * n / _ROUND for n in range(_ROUND))
            ring = [(u + r * math.cos(a), v + r * math.sin(a)) for a in turns]
        found += [frame.point_to_outer((p, q, z)) for p, q in ring for z in (low, piece.z1)]
    return np.array(found).reshape(-1, 3)


@dataclass(frozen=True, eq=False)
class _Hardware:
    """An item in its place; ``carries``: the finished product stands on it."""

    item: str
    points: Points
    carries: bool

    def reach(self, way: Vec3) -> float:
        """Return how far it goes along a direction of the product."""
        return float((self.points @ np.array(way)).max())

    @cached_property
    def reaches(self) -> Mapping[Vec3, float]:
        """How far it goes down in each posture, by the direction that is down."""
        ends = (self.points @ np.array(_DOWN).T).max(axis=0)
        return dict(zip(_DOWN, ends.tolist(), strict=True))


@dataclass(eq=False)
class _Work:
    """What is together so far, what is fitted, and what was said of how it lies."""

    scene: Scene
    parts: Mapping[str, Part]
    bodies: dict[str, frozenset[str]] = field(default_factory=dict)
    fitted: dict[str, list[_Hardware]] = field(default_factory=dict)
    said: dict[str, tuple[Posture | None, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.fasteners = {f.id: f for f in self.scene.joinery.fasteners}
        self.number = {name: n for n, name in enumerate(self.scene.blocking.names)}

    def fit(self, fastener: Fastener, item: str, parts: Iterable[str] | None) -> None:
        """Put an item into what carries it, if that is one of the parts."""
        pieces = self.scene.catalogue.items[item].pieces
        for one in fastener.items:
            owner = one.carrier or fastener.receiving
            if one.item != item or (parts is not None and one.carrier not in (None, *parts)):
                continue
            points = item_points(one.frame, pieces)
            if len(points):
                carries = fastener.butting is None and fastener.frame.k[2] < -0.7
                self.fitted.setdefault(owner, []).append(_Hardware(item, points, carries))

    def do(self, operation: Operation) -> Operation | None:
        """Do an operation; return it if it has to say what is put under the work."""
        first = operation.onto or operation.parts
        body = frozenset[str]().union(*(self._body(part) for part in first))
        if operation.kind is OperationKind.FIT and len(body) == 1:
            (part,) = body
            self._put_in(operation)
            return self._told(operation, body, None, self._between(self.parts[part]))
        if operation.kind not in _LYING:
            self._put_in(operation)
            return None
        under = self._below(body, operation.posture)
        if operation.kind in _MOVES:
            body = body.union(*(self._body(part) for part in operation.parts))
            self.bodies.update(dict.fromkeys(body, body))
            under = max(under, self._below(body, operation.posture))
        return self._told(operation, body, operation.posture, under)

    def _put_in(self, operation: Operation) -> None:
        parts = operation.parts if operation.kind is OperationKind.FIT else None
        for name in operation.fasteners if operation.kind in _DOES else ():
            for item in operation.items:
                self.fit(self.fasteners[name], item, parts)

    def _told(
        self,
        operation: Operation,
        body: frozenset[str],
        posture: Posture | None,
        under: _Under,
    ) -> Operation | None:
        """Return an operation that says more of what lies below than was said before."""
        before = [self.said[part] for part in body if part in self.said]
        known = max((high for way, high in before if way is posture), default=0.0)
        self.said.update(dict.fromkeys(body, (posture, max(known, under[0]))))
        if under[0] <= known + 0.5:
            return None
        return replace(operation, strips=under[0], clear_of=under[1])

    def _body(self, part: str) -> frozenset[str]:
        return self.bodies.get(part, frozenset((part,)))

    def _below(self, body: Iterable[str], posture: Posture) -> _Under:
        """Return how far hardware reaches below the wood of a body, and which."""
        q = POSTURES.index(posture)
        down = _DOWN[q]
        names = sorted(body)
        there = [one for name in names for one in self.fitted.get(name, ())]
        wood = max(-self.scene.facts[self.number[name]].lows[q] for name in names)
        if posture is Posture.STANDING:
            wood = max([wood, *(one.reaches[down] for one in there if one.carries)])
        return _sticking_out(((one.item, one.reaches[down]) for one in there), wood)

    def _between(self, part: Part) -> _Under:
        """Return what a flat part lies on when hardware stands out of both of its faces."""
        k, there = part.frame.k, self.fitted.get(part.name, ())
        face, back = dot(part.frame.origin, k), scaled(k, -1.0)
        return min(
            _sticking_out(((one.item, one.reach(k)) for one in there), face),
            _sticking_out(((one.item, one.reach(back)) for one in there), part.thickness - face),
        )


def _sticking_out(reaches: Iterable[tuple[str, float]], wood: float) -> _Under:
    """Return how far items reach beyond the wood, from how far each goes, and which do."""
    sticks: dict[str, float] = {}
    for item, reach in reaches:
        out = reach - wood
        if out > _PROUD:
            sticks[item] = max(out, sticks.get(item, 0.0))
    return max(sticks.values(), default=0.0), tuple(sorted(sticks))


def _comes_fitted(scene: Scene, fastener: Fastener, item: str) -> bool:
    entry = scene.joinery.fittings.get(fastener.fitting)
    stages = [a.stage for a in (entry.actions if entry is not None else ()) if a.item == item]
    return bool(stages) and stages[0] == "workshop"
