"""Solid wood: room to move across its grain, short grain, glue on end grain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kdkit.catalogue.work import pulls_together
from kdkit.diagnostics import Path, Problem, warning
from kdkit.frames import Vec3, dot
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.meetings import MEETINGS
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import PlacedJoint
from kdkit.model.resolved import Part
from kdkit.parts.size import part_size
from kdkit.units import mm_text

__all__ = ["check_end_grain_glue", "check_panels_move", "check_short_grain", "check_wood_moves"]

_SEASONS = 4.0
"""Percent of moisture between dry winters and damp summers indoors. Common practice, no source."""

_GIVES = 3.0
"""mm that screws in their bores, and wood, give without splitting. Common practice, no source."""

_SHORT = 1 / 3
"""Of its width below which a part's length along the grain is short. Common practice, no source."""


def check_wood_moves(inspection: Inspection) -> Iterable[Problem]:
    """Wide solid wood that is fixed across its grain splits, or breaks its joint.

    Source:
        Movement = width × coefficient × percent of moisture: Wood Handbook, FPL-GTR-282, 2021,
        chapter 13.
    """
    for joint in inspection.joinery.joints:
        if joint.contact.kind in MEETINGS:
            continue
        pair = inspection.part(joint.butting), inspection.part(joint.receiving)
        for part, other in (pair, pair[::-1]):
            rate = _movement(inspection, part)
            if rate is None:
                continue
            across = part.frame.j
            fixed = _fixed_along(inspection, joint, across)
            moves = fixed * _SEASONS * (rate - _moves_along(inspection, other, across))
            if moves > _GIVES:
                yield warning(
                    "wood-cannot-move",
                    f"{part.name} is fixed over {mm_text(fixed, 0)} mm across its grain to"
                    f" {other.name}, and wants to move by {mm_text(moves)} mm there between a dry"
                    " and a damp season",
                    joint.path,
                    where=f"{joint.butting} to {joint.receiving}",
                    help="fix it in the middle alone and let the rest slide (slotted bores,"
                    " buttons, a groove without glue), or let both grains run the same way;"
                    f" assumed: {mm_text(_SEASONS)} percent of moisture",
                )


def check_panels_move(inspection: Inspection) -> Iterable[Problem]:
    """Solid wood that several joints fix across its grain, with no room between them, splits.

    Boards joined edge to edge move as one panel, and so does whatever moves along with them.
    What does not move, joined to them at two places, keeps these apart: battens under boards
    glued to a panel, aprons all round under a top. What one joint does alone is told by
    ``check_wood_moves``.

    Source:
        As there; that joined parts move by the sum is geometry.
    """
    assembly = inspection.assembly
    rates = {p.name: rate for p in assembly.parts if (rate := _movement(inspection, p)) is not None}
    ways: list[Vec3] = []
    for name in rates:
        across = inspection.part(name).frame.j
        if not any(abs(dot(across, way)) > 0.99 for way in ways):
            ways.append(across)
    told: set[frozenset[str]] = set()
    for way in ways:
        for found in _fixed_groups(inspection, way):
            wide = max(found.moving, key=lambda n: (_extent(inspection, n, way), n))
            moves = found.span * _SEASONS * rates[wide]
            if moves <= _GIVES or found.moving in told:
                continue
            told.add(found.moving)
            boards = len(
                [n for n in found.moving if abs(dot(inspection.part(n).frame.j, way)) > 0.99]
            )
            what = wide if boards < 2 else f"{wide}, with what is joined to it,"
            yield warning(
                "wood-cannot-move",
                f"{what} is fixed by {found.joints} joints over {mm_text(found.span, 0)} mm across"
                f" its grain to {' and '.join(found.ends)}, and wants to move by"
                f" {mm_text(moves)} mm there between a dry and a damp season",
                found.path,
                where=wide,
                help="fix it at one place alone, the middle or one edge, and let the rest slide"
                " (slotted bores, buttons, a groove without glue); assumed:"
                f" {mm_text(_SEASONS)} percent of moisture",
            )


@dataclass(frozen=True, kw_only=True)
class _Fixed:
    """What moves together along a way, fixed to what does not.

    Args:
        span: mm along the way between the outermost places where it is fixed.
        ends: the parts that it is fixed to there.
    """

    moving: frozenset[str]
    span: float
    joints: int
    ends: tuple[str, ...]
    path: Path


