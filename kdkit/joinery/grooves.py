"""Grooves: what a part that stands in another one needs cut away for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.catalogue.entries import Fitting
from kdkit.catalogue.formulas import fitting_numbers
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Vec2, Vec3, add, dot, scaled, sub
from kdkit.geometry.assembly import Contact
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Groove
from kdkit.units import TOLERANCE, mm_text

__all__ = ["groove_for"]

_RIGHT_THROUGH = 10_000.0  # mm, longer than any board


def groove_for(
    contact: Contact,
    fitting: Fitting,
    name: str,
    members: Mapping[str, Member],
    joint: str,
    path: Path,
) -> tuple[Groove | None, tuple[Problem, ...]]:
    """Return the groove that takes the butting part of a sunk contact.

    It is centred on the butting part's thickness (where a face stands in, on its width).
    At an end where the butting part reaches the end of the receiving surface, the groove
    runs out there; elsewhere it goes on by the same clearance that it has at its bottom.
    With the option ``through`` it runs out at both ends whatever stands in it.

    Args:
        name: of the fitting, for messages.
        joint: name of the placed joint.
    """
    butting, receiving = members[contact.butting].part, members[contact.receiving]
    inwards = scaled(contact.frame.k, -1.0)
    panel = receiving.part.frame
    surface = contact.receiving_surface
    here = panel.frame_to_outer(surface_frame(receiving.part, surface))
    mouth = panel.point_to_inner(
        add(contact.frame.origin, scaled(contact.frame.i, contact.run / 2))
    )
    t_receiving = receiving.depth_through(mouth, panel.vector_to_inner(inwards))
    where = f"{contact.butting} in {contact.receiving}"
    try:
        numbers = fitting_numbers(
            fitting, t_butting=butting.thickness, t_receiving=t_receiving, sunk=contact.sunk
        )
    except ArithmeticError as fault:
        return None, (error("fitting-number", f"{name}: {fault}", path, where=where),)
    width, depth = numbers.groove_width, numbers.groove_depth
    if width is None or depth is None or width <= 0 or depth <= 0 or depth >= t_receiving:
        return None, (
            error(
                "fitting-number",
                f"the groove of {name} comes to {mm_text(width or 0)} wide and"
                f" {mm_text(depth or 0)} deep in {mm_text(t_receiving)} mm",
                path,
                where=where,
                help="let the part stand in less deep, or make the receiving part thicker",
            ),
        )
    normal = butting.frame.k
    middle = contact.frame.origin
    if abs(dot(normal, contact.frame.k)) > 0.5:  # a face stands in: it is as wide as it is
        width += contact.width - butting.thickness
    else:
        height = butting.frame.point_to_inner(middle)[2]
        middle = add(middle, scaled(normal, -butting.thickness / 2 - height))
    low = min(p[0] for p in contact.polygon)
    high = max(p[0] for p in contact.polygon)
    clearance = max(0.0, depth - contact.sunk)
    if fitting.options.get("through"):
        clearance = _RIGHT_THROUGH
    run = contact.frame.i
    low -= _extension(receiving, surface, add(middle, scaled(run, low)), scaled(run, -1), clearance)
    high += _extension(receiving, surface, add(middle, scaled(run, high)), run, clearance)
    side = contact.frame.j
    centre = dot(sub(middle, contact.frame.origin), side)
    corners = [
        add(
            contact.frame.origin,
            add(scaled(run, along), scaled(side, centre + half * width / 2)),
        )
        for along, half in ((low, -1), (high, -1), (high, 1), (low, 1))
    ]
    polygon: tuple[Vec2, ...]
    if surface in ("face", "back"):
        ends: tuple[Vec2, ...] = receiving.part.outline
        polygon = tuple(panel.point_to_inner(p)[:2] for p in corners)
    else:
        ends = ((0.0, 0.0), (receiving.edge_length(surface), -receiving.part.thickness))
        polygon = tuple(here.point_to_inner(p)[:2] for p in corners)
    polygon = tuple(
        (_snapped(x, [p[0] for p in ends]), _snapped(y, [p[1] for p in ends])) for x, y in polygon
    )
    return (
        Groove(
            part=contact.receiving,
            surface=surface,
            polygon=_counter_clockwise(polygon),
            depth=depth,
            path=path,
            joint=joint,
        ),
        (),
    )


def _extension(
    receiving: Member, surface: str, end: Vec3, outwards: Vec3, clearance: float
) -> float:
    """Return how far a groove goes on past the end of the contact.

    Args:
        end: of the contact, on the surface, in the product.
        outwards: unit vector away from the contact.
    """
    panel = receiving.part.frame
    frame = panel.frame_to_outer(surface_frame(receiving.part, surface))

    def on_surface(distance: float) -> bool:
        p = add(end, scaled(outwards, distance))
        if surface in ("face", "back"):
            x, y, _ = panel.point_to_inner(p)
            return receiving.covers((x, y))
        along, down, _ = frame.point_to_inner(p)
        inside = -TOLERANCE <= along <= receiving.edge_length(surface) + TOLERANCE
        return inside and -receiving.part.thickness - TOLERANCE <= down <= TOLERANCE

    if clearance <= TOLERANCE or not on_surface(5 * TOLERANCE):
        return 0.0
    if on_surface(clearance):
        return clearance
    low, high = 0.0, clearance
    while high - low > TOLERANCE / 100:
        half = (low + high) / 2
        low, high = (half, high) if on_surface(half) else (low, half)
    return low


def _snapped(value: float, ends: Sequence[float]) -> float:
    """Return the nearest end of the board if a coordinate is there but for the arithmetic.

    A groove that stops a millionth of a micrometre short would not run out.
    """
    nearest = min(ends, key=lambda end: abs(end - value))
    return nearest if abs(nearest - value) < TOLERANCE else value


def _counter_clockwise(ring: tuple[Vec2, ...]) -> tuple[Vec2, ...]:
    doubled = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
    )
    return ring if doubled > 0 else tuple(reversed(ring))
