"""Drawers: which parts run out together, and what their runners want.

A drawer is what joints hold together with a part that runs on runners. Nothing is typed
for it: the parts follow from the joints, the way out from the runners.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Path, Problem, advice, error
from kdkit.frames import Vec3, dot, sub
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.convex import ConvexPiece
from kdkit.geometry.solids import Prism, free_way, overlap_of_prisms, part_prisms
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Fastener, PlacedItem, PlacedJoint
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "Drawer",
    "check_drawers_run_out",
    "check_runner_lengths",
    "check_runner_rows",
    "find_drawers",
    "is_runner",
]

_PITCH, _FRONT_ROW = 32.0, 37.0  # the 32 mm system
_OFF = 0.5  # mm off the grid that nobody minds


@dataclass(frozen=True, kw_only=True)
class Drawer:
    """What runs out as one.

    Args:
        name: of its unit, or of its first part.
        parts: names, in the assembly's order.
        sides: the parts that carry runners.
        way: unit vector out, in the product; ``travel``: how far, the runner's length, mm.
        path: of the first joint with a runner.
    """

    name: str
    parts: tuple[str, ...]
    sides: tuple[str, ...]
    way: Vec3
    travel: float
    path: Path


def is_runner(fitting: Fitting | None) -> bool:
    """Tell whether a fitting lets a part run in and out."""
    return fitting is not None and any(a.do == "run-in" for a in fitting.actions)


def find_drawers(inspection: Inspection) -> tuple[Drawer, ...]:
    """Return the drawers of a product, in the order of their first joints with runners."""
    runners = list(_runner_joints(inspection))
    leader = {part.name: part.name for part in inspection.assembly.parts}

    def find(name: str) -> str:
        while leader[name] != name:
            leader[name] = leader[leader[name]]
            name = leader[name]
        return name

    apart = {joint.name for joint, _, _ in runners}
    for joint in inspection.joinery.joints:
        if joint.name not in apart and joint.contact.kind is not ContactKind.HUNG:
            leader[find(joint.butting)] = find(joint.receiving)
    grouped: dict[str, list[tuple[PlacedJoint, Fitting, Fastener]]] = {}
    for joint, fitting, fastener in runners:
        if find(joint.butting) != find(joint.receiving):
            grouped.setdefault(find(joint.butting), []).append((joint, fitting, fastener))
    found = []
    for root, used in grouped.items():
        parts = tuple(p.name for p in inspection.assembly.parts if find(p.name) == root)
        unit = inspection.part(used[0][0].butting).unit
        found.append(
            Drawer(
                name=unit or used[0][0].butting,
                parts=parts,
                sides=tuple(dict.fromkeys(joint.butting for joint, _, _ in used)),
                way=used[0][2].frame.j,
                travel=min(fitting.options["length"] for _, fitting, _ in used),
                path=used[0][0].path,
            )
        )
    return tuple(found)


def check_drawers_run_out(inspection: Inspection) -> Iterable[Problem]:
    """Nothing stands in the way of a drawer as it runs out, but a door that opens."""
    doors = {
        joint.butting
        for joint in inspection.joinery.joints
        if joint.contact.kind is ContactKind.HUNG
    }
    drawers = find_drawers(inspection)
    if not drawers:
        return
    prisms = {part.name: part_prisms(part) for part in inspection.assembly.parts}
    behind: dict[str, list[Drawer]] = {}
    for drawer in drawers:
        moving = [prism for name in drawer.parts for prism in prisms[name]]
        nearest: tuple[float, str] | None = None
        for part in inspection.assembly.parts:
            if part.name in drawer.parts:
                continue
            free = free_way(moving, prisms[part.name], drawer.way, drawer.travel)
            if free >= drawer.travel - TOLERANCE:
                continue
            if part.name in doors:
                behind.setdefault(part.name, []).append(drawer)
            elif nearest is None or free < nearest[0] - TOLERANCE:
                nearest = (free, part.name)
        if nearest is not None:
            yield error(
                "drawer-blocked",
                f"{drawer.name} runs out {mm_text(nearest[0])} of {mm_text(drawer.travel)} mm,"
                f" then it meets {nearest[1]}",
                drawer.path,
                where=f"{drawer.name}, {nearest[1]}",
                help="make the drawer or its front smaller, or move the other part away",
            )
    for door, hidden in behind.items():
        names = ", ".join(drawer.name for drawer in hidden)
        yield advice(
            "drawer-behind-door",
            f"{names} {'stands' if len(hidden) == 1 else 'stand'} behind {door} and can run out"
            " only while that is open",
            hidden[0].path,
            where=f"{names}, {door}",
            help="assumed: the open door leaves the way free. A door that stays within the opening"
            " at 90 degrees does not: move the runners in by the door's thickness with a filler,"
            " or take hinges that swing right out of the way",
        )


def check_runner_lengths(inspection: Inspection) -> Iterable[Problem]:
    """A runner's profiles lie on their parts from end to end, and meet nothing else."""
    runners = list(_runner_joints(inspection))
    if not runners:
        return
    prisms = {part.name: part_prisms(part) for part in inspection.assembly.parts}
    told: set[tuple[str, str]] = set()
    for joint, fitting, fastener in runners:
        pair = (joint.butting, joint.receiving)
        for item in fastener.items:
            if item.carrier is None or "profile" not in item.item or pair in told:
                continue
            part = inspection.part(item.carrier)
            room = _room_behind(part, item, fastener)
            length = fitting.options["length"]
            if length > room + TOLERANCE:
                told.add(pair)
                fits = [n for n in fitting.choices.get("length", ()) if n <= room + TOLERANCE]
                yield error(
                    "runner-too-long",
                    f"a runner of {mm_text(length)} mm does not fit on {part.name}:"
                    f" {mm_text(room)} mm are left behind where it begins",
                    joint.path,
                    where=f"{joint.butting} to {joint.receiving}",
                    help=f"take the length {mm_text(max(fits))}"
                    if fits
                    else f"there is none as short: make {part.name} deeper, or another opening",
                )
                continue
            body = [_profile(inspection, item)]
            for other in inspection.assembly.parts:
                if other.name in pair or (other.unit and other.unit == part.unit):
                    continue
                if overlap_of_prisms(body, prisms[other.name]).depth > 0.1:
                    told.add(pair)
                    yield error(
                        "runner-too-long",
                        f"the runner between {joint.butting} and {joint.receiving} runs into"
                        f" {other.name}",
                        joint.path,
                        where=f"{joint.butting} to {joint.receiving}",
                        help=_shorter(fitting),
                    )
                    break