def _fixed_groups(inspection: Inspection, way: Vec3) -> Iterator[_Fixed]:
    """Yield what several joints fix along a way, and no single joint over nearly as much."""
    places = {}
    for joint in inspection.joinery.joints:
        if joint.contact.kind not in MEETINGS and (held := _held_along(inspection, joint, way)):
            places[joint.name] = joint, min(held), max(held)
    moves = {p.name: _moves_along(inspection, p, way) > 0.0 for p in inspection.assembly.parts}
    graph: dict[str, set[str]] = {name: {name} for name in moves}
    for joint, _, _ in places.values():
        if moves[joint.butting] == moves[joint.receiving]:
            both = graph[joint.butting] | graph[joint.receiving]
            graph.update(dict.fromkeys(both, both))
    groups: dict[tuple[int, int], list[tuple[PlacedJoint, float, float]]] = {}
    for joint, low, high in places.values():
        a, b = joint.butting, joint.receiving
        if moves[a] != moves[b]:
            key = (id(graph[a]), id(graph[b])) if moves[a] else (id(graph[b]), id(graph[a]))
            groups.setdefault(key, []).append((joint, low, high))
    for some in groups.values():
        first = min(some, key=lambda s: s[1])
        last = max(some, key=lambda s: s[2])
        span = last[2] - first[1]
        if len(some) < 2 or max(high - low for _, low, high in some) > 0.9 * span:
            continue
        stiff = [j.receiving if moves[j.butting] else j.butting for j in (first[0], last[0])]
        moving = first[0].butting if moves[first[0].butting] else first[0].receiving
        yield _Fixed(
            moving=frozenset(graph[moving]),
            span=span,
            joints=len(some),
            ends=tuple(dict.fromkeys(stiff)),
            path=last[0].path,
        )


def _extent(inspection: Inspection, name: str, way: Vec3) -> float:
    """Return how wide a part is along a way, mm."""
    part = inspection.part(name)
    length, width = part_size(part)
    frame = part.frame
    return (
        abs(dot(frame.i, way)) * length
        + abs(dot(frame.j, way)) * width
        + abs(dot(frame.k, way)) * part.thickness
    )


def check_short_grain(inspection: Inspection) -> Iterable[Problem]:
    """A part whose grain runs across its long way breaks along it."""
    for part in inspection.assembly.parts:
        if inspection.family(part) != "solid-timber" or not part.grain_along_x:
            continue
        length, width = part_size(part)
        if length < _SHORT * width:
            yield warning(
                "short-grain",
                f"{part.name} is {mm_text(width, 0)} mm long across its grain and"
                f" {mm_text(length, 0)} mm along it: it breaks there, as wood across the grain has"
                " little strength",
                part.path,
                where=part.name,
                help="let its grain run along its long way: `grain`",
            )


def check_end_grain_glue(inspection: Inspection) -> Iterable[Problem]:
    """Glue alone hardly holds on end grain.

    Source:
        From memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 10.
    """
    for joint in inspection.joinery.joints:
        fittings = [inspection.fitting(key) for key in joint.fittings]
        if joint.fasteners or joint.contact.sunk > 0 or joint.contact.kind in MEETINGS:
            continue
        if not any(f is not None and pulls_together(f) for f in fittings):
            continue
        mitred = joint.contact.kind is ContactKind.MITRE
        for name in (joint.butting, joint.receiving):
            part = inspection.part(name)
            grained = inspection.family(part) == "solid-timber" and part.grain_along_x
            if grained and not mitred and abs(dot(part.frame.i, joint.contact.frame.k)) > 0.9:
                yield warning(
                    "glue-on-end-grain",
                    f"{name} is glued by its end grain alone, which hardly holds",
                    joint.path,
                    where=f"{joint.butting} to {joint.receiving}",
                    help="add dowels, a tenon or biscuits (`dowel-8x35-glued`), let it into a"
                    " housing, or screw it",
                )


def _movement(inspection: Inspection, part: Part) -> float | None:
    """Return how much a part of solid wood moves across its grain, for each percent; else None."""
    board = inspection.catalogue.boards.get(part.material or "")
    return board.movement if board is not None and part.grain_along_x else None


def _moves_along(inspection: Inspection, part: Part, way: Vec3) -> float:
    """Return how much a part moves along a way, for each percent: nothing along its grain."""
    rate = _movement(inspection, part)
    return 0.0 if rate is None or abs(dot(part.frame.i, way)) > 0.7 else rate


def _fixed_along(inspection: Inspection, joint: PlacedJoint, way: Vec3) -> float:
    """Return over how far a joint holds along a way, mm: from screw to screw, all of a glued one.

    What only lies in a groove may move.
    """
    places = _held_along(inspection, joint, way)
    return max(places, default=0.0) - min(places, default=0.0)


def _held_along(inspection: Inspection, joint: PlacedJoint, way: Vec3) -> list[float]:
    """Return where along a way a joint holds, mm: at its screws, from end to end of a glued one."""
    fittings = [inspection.fitting(key) for key in joint.fittings]
    if not any(f is not None and pulls_together(f) for f in fittings):
        return []
    if any(a.do == "glue" for f in fittings if f is not None for a in f.actions):
        frame = joint.contact.frame
        return [dot(frame.point_to_outer((x, y, 0.0)), way) for x, y in joint.contact.polygon]
    return [dot(inspection.fasteners[id].frame.origin, way) for id in joint.fasteners]
