"""Parts: do they overlap, are they joined, is what lies loose carried."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import cross, dot, norm, sub
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.geometry.boxes import near_pairs
from kdkit.geometry.solids import Prism, overlap_of_prisms, part_prisms
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.inspection import Inspection
from kdkit.units import TOLERANCE, mm_text

__all__ = ["check_loose_parts", "check_overlaps", "check_parts_joined"]


def check_overlaps(inspection: Inspection) -> Iterable[Problem]:
    """No two parts may fill the same place, but an edge in the groove made for it."""
    parts = inspection.assembly.parts
    boxes = np.array([part_box(part) for part in parts]).reshape(-1, 6)
    prisms: dict[int, tuple[Prism, ...]] = {}
    for n, m in near_pairs(boxes, -TOLERANCE):
        a, b = parts[n], parts[m]
        for at in (n, m):
            if at not in prisms:
                prisms[at] = part_prisms(parts[at])
        overlap = overlap_of_prisms(prisms[n], prisms[m])
        if overlap.depth <= TOLERANCE or _is_let_in(inspection, a.name, b.name):
            continue
        low = np.maximum(boxes[n, :3], boxes[m, :3])
        high = np.minimum(boxes[n, 3:], boxes[m, 3:])
        x, y, z = (mm_text(float(c)) for c in (low + high) / 2)
        yield error(
            "parts-overlap",
            f"{a.name} and {b.name} overlap by {mm_text(overlap.depth, 2)} mm"
            f" ({mm_text(overlap.volume / 1000, 2)} cm³) about ({x}, {y}, {z})",
            b.path,
            where=f"{a.name}, {b.name}",
            help="move one of them, give it a notch, or join them with a groove or housing",
        )


def _is_let_in(inspection: Inspection, a: str, b: str) -> bool:
    """Tell whether one part stands in the other in a groove or bore that is made for it."""
    found = inspection.assembly.contacts_by_pair.get(frozenset((a, b)), ())
    sunk = [c for c in found if c.kind is ContactKind.SUNK]
    if not sunk:
        return False
    grooved = {g.joint for g in inspection.joinery.grooves if g.part in (a, b)}
    if any(
        j.name in grooved and {j.butting, j.receiving} == {a, b} for j in inspection.joinery.joints
    ):
        return True
    return all(_stands_in_bore(inspection, contact) for contact in sunk)


def _stands_in_bore(inspection: Inspection, contact: Contact) -> bool:
    """Tell whether a rod's end goes into a bore that takes it."""
    frame = inspection.part(contact.receiving).frame
    middle_x = sum(p[0] for p in contact.polygon) / len(contact.polygon)
    middle_y = sum(p[1] for p in contact.polygon) / len(contact.polygon)
    middle = frame.point_to_inner(contact.frame.point_to_outer((middle_x, middle_y, 0.0)))
    around = max(math.hypot(x - middle_x, y - middle_y) for x, y in contact.polygon)
    return any(
        bore.diameter / 2 >= around - TOLERANCE
        and norm(cross(bore.into, sub(middle, bore.mouth))) <= bore.diameter / 2 - around + 0.1
        and abs(dot(bore.into, sub(middle, bore.mouth))) <= TOLERANCE
        and bore.depth >= contact.sunk - TOLERANCE
        for bore in inspection.bores.get(contact.receiving, ())
    )


def check_parts_joined(inspection: Inspection) -> Iterable[Problem]:
    """Every part that is not loose must be joined, and all together make one piece."""
    names = [part.name for part in inspection.assembly.parts]
    leader = {name: name for name in names}

    def find(name: str) -> str:
        while leader[name] != name:
            leader[name] = leader[leader[name]]
            name = leader[name]
        return name

    joined: set[str] = set()
    for joint in inspection.joinery.joints:
        joined |= {joint.butting, joint.receiving}
        leader[find(joint.butting)] = find(joint.receiving)
    fixed = [part for part in inspection.assembly.parts if not part.loose]
    if len(fixed) < 2:
        return
    for part in fixed:
        if part.name not in joined:
            yield error(
                "part-not-joined",
                f"{part.name} is joined to nothing",
                part.path,
                where=part.name,
                help="join it under `joints`, or say `loose: true` if it is only laid in",
            )
    groups: dict[str, list[str]] = {}
    for part in fixed:
        if part.name in joined:
            groups.setdefault(find(part.name), []).append(part.name)
    if len(groups) < 2:
        return
    largest = max(groups.values(), key=len)
    for group in groups.values():
        units = {inspection.part(name).unit for name in group}
        if group is largest or (len(units) == 1 and "" not in units):
            continue
        yield warning(
            "parts-in-two-pieces",
            f"{_listed(group)} are joined to each other but to nothing else",
            inspection.part(group[0]).path,
            where=", ".join(group[:6]),
            help="join one of them to the rest of the product",
        )


def _listed(names: list[str]) -> str:
    shown = names[:6]
    rest = len(names) - len(shown)
    return ", ".join(shown) + (f" and {rest} more" if rest else "")


def check_loose_parts(inspection: Inspection) -> Iterable[Problem]:
    """A loose part must be carried by a fixture or lie on another part."""
    below: set[str] = set()
    for contact in inspection.assembly.contacts:
        upward = contact.frame.k[2]
        if abs(upward) > 0.5:
            below.add(contact.butting if upward > 0 else contact.receiving)
    for part in inspection.assembly.parts:
        if part.loose and part.name not in inspection.carriers and part.name not in below:
            yield error(
                "loose-part-not-carried",
                f"{part.name} is loose and lies on nothing",
                part.path,
                where=part.name,
                help="name it under `carries` of a fixture, or lay it on another part",
            )
