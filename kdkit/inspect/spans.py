"""What a part that lies is carried by, along its length and across it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from kdkit.catalogue.work import pulls_together
from kdkit.frames import Vec3, dot, sub
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.feet import feet_under
from kdkit.model.resolved import Part
from kdkit.parts.size import part_size

__all__ = ["Span", "free_span", "spans_of"]

_LYING = 0.95  # steepness of a face from which a part lies: it slopes by 18 degrees at most
_ALL_ALONG = 0.75  # of its length on which something under it carries it all along
_POINT = 0.25  # of its length up to which a contact carries it at one place


@dataclass(frozen=True, kw_only=True)
class Span:
    """A lying part as a beam, one way.

    Args:
        length, width: of the whole part, along and across the beam, mm.
        supports: where it is carried, from one end, mm; of two ends the inner edges.
        along: the beam runs along the grain (of the part's length).
        free: the longest way between two supports; of what juts out, twice that.
        held: it is carried at one end alone and held stiff there.
    """

    length: float
    width: float
    supports: tuple[float, ...]
    along: bool
    free: float
    held: bool


def free_span(inspection: Inspection, part: Part) -> float | None:
    """Return the shortest free way of a part that bears between two others, mm.

    None where it does not lie, or something carries it all along.
    """
    spans = [span.free for span in spans_of(inspection, part) if not span.held]
    return min(spans) if spans else None


def spans_of(inspection: Inspection, part: Part) -> tuple[Span, ...]:
    """Return a lying part as a beam along its length and across it, where either carries.

    Upright parts that it is joined to carry it, what it rests on, and fixtures under it. What
    lies under it all along, one way, is a support the other way; where nothing else is one, it
    carries the part that way, too. Held at one end alone it counts where nothing better does.
    """
    if abs(part.frame.k[2]) < _LYING:
        return ()
    size = part_size(part)
    found, carried = [], []
    for n, axis in enumerate((part.frame.i, part.frame.j)):
        places: list[tuple[float, float]] = []
        for low, high, below in _carried(inspection, part, axis):
            if high - low <= _POINT * size[n]:
                places.append((low, high))
            elif below and high - low >= _ALL_ALONG * size[n]:
                carried.append(n)
            elif below:
                places += [(low, low), (high, high)]
        span = _span(places, size[n], size[1 - n], along=n == 0)
        if span is not None:
            found.append(span)
    found = [s for s in found if not s.held] or found
    if len(found) == 1 and (0 if found[0].along else 1) in carried:
        return ()
    return tuple(found)


def _carried(inspection: Inspection, part: Part, axis: Vec3) -> Iterator[tuple[float, float, bool]]:
    """Give from where to where along an axis something carries a part, and whether from below."""
    for contact in inspection.contacts.get(part.name, ()):
        butts = contact.butting == part.name
        other = inspection.part(contact.receiving if butts else contact.butting)
        below = contact.frame.k[2] * (1 if butts else -1) > 0.5
        if not below and (abs(other.frame.k[2]) > 0.5 or not _holds(inspection, contact)):
            continue
        corners = [contact.frame.point_to_outer((x, y, 0.0)) for x, y in contact.polygon]
        ends = [dot(sub(p, part.frame.origin), axis) for p in corners]
        yield min(ends), max(ends), below
    length, width = part_size(part)
    longways = part.frame.i if length >= width else part.frame.j
    if axis == longways:  # points, which keep no strip in between from bending the other way
        for foot in feet_under(inspection.joinery, part.name):
            at = dot(sub(foot.frame.origin, part.frame.origin), axis)
            yield at, at, True
    for name in inspection.carriers.get(part.name, ()):
        carrier = inspection.part(name).frame
        if abs(dot(carrier.k, axis)) > 0.9:
            at = dot(sub(carrier.origin, part.frame.origin), axis)
            yield at, at, False


def _holds(inspection: Inspection, contact: Contact) -> bool:
    """Tell whether two upright surfaces are joined so that one carries the other."""
    if contact.kind is ContactKind.SUNK:
        return True
    pair = {contact.butting, contact.receiving}
    for joint in inspection.joints_of.get(contact.butting, ()):
        if {joint.butting, joint.receiving} == pair:
            fittings = map(inspection.fitting, joint.fittings)
            if joint.fasteners or any(f is None or pulls_together(f) for f in fittings):
                return True
    return False


def _span(
    places: list[tuple[float, float]], length: float, width: float, *, along: bool
) -> Span | None:
    places = sorted((min(max(a, 0.0), length), min(max(b, 0.0), length)) for a, b in places)
    if not places:
        return None
    middles = [(a + b) / 2 for a, b in places]
    supports = [places[0][1], *middles[1:-1], places[-1][0]] if len(places) > 1 else middles
    supports = sorted({round(s, 3) for s in supports})
    if supports[-1] - supports[0] < length / 4:
        at = supports[0] if supports[0] < length / 2 else supports[-1]
        if _POINT * length < at < (1 - _POINT) * length:
            return None  # on one foot in the middle: nobody builds it so
        out = max(at, length - at)
        return Span(
            length=length, width=width, supports=(at,), along=along, free=2 * out, held=True
        )
    free = max(b - a for a, b in pairwise(supports))
    free = max(free, 2 * supports[0], 2 * (length - supports[-1]))
    return Span(
        length=length,
        width=width,
        supports=tuple(supports),
        along=along,
        free=free,
        held=False,
    )