def _shorter(fitting: Fitting) -> str:
    """Return what to do with a runner that runs into something."""
    length = fitting.options["length"]
    fits = [n for n in fitting.choices.get("length", ()) if n < length]
    if fits:
        return f"take a shorter one, of {mm_text(max(fits))} mm, or move it with `across`"
    return "there is none shorter: move it with `across`, or what is in its way"


def check_runner_rows(inspection: Inspection) -> Iterable[Problem]:
    """Advise of runners that leave the grid of the 32 mm system, by setback or by height.

    Source:
        Front row 37, heights a multiple of 32 from each other, row at 37 + front thickness
        behind an inset front: common practice, no source.
    """
    heights: dict[str, list[tuple[float, PlacedJoint]]] = {}
    for joint, fitting, fastener in _runner_joints(inspection):
        if inspection.resolved.system_rows:
            return  # the rows are told, and whatever leaves them is found there
        i = fastener.frame.i
        up = dot(fastener.frame.origin, i if sum(i) > 0 else (-i[0], -i[1], -i[2]))
        heights.setdefault(joint.receiving, []).append((up, joint))
        row = fitting.options.get("row", _FRONT_ROW)
        if not _on_a_row(row) and not _is_inset(inspection, joint, row):
            yield advice(
                "runner-off-grid",
                f"the front bore of the runner stands {mm_text(row)} mm behind the edge of"
                f" {joint.receiving}, the row of the 32 mm system {mm_text(_FRONT_ROW)} mm",
                joint.path,
                where=f"{joint.butting} to {joint.receiving}",
                help="say `row: 37`, a multiple of 32 more where the board is bored from its"
                " other side too, or 37 and the front's thickness where that lies inside",
            )
    for name, found in heights.items():
        found.sort(key=lambda pair: pair[0])
        first = found[0][0]
        for up, joint in found[1:]:
            off = (up - first + _PITCH / 2) % _PITCH - _PITCH / 2
            if abs(off) > _OFF:
                yield advice(
                    "runner-off-grid",
                    f"the runner of {joint.butting} on {name} stands {mm_text(up - first)} mm over"
                    f" the lowest, no multiple of {mm_text(_PITCH)}",
                    joint.path,
                    where=f"{joint.butting} to {name}",
                    help=f"move the drawer, or its runner with `across`, by {mm_text(-off)} mm",
                )


def _runner_joints(inspection: Inspection) -> Iterator[tuple[PlacedJoint, Fitting, Fastener]]:
    for joint in inspection.joinery.joints:
        for id in joint.fasteners:
            fastener = inspection.fasteners[id]
            fitting = inspection.fitting(fastener.fitting)
            if fitting is not None and is_runner(fitting):
                yield joint, fitting, fastener


def _room_behind(part: Part, item: PlacedItem, fastener: Fastener) -> float:
    """Return how much of a part lies behind a profile's front end."""
    j = fastener.frame.j
    corners = [part.frame.point_to_outer((x, y, 0.0)) for x, y in part.outline]
    rear = min(dot(p, j) for p in corners)
    return dot(item.frame.origin, j) - rear


def _profile(inspection: Inspection, item: PlacedItem) -> Prism:
    """Return the box round a profile, in the product."""
    pieces = inspection.catalogue.items[item.item].pieces
    x0, x1 = (f(p.at[0] + s * p.d0 / 2 for p in pieces) for f, s in ((min, -1), (max, 1)))
    y0, y1 = (f(p.at[1] + s * (p.d1 or p.d0) / 2 for p in pieces) for f, s in ((min, -1), (max, 1)))
    low, high = min(p.z0 for p in pieces), max(p.z1 for p in pieces)
    ring = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return Prism(ConvexPiece(polygon=ring, z0=low, z1=high), item.frame)


def _on_a_row(row: float) -> bool:
    """Tell whether a setback is that of the front row, or a multiple of 32 behind it."""
    off = (row - _FRONT_ROW + _PITCH / 2) % _PITCH - _PITCH / 2
    return row > _FRONT_ROW - _OFF and abs(off) <= _OFF


def _is_inset(inspection: Inspection, joint: PlacedJoint, row: float) -> bool:
    """Tell whether the row lies 37 behind the inner side of a front that is set in."""
    drawer = next((d for d in find_drawers(inspection) if joint.butting in d.parts), None)
    if drawer is None:
        return False
    front = joint.contact.frame.origin
    for name in drawer.parts:
        part = inspection.part(name)
        if abs(dot(part.frame.k, drawer.way)) < 1 - 1e-6:
            continue
        faces = [part.frame.point_to_outer((0.0, 0.0, z)) for z in (0.0, -part.thickness)]
        rear = max(-dot(sub(p, front), drawer.way) for p in faces)
        if rear > 0 and _on_a_row(row - rear):
            return True
    return False
