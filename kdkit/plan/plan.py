"""What the planner gives: operations, the reasons for their order, steps, or a no.

Directions are unit vectors in the product frame as it stands when finished;
``posture`` says how it lies while a step is done.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from kdkit.diagnostics import Path
from kdkit.frames import Vec3
from kdkit.parts.postures import Posture

__all__ = [
    "EVERY_DIRECTION",
    "FOUND_DIRECTIONS",
    "LOW_ROOM",
    "MORE_MOVES",
    "NAMED_DIRECTIONS",
    "Block",
    "Impossible",
    "Moves",
    "NearestOrder",
    "Operation",
    "OperationKind",
    "OrderRefused",
    "Plan",
    "Posture",
    "Precedence",
    "Slide",
    "Step",
    "Tilt",
    "WhyTwo",
    "WorkshopPlan",
    "body_name",
    "times_of",
]

EVERY_DIRECTION = "two hands, one straight move at a time in any direction, both halves rigid"
NAMED_DIRECTIONS = (
    "two hands, one straight move at a time along a joint's normal, a groove or a main axis "
    "of the product, both halves rigid"
)
"""The classes of motion that a verdict can be about. In the first a no is a theorem for
every straight move; in the second only for the directions that it lists."""
FOUND_DIRECTIONS = (
    "two hands, one straight move at a time along a joint's normal, a groove, a main axis of "
    "the product or a way that was found between them, both halves rigid"
)
"""The moves of a plan that could not have done with the named ones."""

MORE_MOVES = (
    "two hands, one straight move at a time, or where none is free two in a row, or tilting "
    "about an edge and one or two straight moves, both halves rigid"
)
"""The moves of a plan that could not have done with single straight ones."""

_PACKED = " + "  # no part's name has a blank


@dataclass(frozen=True)
class Slide:
    """Straight on along a unit vector, for a length in mm; infinite: out of everything."""

    way: Vec3
    length: float = math.inf


@dataclass(frozen=True)
class Tilt:
    """Turned about a line: through a point, along a unit vector, right-handed."""

    point: Vec3
    axis: Vec3
    angle_deg: float


Moves = tuple[Slide | Tilt, ...]
"""Moves one after the other, all in the product's frame."""


def body_name(parts: Sequence[str]) -> str:
    """Return what a certificate calls a part, or parts that are packed as one."""
    return _PACKED.join(parts)


class OperationKind(StrEnum):
    """What is done in one operation."""

    FIT = "fit"  # put hardware into one part before mating
    GLUE = "glue"
    MATE = "mate"  # bring parts together
    FASTEN = "fasten"  # turn cams, drive screws, nail
    WAIT = "wait"
    CAP = "cap"
    SQUARE = "square"  # check the diagonals
    TURN = "turn"  # change the posture
    STAND = "stand"  # stand it up, the last posture
    FIXTURE = "fixture"  # feet, handles, supports
    LOAD = "load"  # lay in loose parts
    SECURE = "secure"  # fix to the wall
    UNDO = "undo"  # taking apart: loosen or take out hardware
    REMOVE = "remove"  # taking apart: take parts off the rest


class WhyTwo(StrEnum):
    """Why an operation takes more than one person."""

    HEAVY = "heavy"  # a part is lifted
    TURNED = "turned"  # the work is turned over or stood up
    HELD = "held"  # something would fall before it is fastened
    PINS = "pins"  # a wide part whose many pins must find their bores at once
    HUNG = "hung"  # the whole is held up until it is fixed to the wall
    FREE = "free"  # it stands, and could be tipped over until it is fixed to the wall


