"""What is built from what: the order of arrivals as values, before it becomes work to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.masses import Masses
from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.hardware import Work
from kdkit.plan.blocking.reach import Reach
from kdkit.plan.choice.costs import Costs, PartFacts
from kdkit.plan.plan import Operation, OperationKind, Posture

__all__ = [
    "Build",
    "Mating",
    "Scene",
    "Worked",
    "first_together",
    "list_arrivals",
    "loaded_after",
    "loaded_elsewhere",
    "mate_id",
    "sum_items",
]


@dataclass(frozen=True, kw_only=True)
class Mating:
    """Parts (numbers in a mask) brought to the rest. ``leaving``: the direction's
    number in which they could leave again. ``hangs``: a door, hung when the rest is there."""

    parts: int
    leaving: int
    posture: Posture
    build: Build | None = None
    hangs: bool = False


@dataclass(frozen=True, kw_only=True)
class Build:
    """A subassembly or the product: a base and what is mated to it, in order."""

    name: str
    base: int
    posture: Posture
    matings: tuple[Mating, ...]
    loads: tuple[Mating, ...] = ()
    base_build: Build | None = None
    stands: bool = False  # ends standing as it will be used
    workshop: bool = False  # done before packing; it arrives as one part
    cost: float = 0.0  # of its order, the builds inside it not counted
    least: float = 0.0  # no order costs less

    @property
    def parts(self) -> int:
        """The mask of all parts in it, loose ones included."""
        mask = self.base
        for mating in (*self.matings, *self.loads):
            mask |= mating.parts
        return mask


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What the operations are made from.

    Args:
        masses: of parts, alone and together; ``spans``: its longest side, mm.
        heavy: kg from which two persons lift.
    """

    blocking: Blocking
    joinery: Joinery
    catalogue: Catalogue
    titles: Mapping[str, str]
    facts: Sequence[PartFacts]
    laid: frozenset[str]
    alike: Mapping[str, object]
    masses: Masses
    spans: Mapping[str, float]
    heavy: float

    @cached_property
    def costs(self) -> Costs:
        """The costs over single parts, for what they know of gravity and pins."""
        return Costs(self.blocking, self.facts)

    @cached_property
    def rooms(self) -> Mapping[tuple[str, int], tuple[Reach, ...]]:
        """What could stand in the way of a piece of work: (fastener, rank) → reach."""
        found: dict[tuple[str, int], tuple[Reach, ...]] = {}
        for reach in self.blocking.reach:
            found[reach.work] = (*found.get(reach.work, ()), reach)
        return found

    def tool_for(self, works: Sequence[Work], present: Iterable[str]) -> str | None:
        """Return the first tool with which all of some like works can be done.

        Args:
            present: names of the parts that are there then.
        """
        there = frozenset(present)
        usual = next((w.tool for w in works if w.tool), None)
        needed = [
            reach.tool(there)
            for work in works
            for reach in self.rooms.get((work.fastener.id, work.rank), ())
        ]
        return next((tool for tool in needed if tool != usual), usual)

    def closed_off(self, works: Iterable[Work]) -> dict[frozenset[str], str]:
        """Return sets of parts in whose company some of the works cannot be done, with why."""
        return self._closed_off((work.fastener.id, work.rank) for work in works)

    def clamps_closed_off(self, joints: Iterable[str]) -> dict[frozenset[str], str]:
        """Return the same for the clamps round some joints."""
        return self._closed_off((joint, -1) for joint in joints)

    def _closed_off(self, works: Iterable[tuple[str, int]]) -> dict[frozenset[str], str]:
        found: dict[frozenset[str], str] = {}
        for work in works:
            for reach in self.rooms.get(work, ()):
                for others in reach.blocked:
                    if others:
                        found.setdefault(others, reach.reason(others, self.titles))
        return found


@dataclass
class Worked:
    """Operations in their preferred order, and precedences, as they are found.

    Args:
        closed: for an operation, the sets of parts in whose company it cannot be done.
        prepare: operations that belong to the closing of a glued joint, under its mating:
            the spreading of the glue, and the pins that go into it.
        when_set: operations that wait until the glue of their joint has set.
    """

    operations: list[Operation] = field(default_factory=list)
    precedences: dict[tuple[str, str], str] = field(default_factory=dict)
    closed: dict[str, Mapping[frozenset[str], str]] = field(default_factory=dict)
    prepare: dict[str, list[str]] = field(default_factory=dict)
    when_set: set[str] = field(default_factory=set)

    def add(self, operation: Operation) -> str:
        """Append an operation and return its id."""
        self.operations.append(operation)
        return operation.id

    def before(self, first: Iterable[str], later: str, reason: str) -> None:
        """Note that some operations come before another; the first reason stays."""
        for one in first:
            if one != later:
                self.precedences.setdefault((one, later), reason)


def first_together(operations: Sequence[Operation], parts: frozenset[str]) -> Operation | None:
    """Return the first mating (or load) after which some parts are all in one piece of work."""
    for operation in operations:
        if operation.kind in (OperationKind.MATE, OperationKind.LOAD) and parts <= {
            *operation.parts,
            *operation.onto,
        }:
            return operation
    return None


def loaded_after(scene: Scene, build: Build) -> tuple[frozenset[str], ...]:
    """Return the parts of each load of a build: what is laid in or hung when the rest is there."""
    names = scene.blocking.names
    return tuple(frozenset(names[p] for p in members(load.parts)) for load in build.loads)


def loaded_elsewhere(loaded: Iterable[frozenset[str]], parts: Iterable[str]) -> frozenset[str]:
    """Return the parts of all loads but those that hold some parts: these are built before."""
    mine = frozenset(parts)
    return frozenset().union(*(load for load in loaded if not load & mine))


def list_arrivals(build: Build, names: Sequence[str]) -> list[tuple[str, ...]]:
    """Return what is put on in turn, the base first; several parts are built first."""
    entries = [_within(build.base, build.base_build, names)]
    return entries + [
        _within(mating.parts, mating.build, names) for mating in (*build.matings, *build.loads)
    ]


def _within(parts: int, build: Build | None, names: Sequence[str]) -> tuple[str, ...]:
    if build is None:
        return tuple(names[part] for part in members(parts))
    return tuple(name for entry in list_arrivals(build, names) for name in entry)


def mate_id(scene: Scene, mating: Mating) -> str:
    """Return the id of a mating's operation."""
    return "mate/" + "+".join(scene.blocking.names[p] for p in members(mating.parts))


def sum_items(works: Sequence[Work]) -> dict[str, int]:
    """Return how many of each item some work uses up, by item key."""
    items: dict[str, int] = {}
    for work in works:
        for item, count in work.items.items():
            items[item] = items.get(item, 0) + count
    return dict(sorted(items.items()))
