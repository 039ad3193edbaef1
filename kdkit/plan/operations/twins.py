"""Subassemblies built alike: their steps are told once, with how many of them are made.

Three drawers alike, each put together in the same seven steps, are seven steps done
three times, not twenty-one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kdkit.plan.plan import Operation

__all__ = ["find_twins"]


def find_twins(
    operations: Sequence[Operation], pieces: Mapping[str, int]
) -> Mapping[str, tuple[str, ...]]:
    """Return the subassemblies that are built alike, under the first of each kind.

    Alike are those whose operations, in their order, do the same to the same pieces in the
    same posture along the same ways.

    Args:
        operations: in the order in which they are done.
        pieces: the number of each part's piece, from ``parts.sameness``.
    """
    built: dict[str, list[Operation]] = {}
    for operation in operations:
        if operation.subassembly:
            built.setdefault(operation.subassembly, []).append(operation)
    alike: dict[object, list[str]] = {}
    for name, own in built.items():
        alike.setdefault(_doings(own, pieces), []).append(name)
    return {names[0]: tuple(names) for names in alike.values() if len(names) > 1}


def _doings(operations: Iterable[Operation], pieces: Mapping[str, int]) -> object:
    roles: dict[str, int] = {}
    doings = []
    for operation in operations:
        worked = tuple(roles.setdefault(part, len(roles)) for part in operation.parts)
        doings.append(
            (
                operation.kind,
                worked,
                tuple(pieces[part] for part in operation.parts),
                tuple(sorted(pieces[part] for part in operation.onto)),
                operation.direction,
                operation.moves,
                operation.posture,
                tuple(sorted(operation.items.items())),
                len(operation.fasteners),
                operation.tool,
                operation.does,
                operation.why_two,
            )
        )
    return tuple(doings)
