"""Subassemblies built alike: their steps are told once, with how many of them are made.

Three drawers alike, each put together in the same seven steps, are seven steps done
three times, not twenty-one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part
from kdkit.plan.plan import Operation

__all__ = ["find_twins", "piece_details"]


def piece_details(parts: Sequence[Part], joinery: Joinery) -> Mapping[str, object]:
    """Return for each part what makes it the same piece as another, as cut and drilled.

    Pieces with equal details are equal in their own frames: outline, board, bands, bores,
    grooves and slots.
    """
    worked: dict[str, list[tuple[object, ...]]] = {part.name: [] for part in parts}
    for bore in joinery.bores:
        mouth = tuple(round(c, 2) + 0.0 for c in bore.mouth)
        into = tuple(round(c, 4) + 0.0 for c in bore.into)
        size = (round(bore.diameter, 2), round(bore.depth, 2), bore.through)
        worked[bore.part].append(("bore", bore.surface, mouth, into, size, bore.purpose))
    for groove in joinery.grooves:
        plan = tuple((round(x, 2) + 0.0, round(y, 2) + 0.0) for x, y in groove.polygon)
        worked[groove.part].append(("groove", groove.surface, plan, round(groove.depth, 2)))
    for slot in joinery.slots:
        mouth = tuple(round(c, 2) + 0.0 for c in slot.mouth)
        size = (round(slot.width, 2), round(slot.length, 2), slot.disc is None)
        worked[slot.part].append(("slot", slot.surface, mouth, size, round(slot.depth, 2)))
    return {
        part.name: (
            part.kind,
            part.material or part.title,
            round(part.thickness, 2),
            tuple((round(x, 2) + 0.0, round(y, 2) + 0.0) for x, y in part.outline),
            part.bands,
            part.cutouts,
            tuple(repr(c) for c in part.round_cutouts),
            tuple(sorted(repr(w) for w in worked[part.name])),
        )
        for part in parts
    }


def find_twins(
    operations: Sequence[Operation], details: Mapping[str, object]
) -> Mapping[str, tuple[str, ...]]:
    """Return the subassemblies that are built alike, under the first of each kind.

    Alike are those whose operations, in their order, do the same to the same pieces in the
    same posture along the same ways.

    Args:
        operations: in the order in which they are done.
        details: of each part, from ``piece_details``.
    """
    built: dict[str, list[Operation]] = {}
    for operation in operations:
        if operation.subassembly:
            built.setdefault(operation.subassembly, []).append(operation)
    alike: dict[object, list[str]] = {}
    for name, own in built.items():
        alike.setdefault(_doings(own, details), []).append(name)
    return {names[0]: tuple(names) for names in alike.values() if len(names) > 1}


def _doings(operations: Iterable[Operation], details: Mapping[str, object]) -> object:
    roles: dict[str, int] = {}
    doings = []
    for operation in operations:
        worked = tuple(roles.setdefault(part, len(roles)) for part in operation.parts)
        doings.append(
            (
                operation.kind,
                worked,
                tuple(details[part] for part in operation.parts),
                tuple(sorted(repr(details[part]) for part in operation.onto)),
                operation.direction,
                operation.posture,
                tuple(sorted(operation.items.items())),
                len(operation.fasteners),
                operation.tool,
                operation.does,
                operation.why_two,
            )
        )
    return tuple(doings)
