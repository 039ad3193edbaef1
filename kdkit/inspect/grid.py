"""The 32 mm system: what departs from it, and the nearest size on the grid.

Source:
    Pitch 32, bore Ø5, front row 37 behind the front edge, a balanced panel is 2a + 32n high,
    the rear row a multiple of 32 behind the front row, a front 32n − reveal high, depth 12 to
    13, skin 3 or more, inset fronts with the row at 37 + front thickness: common practice, no
    source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from kdkit.diagnostics import Problem, advice, warning
from kdkit.frames import dot
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore
from kdkit.joinery.shared_bores import SHARED
from kdkit.joinery.standpoints import Middles
from kdkit.joinery.system_rows import SystemPanel, system_panels
from kdkit.model.resolved import SystemRowsSpec
from kdkit.parts.words import bore_noun
from kdkit.units import mm_text

__all__ = ["check_system_rows"]

_PITCH, _BORE, _FRONT = 32.0, 5.0, 37.0
_DEPTH = (12.0, 13.0)
_ON_ROW = 0.5  # mm across a row within which a bore is meant to stand on it

_BALANCED = "a balanced panel is 2a + 32n high: common practice in the 32 mm system"
_PRACTICE = "common practice in the 32 mm system"


def check_system_rows(inspection: Inspection) -> Iterable[Problem]:
    """Panels, rows, fronts and fittings keep to the grid of the system rows."""
    resolved = inspection.resolved
    if not resolved.system_rows:
        return
    middles = Middles(inspection.assembly.parts)
    panels, _ = system_panels(resolved, inspection.members, middles)
    for spec in resolved.system_rows:
        yield from _figures(spec)
        yield from _fronts(inspection, spec)
    told: set[tuple[str | None, object]] = set()
    for panel in panels:
        original = inspection.part(panel.part).mirror_of
        if not {(panel.part, panel.spec.path), (original, panel.spec.path)} & told:
            told.add((panel.part, panel.spec.path))
            yield from _balance(inspection, panel)
            yield from _back_row(panel)
        yield from _off_the_grid(inspection, panel)
        yield from _left_out(inspection, panel)


def _around(size: float, least: float, pitch: float) -> tuple[float, float] | None:
    """Return the sizes least + n·pitch below and above one that is not such a size."""
    steps = (size - least) / pitch
    if abs(steps - round(steps)) * pitch <= SHARED:
        return None
    below = least + math.floor(steps) * pitch
    return below, below + pitch


def _said(around: tuple[float, float]) -> str:
    below, above = around
    return f"{mm_text(below)} or {mm_text(above)}" if below > 0 else mm_text(above)


def _figures(spec: SystemRowsSpec) -> Iterator[Problem]:
    """What the maker says otherwise than the system has it."""
    for key, value, usual in (
        ("pitch", spec.pitch, _PITCH),
        ("bore", spec.bore, _BORE),
        ("front", spec.front, _FRONT),
    ):
        if abs(value - usual) > 1e-6:
            yield advice(
                "system-figures",
                f"{key} is {mm_text(value)} mm; the 32 mm system has {mm_text(usual)}",
                (*spec.path, key),
                help="hinges and runners made for the system need it so: common practice",
            )
    low, high = _DEPTH
    if spec.depth is not None and not low - 1e-6 <= spec.depth <= high + 1e-6:
        yield advice(
            "system-figures",
            f"the rows are {mm_text(spec.depth)} mm deep; usual are {mm_text(low)} to"
            f" {mm_text(high)}",
            (*spec.path, "depth"),
            help=f"the nearest is {mm_text(min(max(spec.depth, low), high))}; common practice,"
            " no source",
        )


def _fronts(inspection: Inspection, spec: SystemRowsSpec) -> Iterator[Problem]:
    for name in spec.fronts:
        part = inspection.part(name)
        box = part_box(part)
        height = float(box[5] - box[2])
        around = _around(height, -spec.reveal, spec.pitch)
        if around is not None:
            yield warning(
                "system-front-height",
                f"the front {name} is {mm_text(height)} mm high, which is no multiple of"
                f" {mm_text(spec.pitch)} less the reveal of {mm_text(spec.reveal)}",
                part.path,
                where=name,
                help=f"on the grid: {_said(around)}; {_PRACTICE}",
            )


def _balance(inspection: Inspection, panel: SystemPanel) -> Iterator[Problem]:
    spec = panel.spec
    if spec.end is None or not spec.balanced:
        return
    around = _around(panel.height, 2 * spec.end, spec.pitch)
    if around is None:
        return
    below, above = around
    yield warning(
        "system-panel-height",
        f"{panel.part} is {mm_text(panel.height)} mm high and not balanced: it has"
        f" {mm_text(spec.end)} mm below its lowest bore and"
        f" {mm_text(panel.height - below + spec.end)} above its highest",
        inspection.part(panel.part).path,
        where=panel.part,
        help=f"on the grid: {_said((below, above))}, as `on_grid(height, {spec.end:g})` gives it;"
        f" source: {_BALANCED}",
    )


def _back_row(panel: SystemPanel) -> Iterator[Problem]:
    spec = panel.spec
    if spec.back is None:
        return
    gap = panel.reach["back"] - panel.reach["front"]
    around = _around(gap, 0.0, spec.pitch)
    if around is None:
        return
    below, above = around
    setbacks = [panel.deep - panel.reach["front"] - gap for gap in (below, above)]
    possible = [mm_text(s) for s in setbacks if s > 0]
    yield warning(
        "system-back-row",
        f"the back row of {panel.part} lies {mm_text(gap)} mm behind the front row, which is no"
        f" multiple of {mm_text(spec.pitch)}",
        (*spec.path, "back"),
        where=panel.part,
        help=f"on the grid: {_said((below, above))} behind the front row, a setback of"
        f" {' or '.join(possible)}; {_PRACTICE}",
    )


def _off_the_grid(inspection: Inspection, panel: SystemPanel) -> Iterator[Problem]:
    """Bores that belong in the rows, by what they are for or where they stand."""
    spec = panel.spec
    if not panel.rows:
        return
    frame = panel.rows[0].frames[0]
    part = inspection.part(panel.part)
    along = frame.i if panel.along > 0 else (-frame.i[0], -frame.i[1], -frame.i[2])
    for bore in inspection.bores.get(panel.part, ()):
        if bore.surface != panel.surface or abs(bore.diameter - spec.bore) > SHARED:
            continue
        at = part.frame.point_to_outer(bore.mouth)
        offset = (at[0] - frame.origin[0], at[1] - frame.origin[1], at[2] - frame.origin[2])
        first = panel.reach[panel.rows[0].side]
        setback = first + dot(offset, along)
        rise = dot(offset, frame.j)
        on_row = any(abs(setback - row) < _ON_ROW for row in panel.reach.values())
        if not (on_row or _belongs(inspection, bore)):
            continue
        up = _around(rise, 0.0, spec.pitch)
        if up is not None:
            below, above = up
            yield warning(
                "system-bore-off",
                f"{bore_noun(bore.purpose)} stands {mm_text(rise - below, 2)} mm over one height of"
                f" the grid and {mm_text(above - rise, 2)} mm under the next",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"move it down or up by that: the rows have bores every"
                f" {mm_text(spec.pitch)} mm, {mm_text(panel.end)} mm from the panel's end up",
            )
            continue
        across = _around(setback, panel.reach["front"], spec.pitch)
        if across is not None and not on_row:
            yield warning(
                "system-bore-off",
                f"{bore_noun(bore.purpose)} stands {mm_text(setback)} mm behind the front edge, off"
                " the grid",
                bore.path,
                where=inspection.bore_words(bore),
                help=f"on the grid: {_said(across)}; {_PRACTICE}",
            )


def _belongs(inspection: Inspection, bore: Bore) -> bool:
    """Tell whether a bore is one for shelf supports, hinge plates or runners."""
    if bore.fastener is None:
        return bore.spare
    fastener = inspection.fasteners.get(bore.fastener)
    fitting = inspection.fitting_of(bore)
    if fastener is None or fitting is None:
        return False
    return fastener.butting is None or bool({"hung", "facing"} & set(fitting.contact))


def _left_out(inspection: Inspection, panel: SystemPanel) -> Iterator[Problem]:
    spec = panel.spec
    if not spec.full:
        return
    part = inspection.part(panel.part)
    found = {
        (round(bore.mouth[0]), round(bore.mouth[1]), bore.surface if not bore.through else "")
        for bore in inspection.bores.get(panel.part, ())
        if abs(bore.into[2]) > 1 - 1e-6
    }
    for row in panel.rows:
        missing = []
        for grid in row.frames:
            x, y, _ = part.frame.point_to_inner(grid.origin)
            near = (
                (round(x) + dx, round(y) + dy, surface)
                for dx in (-1, 0, 1)
                for dy in (-1, 0, 1)
                for surface in (panel.surface, "")
            )
            if not any(place in found for place in near):
                missing.append(grid.origin)
        if missing:
            at = ", ".join(mm_text(c) for c in missing[0])
            yield advice(
                "system-row-gaps",
                f"the {row.side} row of {panel.part} leaves out {len(missing)}"
                f" bore{'' if len(missing) == 1 else 's'} that would run into something else",
                spec.path,
                where=f"{panel.part}, first at ({at})",
                help="move what is there onto the grid, or say `drill: used`",
            )
