"""Which side a fitting is worked from, and where on the butting part it stands.

When nobody says: a lying part opens downwards, an upright one that shows its face to the
front opens to the back, one that stands sideways opens to the middle of the product, and
in the middle to the right. These are the sides that the finished product shows least. In a
unit, all of it is as the unit by itself would have it.
"""

from __future__ import annotations

from kdkit.frames import Vec3, add, dot, scaled, sub, unit
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.model.resolved import Part, Standpoint

__all__ = ["middle_line", "side_worked_from", "slope_of"]

_LYING = 0.7  # cosine to the vertical from which a part lies


def side_worked_from(
    contact: Contact,
    butting: Part,
    opens: str | None,
    middle: Vec3,
    seen: Standpoint,
) -> Vec3 | None:
    """Return j of the fastener frame: the side of the butting part that is worked from.

    Where an edge butts, j looks out of its face or its back; of a bevelled edge, up or
    down its slope, and in a mitre to the short points, where the wood is deepest, unless
    somebody says otherwise. Where two faces lie on each other, j only sets how things are
    turned: along the contact's j.

    Args:
        opens: ``face``, ``back``, a direction of the sayer such as ``-z``, or None.
        middle: of the box around what the sayer holds, in the product.
        seen: who says the joint.

    Returns:
        A unit vector in the product, or None when the part has no such side.
    """
    if contact.worked is not None:
        if opens is not None and dot(contact.worked, _asked(opens, butting, seen)) < 0.1:
            return None
        return contact.worked
    normal = butting.frame.k
    if slope_of(contact, butting) is not None:
        normal = slope_of(contact, butting) or normal
        if contact.kind is ContactKind.MITRE and opens is None:
            return _to_short_points(contact, butting)
    elif abs(dot(normal, contact.frame.k)) > 0.5:
        normal = contact.frame.j
        if opens in ("face", "back"):
            return None
    if opens == "face":
        return normal
    if opens == "back":
        return scaled(normal, -1.0)
    if opens is not None:
        towards = dot(normal, seen.way(opens))
        if abs(towards) < 0.1:
            return None
        return normal if towards > 0 else scaled(normal, -1.0)
    wanted = _hidden_side(contact, normal, middle, seen)
    return normal if dot(normal, wanted) > 0 else scaled(normal, -1.0)


def _asked(opens: str, butting: Part, seen: Standpoint) -> Vec3:
    if opens in ("face", "back"):
        return scaled(butting.frame.k, 1.0 if opens == "face" else -1.0)
    return seen.way(opens)


def _hidden_side(contact: Contact, normal: Vec3, middle: Vec3, seen: Standpoint) -> Vec3:
    """Return the sayer's direction that shows least, for a part that looks along a normal."""
    across, deep, high = (abs(dot(normal, seen.way(axis))) for axis in ("+x", "+y", "+z"))
    if high >= _LYING:
        return seen.way("-z")
    if deep >= across:
        return seen.way("+y")
    aside = dot(sub(contact.frame.origin, middle), seen.way("+x"))
    return seen.way("-x") if aside > 1.0 else seen.way("+x")


def slope_of(contact: Contact, butting: Part) -> Vec3 | None:
    """Return the way up a bevelled edge that butts, towards its face; None if it is square."""
    lean = dot(butting.frame.k, contact.frame.k)
    if not butting.bevels or not contact.butting_surface.startswith("edge:") or abs(lean) < 1e-6:
        return None
    return unit(sub(butting.frame.k, scaled(contact.frame.k, lean)))


def _to_short_points(contact: Contact, butting: Part) -> Vec3 | None:
    slope = slope_of(contact, butting)
    segment = int(contact.butting_surface.removeprefix("edge:"))
    if slope is None or butting.bevels[segment] < 0:
        return slope
    return scaled(slope, -1.0)


def middle_line(contact: Contact, butting: Part) -> Vec3:
    """Return the start of the run on the middle of the butting part's thickness.

    Where a face butts, it is the middle across the contact.
    """
    origin, normal = contact.frame.origin, butting.frame.k
    slope = slope_of(contact, butting)
    if slope is not None:
        height = butting.frame.point_to_inner(origin)[2]
        rise = (-butting.thickness / 2 - height) / dot(slope, normal)
        return add(origin, scaled(slope, rise))
    if abs(dot(normal, contact.frame.k)) > 0.5:
        return origin
    height = butting.frame.point_to_inner(origin)[2]
    return add(origin, scaled(normal, -butting.thickness / 2 - height))
