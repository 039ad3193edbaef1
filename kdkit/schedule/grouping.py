"""Parts merged into lettered groups, in the order in which the plan needs them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import count

from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.sameness import Workpiece, find_mirror, group_workpieces
from kdkit.plan.plan import Plan
from kdkit.schedule.datum import Datum, choose_datum

__all__ = ["Group", "group_parts", "letters"]

_ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O, which are read as 1 and 0."""


@dataclass(frozen=True)
class Group:
    """Identical parts under one letter; the first of ``pieces`` stands for all."""

    letter: str
    title: str
    pieces: tuple[Workpiece, ...]
    datum: Datum
    pair: str | None = None

    @property
    def part(self) -> Part:
        """Return the part that stands for the group."""
        return self.pieces[0].part


def letters() -> Iterator[str]:
    """Yield A, B, … Z, AA, AB, … without I and O."""
    for n in count():
        text = _ALPHABET[n % len(_ALPHABET)]
        while n >= len(_ALPHABET):
            n = n // len(_ALPHABET) - 1
            text = _ALPHABET[n % len(_ALPHABET)] + text
        yield text


def group_parts(resolved: Resolved, joinery: Joinery, plan: Plan | None) -> tuple[Group, ...]:
    """Return the groups in the order of their letters, panels before bought parts.

    A group comes where the plan first needs one of its parts (without a plan, where
    the definition has it), its mirror image directly after it.
    """
    order = {part.name: n for n, part in enumerate(resolved.parts)}
    first_use = _first_use(order, plan)
    merged = group_workpieces(resolved.parts, joinery)
    merged.sort(
        key=lambda group: (
            group[0].part.kind != "panel",
            min(first_use[piece.part.name] for piece in group),
        )
    )
    return _name_groups(merged, order)


def _first_use(order: Mapping[str, int], plan: Plan | None) -> dict[str, int]:
    used: dict[str, int] = {}
    if plan is not None:
        for step in plan.steps:
            for name in (*step.new, *step.present, *step.others):
                used.setdefault(name, step.number)
    late = max(used.values(), default=0) + 1
    ranks = sorted(order, key=lambda name: (used.get(name, late), order[name]))
    return {name: rank for rank, name in enumerate(ranks)}


def _name_groups(merged: list[list[Workpiece]], order: Mapping[str, int]) -> tuple[Group, ...]:
    names = letters()
    groups: list[Group] = []
    kept: dict[object, list[int]] = {}
    for n, group in enumerate(merged):
        kept.setdefault(group[0].key, []).append(n)
    named: set[int] = set()
    for at, group in enumerate(merged):
        if at in named:
            continue
        named.add(at)
        near = sorted(
            n for key in group[0].near_keys() for n in kept.get(key, ()) if n not in named
        )
        found = next(
            (n for n in sorted(near) if find_mirror(group[0], merged[n][0]) is not None), None
        )
        if found is None:
            groups.append(_lone_group(next(names), group))
            continue
        named.add(found)
        first, second = sorted(
            (group, merged[found]), key=lambda pieces: order[pieces[0].part.name]
        )
        motion = find_mirror(first[0], second[0])
        assert motion is not None  # a reflection that fits one way fits back
        one, two = _lone_group(next(names), first), _lone_group(next(names), second)
        datum = choose_datum(two.part, (one.datum, motion))
        groups.append(replace(one, pair=two.letter))
        groups.append(replace(two, pair=one.letter, datum=datum))
    return tuple(groups)


def _lone_group(letter: str, pieces: list[Workpiece]) -> Group:
    titles = list(dict.fromkeys(title_of(piece.part) for piece in pieces))
    return Group(
        letter=letter,
        title=" / ".join(titles),
        pieces=tuple(pieces),
        datum=choose_datum(pieces[0].part),
    )


def title_of(part: Part) -> str:
    """Return the part's title, or its name as words."""
    if part.title:
        return part.title
    words = part.name.rsplit(".", 1)[-1].replace("_", " ").replace("-", " ").strip()
    return words[:1].upper() + words[1:]
