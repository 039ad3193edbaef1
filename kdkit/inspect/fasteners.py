"""Screws, nails and pins: do they stay inside the wood, do they hold enough."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kdkit.catalogue.entries import Fitting, Item
from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import add, dot, scaled, sub
from kdkit.geometry.meetings import MEETINGS
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.strength import nail_withdrawal, screw_withdrawal
from kdkit.joinery.placed import Fastener, PlacedItem
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "Driven",
    "check_fasteners_come_out",
    "check_fasteners_hold",
    "driven_items",
    "named",
    "placed_words",
    "shank_of",
]

_AHEAD = 0.5  # cosine between an item and the joint's normal from which it goes into a part

_SCREW_HOLD = 4.0
"""Thread in the second piece, in diameters of the screw. Common practice, no source."""


@dataclass(frozen=True)
class Driven:
    """An item that points into its last part.

    Args:
        held: how much of it lies before that part, from its mouth, mm.
        inside: how much of it lies past the surface of that part, mm.
        room: how much wood that part has along the item, mm.
    """

    fastener: Fastener
    fitting: Fitting
    item: PlacedItem
    entry: Item
    part: Part
    held: float
    inside: float
    room: float


def driven_items(inspection: Inspection) -> Iterator[Driven]:
    """Give every item that goes, straight or aslant, into the last part of its fastener."""
    for fastener in inspection.joinery.fasteners:
        fitting = inspection.fitting(fastener.fitting)
        if fitting is None:
            continue
        for item in fastener.items:
            entry = inspection.catalogue.items.get(item.item)
            if entry is None or not entry.pieces:
                continue
            along = scaled(item.frame.k, -1.0)
            ahead = dot(along, fastener.frame.k)
            if ahead > _AHEAD and fastener.butting is not None:
                last = fastener.butting
            elif ahead < -_AHEAD:
                last = fastener.receiving
            else:
                continue
            part = inspection.part(last)
            length = -min(piece.z0 for piece in entry.pieces)
            towards = sub(fastener.frame.origin, item.frame.origin)
            held = dot(towards, fastener.frame.k) / ahead
            surface = add(item.frame.origin, scaled(along, held))
            room = inspection.members[last].depth_through(
                part.frame.point_to_inner(surface), part.frame.vector_to_inner(along)
            )
            yield Driven(fastener, fitting, item, entry, part, held, length - held, room)


def check_fasteners_come_out(inspection: Inspection) -> Iterable[Problem]:
    """No screw, nail or pin comes out of the other side of its last part."""
    told: set[tuple[object, ...]] = set()
    for driven in driven_items(inspection):
        out = driven.inside - driven.room
        key = (driven.fastener.joint, driven.item.item, driven.part.name)
        if out <= TOLERANCE or key in told:
            continue
        told.add(key)
        yield error(
            "fastener-comes-out",
            f"{named(driven)} comes out of {driven.part.name} by {mm_text(out)} mm:"
            f" {mm_text(driven.inside)} mm of it go into {mm_text(driven.room)} mm of wood",
            driven.fastener.path,
            where=placed_words(driven),
            help="use a shorter one",
        )


def check_fasteners_hold(inspection: Inspection) -> Iterable[Problem]:
    """A screw or nail has enough of its length in the piece that it holds to.

    Source:
        Nails: two thirds of the length in the second piece, from memory of FM 5-426,
        Carpentry, US Department of the Army, 1995. Screws: four diameters, common
        practice, no source.
    """
    told: set[tuple[object, ...]] = set()
    apart = {j.name for j in inspection.joinery.joints if j.contact.kind in MEETINGS}
    for driven in driven_items(inspection):
        if driven.fastener.butting is None or driven.fastener.joint in apart:
            continue  # it holds a plate or a runner on one part, across its own length
        doing = {a.do for a in driven.fitting.actions if a.item == driven.item.item}
        key = (driven.fastener.joint, driven.item.item, driven.part.name)
        in_wood = not driven.entry.machine_thread
        if key in told or not in_wood or not doing & {"nail", "drive"}:
            continue
        diameter = shank_of(driven.entry)
        if "nail" in doing:
            length = driven.held + driven.inside
            least = 2 * length / 3
            rule = "two thirds of a nail belong in the second piece"
        else:
            least = _SCREW_HOLD * diameter
            rule = f"{mm_text(_SCREW_HOLD)} diameters are the least"
        if driven.inside >= least - TOLERANCE:
            continue
        told.add(key)
        yield warning(
            "fastener-holds-little",
            f"{named(driven)} stands {mm_text(driven.inside)} mm in {driven.part.name},"
            f" {mm_text(least)} mm is the least: {rule}{_pull(inspection, driven, diameter)}",
            driven.fastener.path,
            where=placed_words(driven),
            help="use a longer one, or a thinner board to hold",
        )


def _pull(inspection: Inspection, driven: Driven, diameter: float) -> str:
    """Return an estimate of what pulls it out, with its assumptions, or nothing."""
    strength = inspection.strength(driven.part)
    if strength is None or driven.inside <= 0:
        return ""
    nail = any(a.do == "nail" for a in driven.fitting.actions)
    formula = nail_withdrawal if nail else screw_withdrawal
    force = formula(
        specific_gravity=strength.density / 1000, diameter=diameter, length=driven.inside
    )
    return (
        f" (it would pull out at about {mm_text(force, 0)} N, as if in side grain of solid wood"
        f" of {mm_text(strength.density, 0)} kg/m³; an estimate, no rating)"
    )


def shank_of(entry: Item) -> float:
    """Return the diameter of an item's thread, or of its longest piece in the wood."""
    inside = [p for p in entry.pieces if p.z0 < 0]
    threads = [p for p in inside if p.surface == "thread"] or inside
    return max(threads, key=lambda p: p.z1 - p.z0).d0


def named(driven: Driven) -> str:
    return f"{driven.entry.title} {driven.entry.size}".strip()


def placed_words(driven: Driven) -> str:
    fastener = driven.fastener
    if fastener.butting is None:
        return f"{fastener.joint} on {fastener.receiving}"
    return f"{fastener.butting} to {fastener.receiving}"
