"""Joints, fixtures and order entries: names checked, ``join`` × ``to`` multiplied out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.resolved import (
    FittingPlacement,
    OrderSaid,
    PutOn,
    ResolvedFixture,
    ResolvedJoint,
    RowsSpec,
)
from kdkit.model.resolving.known_parts import KnownParts
from kdkit.units import mm_text

__all__ = [
    "MAX_JOINTS",
    "check_names",
    "listed",
    "read_fixtures",
    "read_joints",
    "read_order",
    "unknown_part",
]

MAX_JOINTS = 5000
_MOST_IN_A_ROW = 200


def listed(names: str | tuple[str, ...] | None) -> tuple[str, ...]:
    """Return one name or several as a tuple."""
    if names is None:
        return ()
    return (names,) if isinstance(names, str) else names


def unknown_part(name: str, known: Iterable[str], units: Iterable[str], path: Path) -> Problem:
    """Return the problem of a name that no part has, with the nearest one offered."""
    known = list(known)
    near = near_names(name, known)
    inside = [part for part in known if part.startswith(f"{name}.")]
    if name in set(units) and inside:
        help = f"name one of the unit's parts: {', '.join(inside[:6])}"
    elif near:
        help = f"did you mean {near[0]}?"
    else:
        shown = ", ".join(known[:12]) + (", …" if len(known) > 12 else "")
        help = f"parts: {shown}" if known else "the product has no parts"
    return error("unknown-part", f"there is no part {name[:80]!r}", path, help=help)


def check_names(
    names: str | tuple[str, ...] | None,
    parts: KnownParts,
    units: Mapping[str, object],
    path: Path,
    problems: list[Problem],
) -> tuple[str, ...]:
    """Return the names that parts have; report the others."""
    fine = []
    for n, name in enumerate(listed(names)):
        if parts.may_be(name):
            fine.append(name)
        else:
            at = path if isinstance(names, str) else (*path, n)
            problems.append(unknown_part(name, parts, units, at))
    return tuple(fine)


def _numbered(name: str, used: dict[str, int]) -> str:
    """Return a name; the second of the same gets `` 2``, and so on."""
    used[name] = used.get(name, 0) + 1
    return name if used[name] == 1 else f"{name} {used[name]}"


def _numbers(
    said: says.FittingUse | says.Rows, lengths: Lengths, path: Path
) -> Callable[[str], float | None]:
    """Return what works out the length under a key of an entry, if it is said."""

    def number(key: str) -> float | None:
        value = getattr(said, key)
        return None if value is None else lengths.number(value, (*path, key))

    return number


def read_joints(
    joints: Sequence[says.Joint],
    parts: KnownParts,
    units: Mapping[str, object],
    lengths: Lengths,
    base: Path,
) -> tuple[ResolvedJoint, ...]:
    """Return one joint for each pair; a name stays the same when others are added.

    A joint is called ``shelf to left_side``; the second joint of a pair gets `` 2``.
    """
    found: list[ResolvedJoint] = []
    used: dict[str, int] = {}
    problems = lengths.problems
    for n, said in enumerate(joints):
        path = (*base, n)
        joined = check_names(said.join, parts, units, (*path, "join"), problems)
        to = check_names(said.to, parts, units, (*path, "to"), problems)
        fittings = tuple(
            _placement(use, lengths, (*path, "fittings", m)) for m, use in enumerate(said.fittings)
        )
        if len(found) + len(joined) * len(to) > MAX_JOINTS:
            problems.append(error("too-many-parts", f"more than {MAX_JOINTS} joints", path))
            return ()
        for first in joined:
            for second in to:
                if first == second:
                    problems.append(
                        error(
                            "join-itself",
                            f"{first} is joined to itself",
                            (*path, "to"),
                            help="name the part that it meets",
                        )
                    )
                    continue
                pair = f"{first} to {second}"
                name = pair
                if said.name is not None:
                    single = len(listed(said.join)) == len(listed(said.to)) == 1
                    name = said.name if single else f"{said.name}: {pair}"
                found.append(
                    ResolvedJoint(
                        name=_numbered(name, used),
                        path=path,
                        joined=first,
                        to=second,
                        fittings=fittings,
                        workshop=said.workshop,
                    )
                )
    return tuple(found)


def _placement(use: says.FittingUse, lengths: Lengths, path: Path) -> FittingPlacement:
    problems, number = lengths.problems, _numbers(use, lengths, path)
    ends, pitch = number("ends"), number("pitch")
    if ends is not None and ends < 0:
        problems.append(
            error("negative-size", f"ends is {mm_text(ends)} mm", (*path, "ends"), help="0 or more")
        )
    if pitch is not None and pitch < 1:
        problems.append(
            error("out-of-range", f"a pitch of {pitch:g} mm is too small", (*path, "pitch"))
        )
    if use.at is not None:
        for other in ("count", "ends", "pitch", "grid"):
            if getattr(use, other) is not None:
                problems.append(
                    Problem(
                        code="wrong-value",
                        message=f"`at` gives exact positions, {other} would spread them",
                        path=(*path, other),
                        help=f"delete {other} or at",
                        on_key=True,
                    )
                )
        if not use.at:
            problems.append(error("empty-list", "no position is given", (*path, "at")))
    return FittingPlacement(
        fitting=use.fitting,
        path=path,
        at=None if use.at is None else lengths.numbers(use.at, (*path, "at")),
        count=use.count,
        ends=ends,
        pitch=pitch,
        grid=use.grid,
        opens=use.opens,
        across=number("across") or 0.0,
        options=dict(use.options),
    )


def read_fixtures(
    fixtures: Sequence[says.Fixture],
    parts: KnownParts,
    units: Mapping[str, object],
    lengths: Lengths,
    base: Path,
) -> tuple[ResolvedFixture, ...]:
    """Return the fixtures with numbers; one without a name is ``fitting on part``."""
    found = []
    used: dict[str, int] = {}
    problems = lengths.problems
    for n, said in enumerate(fixtures):
        path = (*base, n)
        on = check_names(said.on, parts, units, (*path, "on"), problems)
        carries = check_names(said.carries, parts, units, (*path, "carries"), problems)
        points = []
        for m, point in enumerate(said.at or ()):
            values = lengths.numbers(point, (*path, "at", m))
            if values is not None:
                points.append((values[0], values[1], values[2]))
        name = said.name or f"{said.fitting} on {', '.join(listed(said.on))}"
        found.append(
            ResolvedFixture(
                name=_numbered(name, used),
                path=path,
                fitting=said.fitting,
                on=on,
                face=said.face,
                at=None if said.at is None else tuple(points),
                rows=_rows(said.rows, lengths, (*path, "rows")),
                carries=carries,
                options=dict(said.options),
                turn=lengths.number(said.turn, (*path, "turn")) or 0.0,
            )
        )
    return tuple(found)


def _rows(said: says.Rows | None, lengths: Lengths, path: Path) -> RowsSpec | None:
    if said is None:
        return None
    problems, number = lengths.problems, _numbers(said, lengths, path)
    front, back = number("front"), number("back")
    first, last, pitch = number("first"), number("last"), number("pitch")
    if said.front is None and said.back is None:
        problems.append(error("missing-key", "there is neither a front nor a back row", path))
    for key in ("first", "last"):
        if not said.system and getattr(said, key) is None:
            help = "give a z, or say `system: true` for bores of the part's `system_rows`"
            problems.append(error("missing-key", f"{key} is missing", path, help=help))
    if said.system:
        for key in ("front", "back", "pitch"):
            if key in said.model_fields_set and getattr(said, key) is not None:
                problems.append(
                    Problem(
                        code="wrong-value",
                        message=f"{key} follows from the system rows",
                        path=(*path, key),
                        help=f"delete it: `system_rows` says {key}",
                        on_key=True,
                    )
                )
        first = -math.inf if said.first is None else first
        last = math.inf if said.last is None else last
    if first is None or last is None or pitch is None:
        return None
    if pitch < 5:
        problems.append(
            error("out-of-range", f"a pitch of {pitch:g} mm is too small", (*path, "pitch"))
        )
        return None
    if last < first:
        problems.append(
            error(
                "negative-size",
                f"the last bore at {mm_text(last)} is below the first at {mm_text(first)}",
                (*path, "last"),
            )
        )
        return None
    if not said.system and (last - first) / pitch > _MOST_IN_A_ROW:
        problems.append(
            error("too-many-parts", f"a row has more than {_MOST_IN_A_ROW} bores", (*path, "pitch"))
        )
        return None
    return RowsSpec(front=front, back=back, first=first, last=last, pitch=pitch, system=said.system)


def read_order(
    order: Sequence[str | tuple[str, ...]],
    put_before: Mapping[str, str | tuple[str, ...]],
    parts: KnownParts,
    units: Mapping[str, tuple[str, ...]],
    problems: list[Problem],
    base: Path,
) -> tuple[tuple[OrderSaid, ...], tuple[PutOn, ...]]:
    """Return what is said of the order as pairs, and the names that stand in a row.

    Names in a row follow each other; a list in the row is put on as one. A unit's name
    stands for all its parts.

    Args:
        put_before: for a name the names that come later, and no more than that.
        base: the path of the product or unit.
    """

    def named(names: str | tuple[str, ...], path: Path) -> tuple[str, ...]:
        found: list[str] = []
        for n, name in enumerate(listed(names)):
            if name in units:
                found.extend(units[name])
            elif parts.may_be(name):
                found.append(name)
            else:
                at = path if isinstance(names, str) else (*path, n)
                problems.append(unknown_part(name, [*parts, *units], (), at))
        return tuple(found)

    found: list[OrderSaid] = []
    row: list[PutOn] = []
    for n, said in enumerate(order):
        path = (*base, "order", n)
        first, later = row[-1].parts if row else (), named(said, path)
        if later:
            row.append(PutOn(parts=later, said=" + ".join(listed(said)), path=path))
        if first and later:
            found.append(OrderSaid(first=first, later=later, path=path))
    for name, names in put_before.items():
        path = (*base, "put_before", name)
        first, later = named(name, path), named(names, path)
        if first and later:
            found.append(OrderSaid(first=first, later=later, path=path))
    return tuple(found), tuple(row)
