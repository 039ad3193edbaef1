"""What a cutter makes of a surface: grooves, routed slots, openings, the shaped outline.

Takes a surface laid flat and the machine; gives each cut with its tool and the way of the
cutter's middle, or the reason why it is left to the hand. A panel lies under the machine as
the saw left it, the rectangle around it: what of the outline lies on that rectangle is not
cut again. Lengths in mm, seen from above.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared, together
from kdkit.catalogue.machines import Machine, MachineTool
from kdkit.frames import Vec2
from kdkit.publish.workshop.programs.cutter_paths import (
    Path,
    Stretch,
    closed_path,
    line_path,
    path_length,
    reversed_path,
    ring_lanes,
    round_path,
    with_arcs,
)
from kdkit.schedule.schedules import GrooveLine, SlotLine
from kdkit.schedule.views import PanelViews, SurfaceView
from kdkit.units import TOLERANCE

__all__ = ["Cut", "Refused", "list_cuts", "through_view"]

_HAIR = 1e-4  # mm; of geometry that a rounding moves
_CORNER = 1.5
"""A cutter leaves less than this many squares of its radius in a corner of 45 degrees or more."""
_BLUNT = 0.05  # mm² of a corner: what the sides of a curve leave


@dataclass(frozen=True, kw_only=True)
class Cut:
    """One groove, slot, opening or stretch of the outline.

    Args:
        what: ``groove``, ``slot``, ``opening`` or ``outline``.
        tool: its number.
        floor: Z of it, below 0.
        lanes: the ways of the cutter's middle, cut one after the other in every pass.
        holds: ``tabs`` or ``skin`` where a piece would come loose, else "".
        corners: how many are left round, with the cutter's radius.
        over: how far the cutter's middle goes beyond the panel, or 0.
        tabs: how many.
    """

    what: str
    tool: int
    floor: float
    lanes: tuple[Path, ...]
    holds: str = ""
    corners: int = 0
    over: float = 0.0
    tabs: int = 0


@dataclass(frozen=True)
class Refused:
    """What of a surface no cutter makes, and the reason."""

    what: str
    why: str


def list_cuts(
    panel: PanelViews, view: SurfaceView, machine: Machine, held: str
) -> tuple[Cut | Refused, ...]:
    """Return what a cutter makes of a surface, grooves first, the outline last.

    ``held`` is why the surface cannot be laid under the spindle, or "".
    """
    found: list[Cut | Refused] = []
    held = "glass" if panel.is_glass else held
    material = _material(view)
    for groove in view.grooves:
        why = held or _unfit(panel, view) or ("slanted" if groove.slanted else "")
        found.append(Refused("groove", why) if why else _groove(view, groove, material, machine))
    for slot in view.slots:
        if slot.stage != "workshop":
            continue
        why = "disc" if slot.disc is not None else held or _unfit(panel, view)
        found.append(Refused("slot", why) if why else _slot(view, slot, machine))
    if view is through_view(panel):
        found += [Refused("opening", held) if held else cut
                  for cut in _openings(panel, view, machine)]  # fmt: skip
        found += _outline(panel, view, machine, held)
    return tuple(found)


def through_view(panel: PanelViews) -> SurfaceView:
    """Return the surface from which openings and the outline are cut.

    It is the last of face and back that is worked at all, so that all else is made before.
    """
    flat = [v for v in panel.views if not v.is_edge]
    return next((v for v in reversed(flat) if v.is_worked), flat[0])


def _unfit(panel: PanelViews, view: SurfaceView) -> str:
    """Return why no cutter works on an edge: it must be level and nothing stand over it."""
    if view.leans:
        return "bevelled"
    flat = next((v for v in panel.views if not v.is_edge), view)
    return "shaped" if view.is_edge and (panel.cut.bevels or not _is_sawn(flat)) else ""


def _is_sawn(view: SurfaceView) -> bool:
    """Tell whether the outline is the rectangle around it."""
    return Polygon(view.outlines[0]).area > box(*view.box).area - TOLERANCE


def _material(view: SurfaceView) -> BaseGeometry:
    """Return what of the surface is wood when all is made, as it is seen."""
    rings = [Polygon([view.seen(p) for p in ring]) for ring in view.outlines]
    wood = together(rings)
    holes = [Polygon([view.seen(p) for p in ring]) for ring in view.openings]
    holes += [Point(view.seen(c)).buffer(d / 2, 64) for c, d in view.rounds]
    return rest_of(wood, together(holes)) if holes else wood


def _cutters(machine: Machine, deep: float) -> tuple[list[tuple[int, MachineTool]], str]:
    """Return the cutters that reach so deep, the widest first, and why there is none."""
    cutters = [(n, t) for n, t in machine.tools.items() if t.kind == "cutter"]
    reach = [(n, t) for n, t in cutters if deep <= t.reach + TOLERANCE]
    reach.sort(key=lambda c: (-c[1].diameter, c[0]))
    return reach, "" if reach else "deep" if cutters else "cutter"


def _refusal(what: str, machine: Machine, fitting: Sequence[tuple[int, MachineTool]]) -> Refused:
    """Return why none of the cutters that reach so deep makes it."""
    return Refused(what, "ramp" if fitting else "narrow")


def _groove(view: SurfaceView, groove: GrooveLine, wood: BaseGeometry,
            machine: Machine) -> Cut | Refused:  # fmt: skip
    xs, ys = zip(*(view.seen(p) for p in zip(groove.x, groove.y, strict=True)), strict=True)
    x0, x1, y0, y1 = min(xs), max(xs), min(ys), max(ys)
    rest = rest_of(wood, box(x0, y0, x1, y1))
    reach, why = _cutters(machine, groove.depth)
    fitting = []
    for number, tool in reach:
        r = tool.diameter / 2
        free = _free_room((x0, y0, x1, y1), rest, r, machine.cutting.run_out)
        a0, a1 = _between(x0, x1, r, free[0], free[2], machine.cutting.run_out)
        b0, b1 = _between(y0, y1, r, free[1], free[3], machine.cutting.run_out)
        if a1 < a0 - _HAIR or b1 < b0 - _HAIR:
            continue
        a1, b1 = max(a0, a1), max(b0, b1)
        fitting.append((number, tool))
        room = min(a1 - a0, b1 - b0) / 2
        start, end = (
            ((a0 + room, (b0 + b1) / 2), (a1 - room, (b0 + b1) / 2)) if a1 - a0 >= b1 - b0
            else (((a0 + a1) / 2, b0 + room), ((a0 + a1) / 2, b1 - room))
        )  # fmt: skip
        lanes = _lanes(start, end, room, tool, machine, is_round=False)
        if lanes is None:
            continue
        corners = sum(not free[n] and not free[(n + 1) % 4] for n in range(4))
        over = max(0.0, x0 - a0, a1 - x1, y0 - b0, b1 - y1)
        return Cut(what="groove", tool=number, floor=-groove.depth, lanes=lanes,
                   corners=corners, over=over)  # fmt: skip
    return Refused("groove", why) if why else _refusal("groove", machine, fitting)


def _between(low: float, high: float, r: float, free_low: float, free_high: float,
             run_out: float) -> tuple[float, float]:  # fmt: skip
    """Return from where to where the cutter's middle goes across or along a groove.

    A rebate that is narrower than the cutter's radius: the wall says where, not the run-out.
    The second is less than the first if the cutter is too wide.
    """
    a = low - min(run_out, free_low - r) if free_low else low + r
    b = high + min(run_out, free_high - r) if free_high else high - r
    if b < a and free_high >= 2 * r and not free_low:
        return a, a
    if b < a and free_low >= 2 * r and not free_high:
        return b, b
    return a, b


def _free_room(rect: tuple[float, float, float, float], rest: BaseGeometry, r: float,
               run_out: float) -> list[float]:  # fmt: skip
    """Return how far each side of a groove is free of what is to stay; 0 if it is closed.

    The sides: least x, least y, greatest x, greatest y. A side is open if the whole cutter has
    room beyond it: before a notch's far side it runs out less far, or not at all.
    """
    swept = list(rect)
    found = [0.0] * 4
    out = max(run_out, r) + r
    wood = rest.buffer(-_HAIR)
    along_x = rect[2] - rect[0] >= rect[3] - rect[1]
    for side in (0, 2, 1, 3) if along_x else (1, 3, 0, 2):
        away = -1 if side < 2 else 1
        strip = list(swept)
        strip[side] = swept[side] + away * out
        strip[(side + 2) % 4] = swept[side]
        beside = box(min(strip[0], strip[2]), min(strip[1], strip[3]),
                     max(strip[0], strip[2]), max(strip[1], strip[3]))  # fmt: skip
        met = shared(beside, wood)
        free = out if met.is_empty else abs(_nearest(met, side) - swept[side]) - 2 * _HAIR
        if free >= r:
            found[side] = free
            swept[side] += away * min(free, run_out + r)
    return found


def _nearest(shape: BaseGeometry, side: int) -> float:
    """Return where a shape outside a side of a rectangle begins."""
    x0, y0, x1, y1 = shape.bounds
    return float((x1, y1, x0, y0)[side])


def _lanes(start: Vec2, end: Vec2, room: float, tool: MachineTool, machine: Machine, *,
           is_round: bool) -> tuple[Path, ...] | None:  # fmt: skip
    """Return the lanes of a groove or slot; None if a tool that must not plunge has no ramp.

    Such a tool ramps along the first lane, which is as long as the cutter is wide or goes
    so far round that nothing is left under the cutter's middle.
    """
    cutting = machine.cutting
    lanes = ring_lanes(
        start, end, room, tool.stepover * tool.diameter, is_round=is_round,
        left=cutting.direction == "climb", arcs=cutting.arcs, chord=cutting.chord,
    )  # fmt: skip
    if tool.plunges or path_length(lanes[0]) >= tool.diameter - _HAIR:
        return lanes
    if math.dist(start, end) + 2 * room >= tool.diameter - _HAIR:
        return lanes[::-1]
    return None


def _slot(view: SurfaceView, slot: SlotLine, machine: Machine) -> Cut | Refused:
    start, end = view.seen(slot.start), view.seen(slot.end)
    length, half = math.dist(start, end), slot.width / 2
    ux, uy = (end[0] - start[0]) / length * half, (end[1] - start[1]) / length * half
    reach, why = _cutters(machine, slot.depth)
    fitting = [c for c in reach if c[1].diameter <= slot.width + _HAIR]
    for number, tool in fitting:
        a, b = (start[0] + ux, start[1] + uy), (end[0] - ux, end[1] - uy)
        room = max(0.0, half - tool.diameter / 2)
        lanes = _lanes(a, b, room, tool, machine, is_round=True)
        if lanes is not None:
            return Cut(what="slot", tool=number, floor=-slot.depth, lanes=lanes)
    return Refused("slot", why) if why else _refusal("slot", machine, fitting)


def _held_by(cut: Cut, tool: MachineTool, machine: Machine, thickness: float) -> Cut:
    """Return a cut with what holds the piece that it would set free.

    Tabs need room between them to come down again; where there is none a skin is left.
    """
    cutting = machine.cutting
    lift = cutting.tab_height + machine.break_through
    down = 0.0 if tool.plunges else lift / math.tan(math.radians(tool.ramp))
    length = path_length(cut.lanes[0])
    count = max(2, math.ceil(length / cutting.tab_pitch))
    wide = cutting.tab_length + 2 * tool.diameter + down
    fits = count * wide <= length and cutting.tab_height < thickness - _HAIR
    if cutting.holding == "tabs" and fits:
        return replace(cut, holds="tabs", tabs=count)
    return replace(cut, holds="skin", floor=-(thickness - min(cutting.skin, thickness / 2)))


def _openings(panel: PanelViews, view: SurfaceView, machine: Machine) -> Iterator[Cut | Refused]:
    for ring in view.openings:
        yield _opening(panel, Polygon([view.seen(p) for p in ring]), None, machine)
    for centre, diameter in view.rounds:
        at = view.seen(centre)
        yield _opening(panel, Point(at).buffer(diameter / 2, 90), (at, diameter / 2), machine)


def _opening(panel: PanelViews, shape: Polygon, circle: tuple[Vec2, float] | None,
             machine: Machine) -> Cut | Refused:  # fmt: skip
    """Return how an opening is cut: with the widest cutter that comes into all of it."""
    thickness, cutting = panel.cut.thickness, machine.cutting
    reach, why = _cutters(machine, thickness + machine.break_through)
    left = cutting.direction == "climb"
    fitting = []
    for number, tool in reach:
        r = tool.diameter / 2
        ways: Path
        corners = 0
        if circle is not None:
            if circle[1] < r - _HAIR:
                continue
            radius = circle[1] - r
            ways = (
                round_path(circle[0], radius, left=left, arcs=cutting.arcs, chord=cutting.chord)
                if radius > _HAIR else (Stretch(circle[0], circle[0]),)
            )  # fmt: skip
        else:
            inner = shape.buffer(-r, join_style="mitre", mitre_limit=5)
            if not isinstance(inner, Polygon) or inner.is_empty:
                continue
            ring = shapely.orient_polygons(inner).exterior.coords[:-1]
            rest = _left_in_corners(rest_of(shape, inner.buffer(r, 64)), r)
            if rest is None:
                continue
            corners = rest
            ways = _round(ring if left else ring[::-1], machine)
        fitting.append((number, tool))
        long = max(shape.bounds[2] - shape.bounds[0], shape.bounds[3] - shape.bounds[1])
        if not tool.plunges and long - tool.diameter < tool.diameter:
            continue
        floor = -(thickness + machine.break_through)
        cut = Cut(what="opening", tool=number, floor=floor, lanes=(ways,), corners=corners)
        slug = shape.buffer(-tool.diameter - _HAIR)
        return cut if slug.is_empty else _held_by(cut, tool, machine, thickness)
    return Refused("opening", why) if why else _refusal("opening", machine, fitting)


def _round(ring: Sequence[Sequence[float]], machine: Machine) -> Path:
    """Return a closed way that begins in the middle of its longest side."""
    points = [(float(p[0]), float(p[1])) for p in ring]
    n = max(range(len(points)), key=lambda k: math.dist(points[k], points[(k + 1) % len(points)]))
    a, b = points[n], points[(n + 1) % len(points)]
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    path = closed_path([middle, *points[n + 1 :], *points[: n + 1]])
    return with_arcs(path, machine.cutting.chord) if machine.cutting.arcs else path


def _left_in_corners(rest: BaseGeometry, r: float) -> int | None:
    """Return how many corners a cutter leaves round; None if more than corners is left."""
    pieces = [p for p in getattr(rest, "geoms", [rest]) if p.area > max(_BLUNT, 0.01 * r * r)]
    return len(pieces) if all(p.area <= _CORNER * r * r for p in pieces) else None


def _outline(
    panel: PanelViews, view: SurfaceView, machine: Machine, held: str
) -> Iterator[Cut | Refused]:
    """Yield a cut for each stretch of the outline that the saw has not made."""
    if panel.cut.bevels or _is_sawn(view):
        own = Polygon(view.outlines[0])  # the long points of its bevels may reach beyond it
        if panel.cut.bevels and own.envelope.area - own.area > _HAIR:
            yield Refused("outline", "bevelled")
        return
    if held or _bands_are_shaped(view):
        yield Refused("outline", held or "banded")
        return
    thickness, cutting = panel.cut.thickness, machine.cutting
    reach, why = _cutters(machine, thickness + machine.break_through)
    shape = Polygon([view.seen(p) for p in view.outlines[0]])
    sawn = box(*view.box)
    for number, tool in reach:
        r = tool.diameter / 2
        around = shape.buffer(r, join_style="mitre", mitre_limit=3)
        corners = _left_in_corners(rest_of(around.buffer(-r, 64), shape), r)
        if around.interiors or corners is None:
            continue
        wide = shape.buffer(tool.diameter + _HAIR, join_style="mitre", mitre_limit=3)
        loose = not rest_of(sawn, wide).is_empty
        for path in _shaped(around, sawn, r, machine):
            cut = Cut(what="outline", tool=number, floor=-(thickness + machine.break_through),
                      lanes=(path,), over=cutting.run_out)  # fmt: skip
            yield _held_by(cut, tool, machine, thickness) if loose else cut
        return
    yield Refused("outline", why or "narrow")


def _bands_are_shaped(view: SurfaceView) -> bool:
    """Tell whether a banded edge lies inside the rectangle: it is cut before its band."""
    x0, y0, x1, y1 = view.box
    for band in view.bands:
        (ax, ay), (bx, by) = view.seen(band.start), view.seen(band.end)
        on_x = any(abs(ax - e) < TOLERANCE and abs(bx - e) < TOLERANCE for e in (x0, x1))
        on_y = any(abs(ay - e) < TOLERANCE and abs(by - e) < TOLERANCE for e in (y0, y1))
        if not on_x and not on_y:
            return True
    return False


def _shaped(around: Polygon, sawn: Polygon, r: float, machine: Machine) -> Iterator[Path]:
    """Yield the stretches of the way round a panel on which the cutter meets wood to go."""
    cutting = machine.cutting
    ring = shapely.orient_polygons(around).exterior
    room = sawn.buffer(r - 0.01, join_style="mitre")
    inside = shared(ring, room)
    if inside.length > ring.length - _HAIR:
        around_it = ring.coords[:-1]
        yield _round(around_it[::-1] if cutting.direction == "climb" else around_it, machine)
        return
    lines = shapely.line_merge(inside)
    for line in getattr(lines, "geoms", [lines]):
        if not isinstance(line, LineString) or line.length < r:
            continue
        points = _run_out([(float(x), float(y)) for x, y in line.coords], cutting.run_out)
        path = line_path(points)
        if cutting.direction == "climb":
            path = reversed_path(path)
        yield with_arcs(path, cutting.chord) if cutting.arcs else path


def _run_out(points: list[Vec2], by: float) -> list[Vec2]:
    """Return a line that goes on straight at both ends."""
    ends = []
    for a, b in ((points[1], points[0]), (points[-2], points[-1])):
        share = by / math.dist(a, b)
        ends.append((b[0] + (b[0] - a[0]) * share, b[1] + (b[1] - a[1]) * share))
    return [ends[0], *points, ends[1]]
