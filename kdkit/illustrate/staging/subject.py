"""From a step's state to the bodies and guide lines that are drawn.

Everything stands in the picture's places: product frame plus the shifts of ``Apart``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from kdkit.catalogue.entries import Catalogue, Item
from kdkit.frames import Vec3, add, distance, dot, scaled, sub
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate.bodies.body import Body, Wire
from kdkit.illustrate.bodies.hardware import item_body
from kdkit.illustrate.bodies.parts import part_body
from kdkit.illustrate.staging.build_state import ItemState, StepState
from kdkit.illustrate.staging.explode import Apart, item_frame
from kdkit.joinery.placed import Joinery

__all__ = ["Subject", "closed_in", "fitted_rise", "item_name", "step_bodies", "step_wires"]

FINENESS = (0.13, 0.25, 0.5)
"""Scales for which the curves of parts are made; a drawing takes the next larger."""

PROUD = 0.25
"""A flush head is drawn this much above its surface, so that it is seen on it; mm."""


LEAST_HEAD = 0.4
"""Fitted pieces that are smaller than this on paper are left out, mm."""

BETWEEN = 8.0
"""A piece whose mouth lies this near to where two parts meet sits between them, mm."""


FLUSH = -0.5
"""Of a fitted piece what lies above this z is drawn: a flush head keeps its face; mm."""


@dataclass(kw_only=True)
class Subject:
    """What all figures of a product are drawn from; keeps the bodies of parts it made."""

    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue
    _made: dict[tuple[str, float], Body] = field(default_factory=dict)

    def body(self, name: str, role: str, scale: float) -> Body:
        """Return a part's body in its place, drilled in the workshop."""
        fineness = next((f for f in FINENESS if scale <= f), FINENESS[-1])
        key = (name, fineness)
        if key not in self._made:
            bores = [b for b in self.joinery.bores if b.part == name and b.stage == "workshop"]
            self._made[key] = part_body(
                self.assembly.part(name),
                self.joinery.grooves,
                bores,
                self.joinery.slots,
                scale=fineness,
            )
        return self._made[key].in_role(role)


def item_name(one: ItemState) -> str:
    """Return the body's name of a piece of hardware."""
    return f"{one.fastener.id}#{one.item.index}"


def step_bodies(
    subject: Subject,
    state: StepState,
    apart: Apart,
    *,
    scale: float,
    near: tuple[Vec3, float] | None = None,
    handled: str = "fastener",
) -> tuple[Body, ...]:
    """Return parts, then hardware, as bodies.

    Args:
        scale: mm on paper for one mm, for the fineness of curves.
        near: only hardware within a distance of a point (a detail), else all.
        handled: role of the hardware that this step handles.
    """
    bodies = []
    for name in state.parts:
        role = "new" if name in state.new else "existing"
        body, shift = subject.body(name, role, scale), apart.parts[name]
        bodies.append(body if shift == (0.0, 0.0, 0.0) else body.moved(shift))
    for one, shift, mouth in zip(state.items, apart.items, apart.mouths, strict=True):
        frame = item_frame(one, shift)
        if near is not None and distance(frame.origin, near[0]) > near[1]:
            continue
        if not one.new and closed_in(one, apart):
            continue
        item = subject.catalogue.items[one.item.item]
        if not one.handled and _breadth(item) * scale < LEAST_HEAD:
            continue
        role = handled if one.handled else "existing"
        body = item_body(
            item_name(one),
            item,
            frame,
            role=role,
            scale=scale,
            above=None if one.new else FLUSH,
            locked=one.locked,
        )
        if body.form.faces:
            bodies.append(
                body if one.new else body.moved(scaled(frame.k, fitted_rise(item, mouth)))
            )
    return tuple(bodies)


def fitted_rise(item: Item, mouth: float) -> float:
    """Return how far along its axis a fitted piece is drawn out of its place, to be seen, mm.

    Args:
        mouth: height of its bore's mouth over the origin of its frame.
    """
    return max(0.0, mouth - max(p.z1 for p in item.pieces)) + PROUD


def _breadth(item: Item) -> float:
    return max(max(p.d0, p.d1 or 0.0) for p in item.pieces)


def closed_in(one: ItemState, apart: Apart) -> bool:
    """Tell whether a fitted piece sits between two parts that are together."""
    fastener = one.fastener
    a, b = fastener.butting, fastener.receiving
    if a is None or a not in apart.parts or b not in apart.parts or one.item.carrier is None:
        return False
    together = distance(apart.parts[a], apart.parts[b]) < 1e-6
    along = abs(dot(one.item.frame.k, fastener.frame.k)) > 0.9
    off = dot(sub(one.item.frame.origin, fastener.frame.origin), fastener.frame.k)
    return together and along and abs(off) < BETWEEN


def step_wires(apart: Apart) -> tuple[Wire, ...]:
    """Return the guide lines, their ends lifted a little off the surfaces."""
    wires = []
    for n, guide in enumerate(apart.guides):
        length = distance(guide.start, guide.end)
        if length < 2 * PROUD:
            continue
        along = scaled(add(guide.end, scaled(guide.start, -1.0)), PROUD / length)
        wires.append(
            Wire(
                name=f"guide {n}",
                points=(add(guide.start, along), add(guide.end, scaled(along, -1.0))),
            )
        )
    return tuple(wires)
