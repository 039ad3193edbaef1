"""Joints whose parts do not touch: which meeting a fitting asks for, and whether it suits.

What a fitting needs beyond a touch stands in the catalogue: ``limits.gap``, ``needs``,
``counts``. Where a measure does not come out, the message says which of the catalogue's
fittings and options would make it.

K follows from the door, not the overlay from K. The maker places the door; a hinge whose K
does not come out is told, with the plates and hinges that would do.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from kdkit.catalogue.entries import Catalogue, Counts, Fitting
from kdkit.catalogue.formulas import formula_value
from kdkit.diagnostics import Problem, error
from kdkit.frames import AXES, dot
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.geometry.meetings import MEETINGS, NoMeeting, facing_meeting, hung_meeting
from kdkit.geometry.surfaces import reach
from kdkit.joinery.fasteners import measures
from kdkit.joinery.members import Member
from kdkit.model.resolved import FittingPlacement, Part, Standpoint
from kdkit.parts.mass import part_mass
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "asks_for_meeting",
    "check_meeting",
    "count_for",
    "counted",
    "find_meeting",
    "length_along",
]

_MOST_OFFERS = 6
_FAR = 100.0
"""A gap that is wrong by more than this is no wrong size: another part is meant."""


def asks_for_meeting(fitting: Fitting | None) -> bool:
    """Tell whether a fitting joins parts that do not touch."""
    return fitting is not None and any(kind in MEETINGS for kind in fitting.contact)


def find_meeting(
    butting: Part,
    receiving: Part,
    fitting: Fitting,
    placement: FittingPlacement,
    seen: Standpoint,
) -> Contact | NoMeeting:
    """Return the meeting that a fitting asks for, or why there is none."""
    if ContactKind.HUNG in fitting.contact:
        return hung_meeting(butting, receiving)
    opens = placement.opens
    way = seen.way(opens if opens is not None and opens in AXES else "-y")
    return facing_meeting(butting, receiving, way)


def check_meeting(
    contact: Contact,
    fitting: Fitting,
    placement: FittingPlacement,
    members: Mapping[str, Member],
    catalogue: Catalogue,
    where: str,
) -> tuple[Problem, ...]:
    """Return what of a meeting does not suit its fitting, in numbers, and what would."""
    problems = []
    limits = fitting.limits.gap
    if limits is not None and not limits[0] - TOLERANCE <= contact.gap <= limits[1] + TOLERANCE:
        problems.append(
            error(
                "fitting-gap",
                f"the gap between {contact.butting} and {contact.receiving} is"
                f" {mm_text(contact.gap, 2)} mm, but {placement.fitting} takes"
                f" {_span(*limits)}",
                placement.path,
                where=where,
                help=_mend_gap(contact, limits, members),
            )
        )
    if placement.across and contact.kind is ContactKind.HUNG:
        problems.append(
            error(
                "fitting-position",
                f"`across` does not move {placement.fitting}: its place follows from the door",
                (*placement.path, "across"),
                where=where,
                help="delete it; `at` moves it along the edge",
            )
        )
    values = _values(contact, members)
    for need in fitting.needs:
        try:
            shown = _missed(need.value, need.least, need.most, {**values, **fitting.options})
        except ArithmeticError as fault:
            problems.append(
                error(
                    "fitting-number",
                    f"{placement.fitting}, {need.what}: {fault}",
                    placement.path,
                    where=where,
                    help="mend the formula in the catalogue, or set the fitting's options",
                )
            )
            continue
        if shown is None:
            continue
        value, wanted = shown
        offers = list(itertools.islice(_offers(contact, catalogue, members, fitting), _MOST_OFFERS))
        problems.append(
            error(
                "fitting-need",
                f"{need.what} comes to {mm_text(value, 2)} mm with {placement.fitting},"
                f" it must be {wanted}",
                placement.path,
                where=where,
                help=f"these would do: {'; '.join(offers)}" if offers else _move_door(contact),
            )
        )
    return tuple(problems)


def counted(
    placement: FittingPlacement,
    fitting: Fitting,
    contact: Contact,
    butting: Part,
    catalogue: Catalogue,
) -> FittingPlacement:
    """Return the placement with a count, where neither the maker nor a spread gives one.

    A runner or the like stands once, in the middle of the common height.
    """
    if placement.at is not None or placement.count is not None:
        return placement
    if fitting.counts is not None:
        length = length_along(butting, contact)
        mass = part_mass(butting, catalogue)
        return replace(placement, count=count_for(fitting.counts, length, mass))
    if contact.kind is ContactKind.FACING and placement.pitch is None:
        return replace(placement, count=1)
    return placement


def count_for(counts: Counts, run: float, mass: float) -> int:
    """Return how many a part of that length and mass takes; the greatest beyond the table."""
    least = 1
    for rows, measure in ((counts.run, run), (counts.mass, mass)):
        if rows:
            fits = [n for most, n in rows if measure <= most + TOLERANCE]
            least = max(least, fits[0] if fits else rows[-1][1])
    return least


def length_along(part: Part, contact: Contact) -> float:
    """Return how long a part is along the run of a contact."""
    low, high = reach([part], contact.frame.i)
    return high - low


def _values(contact: Contact, members: Mapping[str, Member]) -> dict[str, float]:
    return {
        "t_butting": members[contact.butting].part.thickness,
        "t_receiving": members[contact.receiving].part.thickness,
        **measures(contact),
    }


def _missed(
    value: float | str,
    least: float | str | None,
    most: float | str | None,
    values: Mapping[str, float],
) -> tuple[float, str] | None:
    """Return a measure and what it must be, None when it is right.

    Raises:
        ArithmeticError: a formula gives no number here.
    """
    is_now = formula_value(value, values)
    low = None if least is None else formula_value(least, values)
    high = None if most is None else formula_value(most, values)
    if (low is None or is_now >= low - TOLERANCE) and (high is None or is_now <= high + TOLERANCE):
        return None
    return is_now, _span(low, high)


def _span(low: float | None, high: float | None) -> str:
    if low is None:
        return f"at most {mm_text(high or 0.0)} mm"
    if high is None:
        return f"at least {mm_text(low)} mm"
    if high - low <= TOLERANCE:
        return f"{mm_text(low)} mm"
    return f"{mm_text(low)} to {mm_text(high)} mm"


def _offers(
    contact: Contact, catalogue: Catalogue, members: Mapping[str, Member], fitting: Fitting
) -> Iterator[str]:
    """Give fittings and sizes of the catalogue that would suit a meeting, the same first."""
    values = _values(contact, members)
    for key, other in sorted(
        catalogue.fittings.items(), key=lambda e: (e[1].title != fitting.title, e[0])
    ):
        if other.kind != "joint" or contact.kind not in other.contact:
            continue
        limits = other.limits.gap
        if limits is not None and not limits[0] <= contact.gap + TOLERANCE <= limits[1] + 0.02:
            continue
        found = []
        names = list(other.choices)
        for sizes in itertools.product(*(other.choices[name] for name in names)):
            options = {**other.options, **dict(zip(names, sizes, strict=True))}
            if _would_do(other, {**values, **options}):
                found.append(sizes)
        if found:
            yield f"{key}{_sizes_said(other, found)}"


def _would_do(fitting: Fitting, values: Mapping[str, float]) -> bool:
    try:
        return all(_missed(n.value, n.least, n.most, values) is None for n in fitting.needs)
    except ArithmeticError:
        return False


def _sizes_said(fitting: Fitting, found: Sequence[tuple[float, ...]]) -> str:
    """Return the sizes that would do, without the options of which every size would."""
    names = list(fitting.choices)
    matter = [
        n
        for n, name in enumerate(names)
        if any(
            (*sizes[:n], size, *sizes[n + 1 :]) not in found
            for sizes in found
            for size in fitting.choices[name]
        )
    ]
    if not matter:
        return ""
    rows = list(dict.fromkeys(tuple(sizes[n] for n in matter) for sizes in found))
    if len(matter) == 1:
        return f" with {names[matter[0]]} {' or '.join(f'{size:g}' for (size,) in rows)}"
    said = (
        ", ".join(f"{names[n]} {size:g}" for n, size in zip(matter, row, strict=True))
        for row in rows
    )
    return f" with {' or '.join(said)}"


def _mend_gap(contact: Contact, limits: tuple[float, float], members: Mapping[str, Member]) -> str:
    wanted = min(max(contact.gap, limits[0]), limits[1])
    change = wanted - contact.gap
    way = "wider" if change < 0 else "narrower"
    if contact.kind is ContactKind.HUNG:
        return f"move {contact.butting} by {mm_text(abs(change), 2)} mm"
    if abs(change) > _FAR:
        return (
            f"bring them together, or write under `to` what {contact.butting} looks at from near by"
        )
    if members[contact.butting].part.kind == "bought":
        way = "longer" if change < 0 else "shorter"
        return f"make {contact.butting} {way} by {mm_text(abs(change), 2)} mm at this end"
    said = (
        f"make what {contact.butting} belongs to {way} by {mm_text(abs(change), 2)} mm on this side"
    )
    width = _box_width(contact, members)
    if width is None:
        return said
    return (
        f"{said}; it is {mm_text(width, 2)} mm wide, and with as much on its other side it should"
        f" be {mm_text(width - 2 * change, 2)} mm"
    )


def _box_width(contact: Contact, members: Mapping[str, Member]) -> float | None:
    """Return how wide the box is that the butting part is a side of: over its unit's sides."""
    unit, k = members[contact.butting].part.unit, contact.frame.k
    if not unit:
        return None
    reach: list[float] = []
    for part in (m.part for m in members.values() if m.part.unit == unit):
        along = dot(part.frame.k, k)
        if abs(along) > 1 - 1e-6:
            face = dot(part.frame.origin, k)
            reach += [face, face - along * part.thickness]
    width = max(reach) - min(reach)
    return width if width > 2 * members[contact.butting].part.thickness else None


def _move_door(contact: Contact) -> str:
    return (
        f"no fitting of the catalogue suits an overlay of {mm_text(contact.overlay, 2)} mm:"
        f" move the edge of {contact.butting}"
    )
