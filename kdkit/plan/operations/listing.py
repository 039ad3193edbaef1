"""From an order of arrivals to operations, and the reasons for their order.

Gives operations in the order that a maker would like and a precedence graph
whose every edge carries a reason; the graph alone decides what may change
places.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kdkit.plan.blocking import members
from kdkit.plan.operations.finishing import finish
from kdkit.plan.operations.glue_ups import form_glue_ups
from kdkit.plan.operations.mating import BuildWriter
from kdkit.plan.order.build import (
    Build,
    Mating,
    Scene,
    Worked,
    first_together,
    loaded_after,
    mate_id,
)
from kdkit.plan.plan import Operation, OperationKind, Precedence

__all__ = ["list_operations", "list_workshop_operations", "workshop_builds"]


def list_operations(scene: Scene, build: Build) -> tuple[list[Operation], list[Precedence]]:
    """Return the operations of a product in the order of doing, and the reasons for it."""
    worked = Worked()
    late = _late_fittings(scene, build)
    writer = BuildWriter(scene, worked, late, loaded_after(scene, build), list(_walk(build)))
    inner: dict[int, list[str]] = {}
    for load in build.loads:  # first: once it stands, it is fixed to the wall and filled
        if load.build is not None and not load.build.workshop:
            inner[load.parts] = writer.build(load.build)
    done = [id for ids in inner.values() for id in ids] + writer.build(build)
    finish(scene, worked, build, done, late, inner, writer.hang)
    _keep_rooms(worked)
    form_glue_ups(scene, worked)
    edges = [Precedence(before=a, after=b, reason=r) for (a, b), r in worked.precedences.items()]
    return worked.operations, edges


def workshop_builds(build: Build) -> Iterator[Build]:
    """Yield what is put together before packing, in the order in which it is needed."""
    for inner in (build.base_build, *(m.build for m in (*build.matings, *build.loads))):
        if inner is not None:
            yield from workshop_builds(inner)
            if inner.workshop:
                yield inner


def list_workshop_operations(
    scene: Scene, build: Build
) -> tuple[list[Operation], list[Precedence]]:
    """Return the operations that put parts together before packing, and their reasons."""
    worked = Worked()
    late, walk = _late_fittings(scene, build), list(_walk(build))
    BuildWriter(scene, worked, late, (), walk, within=build.parts).build(build)
    for cap in [o for o in worked.operations if o.kind is OperationKind.CAP]:
        worked.operations.remove(cap)
        worked.operations.append(cap)
    _keep_rooms(worked)
    form_glue_ups(scene, worked)
    edges = [Precedence(before=a, after=b, reason=r) for (a, b), r in worked.precedences.items()]
    return worked.operations, edges


def _keep_rooms(worked: Worked) -> None:
    """Whatever closes a tool's room comes after the work that needs it."""
    for operation in list(worked.operations):
        for others, reason in worked.closed.get(operation.id, {}).items():
            closes = first_together(worked.operations, others | set(operation.parts))
            if closes is not None:
                worked.before([operation.id], closes.id, reason)


def _walk(build: Build) -> Iterable[tuple[Mating, int]]:
    """Every mating with the mask of what is already there, inner builds first.

    Without what is done before packing.
    """
    if build.base_build is not None and not build.base_build.workshop:
        yield from _walk(build.base_build)
    there = build.base
    for mating in (*build.matings, *build.loads):
        if mating.build is not None and not mating.build.workshop:
            yield from _walk(mating.build)
        yield mating, there
        there |= mating.parts


def _late_fittings(scene: Scene, build: Build) -> dict[tuple[str, str], list[str]]:
    """(part, part it aims at) → matings that its hardware would hinder."""
    late: dict[tuple[str, str], list[str]] = {}
    names = scene.blocking.names
    for mating, there in _walk(build):
        present = there | mating.parts
        for part in members(mating.parts):
            for edge in scene.blocking.conditional[mating.leaving][part]:
                missing = 0 if edge.tool else edge.needs & ~present
                if there >> edge.to & 1 and missing:
                    for aim in members(missing):
                        for owner in (part, edge.to):
                            key = (names[owner], names[aim])
                            late.setdefault(key, []).append(mate_id(scene, mating))
    return {key: sorted(set(ids)) for key, ids in late.items()}