LOW_ROOM = 2000.0
"""mm: no room is lower than a door, so only what turns higher than that is told of."""


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One thing done.

    Args:
        parts: what it is done to; for ``mate`` the moving parts.
        onto: for ``mate`` the parts already there that it meets; for ``remove`` those
            that stay.
        direction: for ``mate`` the way the moving parts travel to arrive, for
            ``remove`` to leave. Of more than one move, the straight one that closes the
            joint; where it closes by tilting, the one before.
        moves: all of them in order where it takes more than one, else ().
        fasteners: ids in ``Joinery.fasteners``.
        items: hardware used up by this operation, by item key.
        tool: catalogue key, or None.
        subassembly: name of the subassembly it belongs to, "" for the product.
        mass: kg lifted or turned, the hardware in it included (``joinery.masses``).
        held: parts that would fall before they are fastened: a second person holds
            them, or a prop.
        pins: how many pins must find their bores at the same time.
        why_two: why it takes more than one person; () for one.
        does: the actions of its fittings that it does; () for all that suit its kind.
        lifted: the parts that ``mass`` is of, where it is not those of ``parts``.
        strips: mm by which hardware stands out below the work as it comes to lie; strips of
            wood as high go under it, beside ``clear_of``, the items' keys.
        rests: nothing joins what is brought together yet; it stays where it is put by gravity.
        no_room: joints that it clamps where no clamp finds room: a caul, a band or a wedge
            does it there.
        glue_up: the glue-up that it belongs to: all that is done from the first drop of glue
            until the clamps come off, one after the other; "" for none.
        open_minutes: for spreading glue, how long the glue may lie open before the last of
            its joints is closed; 0 where nothing bounds it. ``takes``: how long that takes.
        in_hand: light parts that would fall too: the one who works keeps hold of them.
        braced: it stands, and the one who works keeps the other hand against it.
        hands: kg in the hands at once: all of what is lifted, a share of what is tilted.
        team: persons whom that takes, 1 to 4; ``aid``: more than four may carry.
        lean: degrees by which what nobody holds may lean before it tips, None where nothing
            stands on the floor, or it is fixed to the wall.
        push: N, where and whither the work pushes, that tip it; None as for ``lean``, or
            if nothing is worked on or no such push tips it.
        height: mm over the floor, of the work.
        pack: mm of strips under what does not reach the floor, so that the work lies level.
        room: mm of height that turning it takes: its diagonal; 0 where it is not turned.
    """

    id: str
    kind: OperationKind
    parts: tuple[str, ...] = ()
    onto: tuple[str, ...] = ()
    direction: Vec3 | None = None
    moves: Moves = ()
    fasteners: tuple[str, ...] = ()
    items: Mapping[str, int]
    tool: str | None = None
    joints: tuple[str, ...] = ()
    fixture: str | None = None
    subassembly: str = ""
    posture: Posture = Posture.STANDING
    minutes: float = 0.0
    mass: float = 0.0
    held: tuple[str, ...] = ()
    pins: int = 0
    why_two: tuple[WhyTwo, ...] = ()
    does: tuple[str, ...] = ()
    no_room: tuple[str, ...] = ()
    lifted: tuple[str, ...] = ()
    strips: float = 0.0
    clear_of: tuple[str, ...] = ()
    rests: bool = False
    glue_up: str = ""
    open_minutes: float = 0.0
    takes: float = 0.0
    in_hand: tuple[str, ...] = ()
    braced: bool = False
    hands: float = 0.0
    team: int = 1
    aid: bool = False
    lean: float | None = None
    push: float | None = None
    height: float = 0.0
    room: float = 0.0
    pack: float = 0.0

    @property
    def persons(self) -> int:
        """How many persons it takes."""
        return max(2 if self.why_two else 1, self.team)

    @property
    def sets(self) -> bool:
        """True if glue sets and nobody works: ``minutes`` are then waited, not worked.

        A wait with a tool is the putting on of clamps, which is work.
        """
        return self.kind is OperationKind.WAIT and self.tool is None


def times_of(operations: Iterable[Operation]) -> tuple[float, float]:
    """Return the minutes that are worked in some operations and those that glue sets."""
    done = list(operations)
    return (
        sum(o.minutes for o in done if not o.sets),
        sum(o.minutes for o in done if o.sets),
    )


@dataclass(frozen=True, kw_only=True)
class Precedence:
    """``before`` comes before ``after``; ``reason`` is a sentence for people."""

    before: str
    after: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Step:
    """One numbered step of the manual.

    Args:
        present: parts in the picture that are already there (of this subassembly).
        new: parts that come in in this step.
        operations: ids, in order; where the step is done ``times`` over, on one
            subassembly after another alike, those of the first come first.
        times: how often it is done; ``present`` and ``new`` tell of the first time, and
            ``others`` are the parts that come in the other times. Items and minutes are
            those of all times together.
        minutes, wait_minutes: that are worked, and that glue sets meanwhile (``times_of``).
    """

    number: int
    operations: tuple[str, ...]
    present: tuple[str, ...]
    new: tuple[str, ...]
    posture: Posture
    items: Mapping[str, int]
    tools: tuple[str, ...]
    persons: int
    subassembly: str = ""
    minutes: float = 0.0
    wait_minutes: float = 0.0
    times: int = 1
    others: tuple[str, ...] = ()

    @property
    def shown(self) -> tuple[str, ...]:
        """The operations of the first time, which picture and words tell of."""
        return self.operations[: len(self.operations) // self.times]


@dataclass(frozen=True, kw_only=True)
class Block:
    """``part`` cannot move along the direction without ``by``."""

    part: str
    by: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Impossible:
    """A set of parts of which no proper subset can move, for each direction why.

    Args:
        parts: their names; parts packed as one are one of them, see ``bodies``.
        loops: for each direction a closed walk of blocks through every part of the set. In
            the class ``EVERY_DIRECTION`` each walk also holds round its direction, as far
            as all its blocks do, and together they hold in all directions.
        motion_class: which motions the no is about.
        tried: what else was tried on them in vain, which is no proof; "" for nothing.
        more: other sets, each a reason by itself: no two of all of them have more than one
            part in common, so none goes away with another.
        all_found: the search for them came to its end; else it met its bound.
    """

    parts: tuple[str, ...]
    loops: tuple[tuple[Vec3, tuple[Block, ...]], ...]
    motion_class: str
    tried: str = ""
    more: tuple[Impossible, ...] = ()
    all_found: bool = True

    @property
    def bodies(self) -> Mapping[str, tuple[str, ...]]:
        """For each of ``parts`` the parts of the product in it: more than one if packed."""
        return {name: tuple(name.split(_PACKED)) for name in self.parts}

    @property
    def reasons(self) -> tuple[Impossible, ...]:
        """This one and those by its side."""
        return (self, *self.more)

    @property
    def every_body(self) -> Mapping[str, tuple[str, ...]]:
        """The bodies of all reasons."""
        return {name: parts for no in self.reasons for name, parts in no.bodies.items()}


@dataclass(frozen=True, kw_only=True)
class NearestOrder:
    """An order that works and is like the author's.

    Args:
        entries: parts in the order of putting on; several are put together first.
        moved: the author's entries that stand elsewhere in it, in the author's words.
        exact: no order that works has fewer entries moved; else fewer might do.
    """

    entries: tuple[tuple[str, ...], ...]
    moved: tuple[str, ...]
    exact: bool


@dataclass(frozen=True, kw_only=True)
class OrderRefused:
    """The author's order cannot be kept, though the product can be built.

    Args:
        path: of the first entry that fails.
        position: its number in the author's row from 0, None for a hint.
        moving: the parts that it puts on.
        present: the parts that are there by then; for an order in part, those of the
            loop that the entry closes.
        blocks: for each direction in which the parts would have to leave again, one
            part of them that cannot, and why; () if the entry's parts cannot be put
            together by themselves.
        reasons: what stands against it, in sentences.
    """

    path: Path
    position: int | None
    moving: tuple[str, ...]
    present: tuple[str, ...]
    blocks: tuple[tuple[Vec3, Block], ...]
    reasons: tuple[str, ...]
    nearest: NearestOrder | None

    @property
    def blocks_by_reason(self) -> tuple[tuple[Block, tuple[Vec3, ...]], ...]:
        """Each reason's first block with all directions that it bars, in their order."""
        found: dict[str, tuple[Block, list[Vec3]]] = {}
        for direction, block in self.blocks:
            found.setdefault(block.reason, (block, []))[1].append(direction)
        return tuple((block, tuple(ways)) for block, ways in found.values())


