"""Racking: does the frame fold, when its joints are taken as hinges along their runs.

A joint of boards hardly resists turning about its run: its lever is the board's thickness. So
each is a hinge; glue, a bracket, or a contact that is wide across its run too make it stiff. On
one fastener a part turns in place, too; on a short run it turns any way. What stands on the
floor is hinged to it. Backs, rails and braces then stop the frame from folding, or they do not:
the rank of all these conditions says so. What hangs on one other part alone, or turns between
its neighbours while they stay where they are, is no frame and is left out.

Source:
    The count of bars and joints of frames, J. C. Maxwell, On the calculation of the equilibrium
    and stiffness of frames, Philosophical Magazine 27, 1864; the rank of the conditions
    themselves: computed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, warning
from kdkit.frames import PRODUCT, Vec3
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.drawers import is_runner
from kdkit.inspect.furniture import kinds_of
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.small_motions import Motions
from kdkit.joinery.placed import PlacedJoint

__all__ = ["check_racking"]

_FLOOR = "the floor"
_STANDS = 1.0  # mm over the lowest point within which a part stands on the floor
_STOUT = 40.0  # mm across a contact, or along its run, that resist turning. Common practice.
_MOST_BODIES = 150  # the work grows with their cube
_NAMED = 4
_STILL: Vec3 = (0.0, 0.0, 0.0)

_WAYS = (
    "it leans to the front and to the back",
    "it leans to the left and to the right",
    "seen from above it goes out of square",
)
"""What folding about each axis of the product looks like."""


@dataclass(frozen=True)
class _Hinge:
    """Two bodies that keep a point in common, and turn only about the ``free`` axes."""

    one: str
    other: str
    at: Vec3
    fixed: tuple[Vec3, ...]  # axes about which they cannot turn against each other
    stiff: bool = False


def check_racking(inspection: Inspection) -> Iterable[Problem]:
    """A back, a rail, a brace or a stiff joint keeps the frame from folding."""
    hinges = [*_joint_hinges(inspection), *_on_the_floor(inspection)]
    leader = _united(inspection, [(h.one, h.other) for h in hinges if h.stiff])
    between = [
        (leader[h.one], leader[h.other], h) for h in hinges if leader[h.one] != leader[h.other]
    ]
    bodies = _frame(between)
    if not 2 < len(bodies) <= _MOST_BODIES:
        return
    last = leader[_FLOOR] if leader[_FLOOR] in bodies else bodies[0]
    order = [*(b for b in bodies if b != last), last]
    number = {body: n for n, body in enumerate(order)}
    motions = Motions(len(order))
    for one, other, hinge in between:
        if one in number and other in number:
            pair = number[one], number[other]
            ways = (PRODUCT.i, PRODUCT.j, PRODUCT.k)
            motions.nought += [motions.row(*pair, hinge.at, way) for way in ways]
            motions.nought += [
                motions.row(*pair, hinge.at, _STILL, turn=axis) for axis in hinge.fixed
            ]
    motions.stop_those_that_move_alone()
    turned = motions.turning()
    if turned.max(initial=0.0) < 1e-3:
        return
    axis = int(turned.sum(axis=0).argmax())
    by = [(-round(float(turned[n, axis]), 6), order[n], n) for n in range(len(order) - 1)]
    leans = [n for _, _, n in sorted(by)]
    names = [
        part.name
        for n in leans
        if turned[n, axis] > 0.3 * turned[leans[0], axis]
        for part in inspection.assembly.parts
        if leader[part.name] == order[n]
    ]
    rest = len(names) - _NAMED
    more = f" and {rest} more" if rest > 0 else ""
    yield warning(
        "frame-folds",
        f"nothing keeps it from folding: {_WAYS[axis]}, as {', '.join(names[:_NAMED])}{more} turn"
        " in their joints",
        (),
        help="taken: every joint is a hinge along its run, but glue, brackets and contacts of"
        f" {_STOUT:g} mm both ways are stiff. Add a back, in a groove all round or fixed along its"
        " edges; a rail joined at both its ends; a brace at about 45 degrees;"
        " or glue",
    )


def _joint_hinges(inspection: Inspection) -> Iterator[_Hinge]:
    for joint in inspection.joinery.joints:
        fittings = [inspection.fitting(key) for key in joint.fittings]
        if joint.contact.kind is ContactKind.HUNG or any(map(is_runner, fittings)):
            continue
        frame, contact = joint.contact.frame, joint.contact
        at = frame.point_to_outer((contact.run / 2, 0.0, 0.0))
        stiff = _is_stiff(joint, [f for f in fittings if f is not None])
        fixed: tuple[Vec3, ...] = ()
        if contact.run >= _STOUT:  # drawn tight it does not tilt; on one screw it turns in place
            fixed = (frame.j,) if len(joint.fasteners) == 1 else (frame.j, frame.k)
        yield _Hinge(joint.butting, joint.receiving, at, fixed, stiff)


def _is_stiff(joint: PlacedJoint, fittings: Iterable[Fitting]) -> bool:
    """Tell whether a joint resists turning about its run."""
    if any(a.do in ("glue", "screw-on") for f in fittings for a in f.actions):
        return True
    return min(joint.contact.run, joint.contact.width) >= _STOUT and len(joint.fasteners) > 1


def _on_the_floor(inspection: Inspection) -> Iterator[_Hinge]:
    """Give what stands on the floor; it does not slip there."""
    kinds = kinds_of(inspection.resolved.said, inspection.catalogue).values()
    hung = any("wall_hung" in f.cautions for f in inspection.joinery.fittings.values())
    if hung or any(kind.hangs for kind in kinds):
        return
    boxes = {part.name: part_box(part) for part in inspection.assembly.parts}
    floor = min((float(box[2]) for box in boxes.values()), default=0.0)
    for name, box in boxes.items():
        if box[2] > floor + _STANDS:
            continue
        wide = box[3:5] - box[:2] >= _STOUT
        at = ((float(box[0]) + float(box[3])) / 2, (float(box[1]) + float(box[4])) / 2, floor)
        axes: list[Vec3] = []
        if wide[1]:
            axes.append(PRODUCT.i)  # long from front to back: it does not tip about x
        if wide[0]:
            axes.append(PRODUCT.j)
        if axes:
            axes.append(PRODUCT.k)
        part = inspection.part(name)
        lying = abs(part.frame.k[2]) > 0.95
        yield _Hinge(name, _FLOOR, at, tuple(axes), lying and len(axes) == 3)


def _united(inspection: Inspection, pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    leader = {name: name for name in (*(p.name for p in inspection.assembly.parts), _FLOOR)}

    def find(name: str) -> str:
        while leader[name] != name:
            leader[name] = leader[leader[name]]
            name = leader[name]
        return name

    for one, other in pairs:
        leader[find(one)] = find(other)
    return {name: find(name) for name in leader}


def _frame(between: Iterable[tuple[str, str, _Hinge]]) -> list[str]:
    """Return the bodies that are left when all that hang on one other alone are taken away."""
    beside: dict[str, set[str]] = {}
    for one, other, _ in between:
        beside.setdefault(one, set()).add(other)
        beside.setdefault(other, set()).add(one)
    leaves = [body for body, others in beside.items() if len(others) < 2]
    while leaves:
        for leaf in leaves:
            for other in beside.pop(leaf, ()):
                beside.get(other, set()).discard(leaf)
        leaves = [body for body, others in beside.items() if len(others) < 2]
    return sorted(beside)
