"""What is built from what: the order of arrivals as values, before it becomes work to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from kdkit.catalogue.entries import Catalogue
from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.hardware import Work
from kdkit.plan.plan import Operation, Posture

__all__ = ["Build", "Mating", "Scene", "Worked", "mate_id", "sum_items"]


@dataclass(frozen=True, kw_only=True)
class Mating:
    """Parts (numbers in a mask) brought to the rest. ``leaving``: the direction's
    number in which they could leave again."""

    parts: int
    leaving: int
    posture: Posture
    build: Build | None = None


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

    @property
    def parts(self) -> int:
        """The mask of all parts in it, loose ones included."""
        mask = self.base
        for mating in (*self.matings, *self.loads):
            mask |= mating.parts
        return mask


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What the operations are made from."""

    blocking: Blocking
    joinery: Joinery
    catalogue: Catalogue
    titles: Mapping[str, str]
    laid: frozenset[str]
    alike: Mapping[str, object]


@dataclass
class Worked:
    """Operations in their preferred order, and precedences, as they are found."""

    operations: list[Operation] = field(default_factory=list)
    precedences: dict[tuple[str, str], str] = field(default_factory=dict)

    def add(self, operation: Operation) -> str:
        """Append an operation and return its id."""
        self.operations.append(operation)
        return operation.id

    def before(self, first: Iterable[str], later: str, reason: str) -> None:
        """Note that some operations come before another; the first reason stays."""
        for one in first:
            if one != later:
                self.precedences.setdefault((one, later), reason)


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