@dataclass(frozen=True, kw_only=True)
class WorkshopPlan:
    """How parts that are packed as one are put together in the workshop."""

    name: str
    parts: tuple[str, ...]
    operations: tuple[Operation, ...]
    precedences: tuple[Precedence, ...]
    order: tuple[str, ...]
    steps: tuple[Step, ...]
    minutes: float
    wait_minutes: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A feasible order and the proof material behind it.

    Args:
        mating_orders: in how many orders the matings and loads of this plan could
            be done without breaking a precedence: at least, at most (the same
            number when it was counted).
        order_strength: the share of pairs of them whose order is fixed, 0 to 1.
        cost: what the order costs by the planner's weights, parts that come ready as one
            body each; ``least_cost``: no order that was compared, or that could have
            been, costs less.
        floor: mm, the greatest length and width that the work takes up as it lies or stands.
        workshop: the plans of what is made before packing; nothing of it is in the
            operations and steps of the product, to which it comes as one part.
    """

    operations: tuple[Operation, ...]
    precedences: tuple[Precedence, ...]
    order: tuple[str, ...]
    steps: tuple[Step, ...]
    motion_class: str
    search: str  # "exact" or "guided", with the reason
    persons: int
    minutes: float
    wait_minutes: float = 0.0
    mating_orders: tuple[int, int] = (1, 1)
    order_strength: float = 1.0
    workshop: tuple[WorkshopPlan, ...] = ()
    cost: float = 0.0
    least_cost: float = 0.0
    floor: tuple[float, float] = (0.0, 0.0)

    def operation(self, id: str) -> Operation:
        """Return the operation of that id; KeyError is a fault in kdkit."""
        for operation in self.operations:
            if operation.id == id:
                return operation
        raise KeyError(id)
