"""Programs as values: set-ups, tools, bores and cuts in their order. Lengths in mm.

For a three-axis machine: one set-up for each surface, tools square to it only. Work zero is
the datum of the surface, Z 0 on the surface, X to the right as in the drawings; where y runs
down, the panel lies on the side of negative Y. Which tool a bore gets, how deep it reaches
and how high a panel may stand is the machine's (``kdkit/catalogue/machines.py``).
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.catalogue.machines import Machine, MachineTool
from kdkit.publish.files.tables import runs_on
from kdkit.publish.workshop.programs.cuts import Cut, Refused, list_cuts
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView
from kdkit.units import TOLERANCE

__all__ = [
    "CutRun",
    "Cycle",
    "Setup",
    "Tool",
    "leaning",
    "left_out",
    "left_round",
    "list_setups",
    "refused_cuts",
    "tools_of",
    "without_tool",
]

_DWELL = 0.5  # s, so that the floor of a housing comes out clean
_FLAT_FROM = 15.0  # bores this wide are housings with a flat floor
_DEEP = 3.0  # deeper than this many diameters: chips are cleared on the way
_PECK = 2.0  # diameters in one go
# All four: common practice, no source.


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A tool of the machine with its number, the same in all programs."""

    number: int
    is_: MachineTool

    @property
    def diameter(self) -> float:
        """Return its diameter in mm."""
        return self.is_.diameter

    @property
    def stepover(self) -> float | None:
        """Return how far apart the lanes of a cutter are at most, mm; None for other tools."""
        return self.is_.stepover * self.diameter if self.is_.kind == "cutter" else None


@dataclass(frozen=True, kw_only=True)
class Cycle:
    """One bore: ``code`` 81, 82 or 83, place, floor (negative), and what the code needs.

    ``diameter`` is that at the surface, mm.
    """

    code: int
    x: float
    y: float
    floor: float
    diameter: float
    dwell: float | None = None
    peck: float | None = None


@dataclass(frozen=True, kw_only=True)
class CutRun:
    """What one cutter makes in one go: all of ``what`` is of one kind."""

    what: str
    tool: Tool
    cuts: tuple[Cut, ...]


@dataclass(frozen=True, kw_only=True)
class Setup:
    """One surface lying up: the bores of each tool, then the cuts, in the order of their making.

    Grooves come after the bores, then slots and openings, and the outline comes last.
    """

    panel: PanelViews
    view: SurfaceView
    runs: tuple[tuple[Tool, tuple[Cycle, ...]], ...]
    cut_runs: tuple[CutRun, ...] = ()

    @property
    def name(self) -> str:
        """Return the name of its file without the ending: ``A-face``, ``B-edge-front``."""
        return f"{self.panel.letter}-{self.view.surface.replace(':', '-')}"

    @property
    def tools(self) -> tuple[Tool, ...]:
        """Return its tools in the order of their use."""
        found = [*(tool for tool, _ in self.runs), *(run.tool for run in self.cut_runs)]
        return tuple(dict.fromkeys(found))

    @property
    def deepest(self) -> float:
        """Return how far below the surface any tool goes."""
        floors = [c.floor for _, cycles in self.runs for c in cycles]
        return -min([*floors, *(cut.floor for run in self.cut_runs for cut in run.cuts)])

    @property
    def mark(self) -> str:
        """Return a number that its program and its plot share, and hardly any other program.

        It stands for the names that a program must not hold: whoever runs it can see
        whether the sheet in their hand belongs to it.
        """
        said = [
            self.name,
            *(f"{round(end, 2) + 0.0:.2f}" for end in self.view.box),
            *(
                f"{tool.number} {tool.diameter:.3f} {c.code} "
                f"{round(c.x, 2) + 0.0:.2f} {round(c.y, 2) + 0.0:.2f} {round(c.floor, 2):.2f}"
                for tool, cycles in self.runs
                for c in cycles
            ),
            *(
                f"{run.tool.number} {run.tool.diameter:.3f} {run.what} {cut.holds} {cut.tabs} "
                f"{round(cut.floor, 2):.2f} {round(at[0], 2) + 0.0:.2f} {round(at[1], 2) + 0.0:.2f}"
                for run in self.cut_runs
                for cut in run.cuts
                for lane in cut.lanes
                for at in (lane[0].start, *(stretch.end for stretch in lane))
            ),
        ]
        return f"{zlib.crc32(chr(10).join(said).encode()):010d}"


def _is_drilled(view: SurfaceView, bore: DrillLine) -> bool:
    """Tell whether a bore is for a program: one in a bevelled edge wants a set-up of its own."""
    return bore.stage == "workshop" and bore.towards_deg is None and view.leans == 0


def _tool_for(panel: PanelViews, bore: DrillLine, machine: Machine) -> Tool | None:
    """Return the machine's tool for a bore, if it has one that reaches its floor.

    The tip of a countersink must not come out of a thin panel.
    """
    number = machine.tool_for(bore.diameter, countersink=bore.sloped)
    if number is None:
        return None
    tool = Tool(number=number, is_=machine.tools[number])
    deep = -_floor(bore, tool, machine)
    if bore.sloped and deep > panel.cut.thickness + machine.break_through:
        return None
    return tool if deep <= tool.is_.reach + TOLERANCE else None


def leaning(panel: PanelViews) -> tuple[float, ...]:
    """Return by how much the slanted bores of a panel are off square, degrees, each once."""
    bores = [b for view in panel.views for b in view.bores if b.stage == "workshop"]
    offs = {round(90.0 - b.angle_deg, 2) for b in bores if b.towards_deg is not None}
    return tuple(sorted(offs))


def _held(panel: PanelViews, view: SurfaceView, machine: Machine) -> str:
    """Return why a surface cannot be laid under the spindle: ``large``, ``notch``, ``tall`` or "".

    The spindle travels at a height above the edge that is worked: wood that stands higher
    would be struck.
    """
    wide, deep = view.box[2] - view.box[0], view.box[3] - view.box[1]
    x, y = machine.travel
    if wide > x + TOLERANCE or deep > y + TOLERANCE:
        return "large"
    if view.above > TOLERANCE:
        return "notch"
    if view.is_edge and _stands(panel, view) > machine.stands + TOLERANCE:
        return "tall"
    return ""


def _stands(panel: PanelViews, view: SurfaceView) -> float:
    """Return how tall a panel stands at most with one of its edges up, mm."""
    length, width = panel.cut.finished
    along = runs_on(panel, view.surface)[0]
    if along == panel.x_runs:
        return width
    return length if along == panel.y_runs else math.hypot(length, width)


def left_out(panel: PanelViews, machine: Machine) -> dict[str, int]:
    """Return how many things of the workshop no program makes, by the reason, zeros left out.

    The reasons: ``slanted`` bores and those in ``bevelled`` edges; what no cutter makes, such
    as ``groove:narrow`` (its kind and the reason that ``list_cuts`` gives);
    bores on edges beyond which the panel stands out (``notch``) or for which it would stand too
    ``tall``, or on surfaces too ``large``
    for the machine; bores for which it has no tool, or none that reaches (``tools``); recesses
    that none of its countersinks makes (``sinks``), or for which it is not known how deep one
    has to go (``untold``).
    """
    counts = dict.fromkeys(_REASONS, 0)
    for view in panel.views:
        for why, bores in without_tool(panel, view, machine).items():
            counts[why] += len(bores)
        for what, why in refused_cuts(panel, view, machine):
            counts[f"{what}:{why}"] = counts.get(f"{what}:{why}", 0) + 1
        for bore in view.bores:
            if bore.stage != "workshop":
                continue
            if bore.towards_deg is not None:
                counts["slanted"] += 1
            elif view.leans != 0:
                counts["bevelled"] += 1
            elif why := _held(panel, view, machine):
                counts[why] += 1
    return {why: count for why, count in counts.items() if count}


_REASONS = ("slanted", "bevelled", "notch", "tall", "large", "tools", "sinks", "untold")


def refused_cuts(
    panel: PanelViews, view: SurfaceView, machine: Machine
) -> tuple[tuple[str, str], ...]:
    """Return what of a surface no cutter makes, each with its reason."""
    cuts = list_cuts(panel, view, machine, _held(panel, view, machine))
    return tuple((cut.what, cut.why) for cut in cuts if isinstance(cut, Refused))


def left_round(setup: Setup) -> dict[tuple[str, float], int]:
    """Return how many corners cutters leave round, by what is cut and the radius in mm."""
    found: dict[tuple[str, float], int] = {}
    for run in setup.cut_runs:
        for cut in run.cuts:
            if cut.corners:
                key = (run.what, run.tool.diameter / 2)
                found[key] = found.get(key, 0) + cut.corners
    return found


def without_tool(
    panel: PanelViews, view: SurfaceView, machine: Machine
) -> dict[str, list[DrillLine]]:
    """Return the bores of a surface that the machine holds but has no tool for, by the reason.

    The reasons are ``tools``, ``sinks`` and ``untold``, as in ``left_out``.
    """
    found: dict[str, list[DrillLine]] = {"tools": [], "sinks": [], "untold": []}
    if _held(panel, view, machine):
        return found
    for bore in view.bores:
        if not _is_drilled(view, bore) or _tool_for(panel, bore, machine) is not None:
            continue
        made = machine.tool_for(bore.diameter, countersink=True) is not None
        untold = not made and machine.has_untold_countersink(bore.diameter)
        found["tools" if not bore.sloped else "untold" if untold else "sinks"].append(bore)
    return found


def tools_of(setups: Sequence[Setup]) -> tuple[Tool, ...]:
    """Return the tools that some set-ups need, by number."""
    tools = {tool.number: tool for setup in setups for tool in setup.tools}
    return tuple(tools[number] for number in sorted(tools))


def list_setups(panels: Sequence[PanelViews], machine: Machine) -> Iterator[Setup]:
    """Yield the set-ups of all panels; a surface without work for the machine has none."""
    for panel in panels:
        for view in panel.views:
            if _held(panel, view, machine):
                continue
            cycles: dict[int, list[Cycle]] = {}
            for bore in view.bores:
                tool = _tool_for(panel, bore, machine) if _is_drilled(view, bore) else None
                if tool is not None:
                    cycles.setdefault(tool.number, []).append(_cycle(view, bore, tool, machine))
            runs = tuple(
                (Tool(number=n, is_=machine.tools[n]), tuple(_to_and_fro(cycles[n])))
                for n in sorted(cycles)
            )
            cut_runs = tuple(_cut_runs(panel, view, machine))
            if runs or cut_runs:
                yield Setup(panel=panel, view=view, runs=runs, cut_runs=cut_runs)


def _cut_runs(panel: PanelViews, view: SurfaceView, machine: Machine) -> Iterator[CutRun]:
    """Yield the cuts of a surface by kind and tool; ``list_cuts`` gives the order of kinds."""
    found: dict[tuple[str, int], list[Cut]] = {}
    for cut in list_cuts(panel, view, machine, ""):
        if isinstance(cut, Cut):
            found.setdefault((cut.what, cut.tool), []).append(cut)
    for (what, number), cuts in found.items():
        tool = Tool(number=number, is_=machine.tools[number])
        yield CutRun(what=what, tool=tool, cuts=tuple(cuts))


def _to_and_fro(cycles: Sequence[Cycle]) -> Iterator[Cycle]:
    """Yield bores of one kind after the other, row by row, every second row backwards."""
    rows: dict[tuple[int, float, float], list[Cycle]] = {}
    for cycle in cycles:
        rows.setdefault((cycle.code, -cycle.floor, round(abs(cycle.y), 2)), []).append(cycle)
    for n, key in enumerate(sorted(rows)):
        yield from sorted(rows[key], key=lambda c: c.x, reverse=n % 2 == 1)


def _floor(bore: DrillLine, tool: Tool, machine: Machine) -> float:
    """Return the Z to which a tool goes for a bore."""
    if tool.is_.kind == "countersink":
        return -tool.is_.sink_depth(bore.diameter)
    return -(bore.depth + machine.break_through) if bore.through else -bore.depth


def _cycle(view: SurfaceView, bore: DrillLine, tool: Tool, machine: Machine) -> Cycle:
    x, y = view.seen((bore.x, bore.y))
    floor = _floor(bore, tool, machine)
    if tool.is_.kind == "countersink":
        return Cycle(code=82, x=x, y=y, floor=floor, diameter=bore.diameter, dwell=_DWELL)
    wide = tool.diameter
    if -floor > _DEEP * bore.diameter:
        return Cycle(code=83, x=x, y=y, floor=floor, diameter=wide, peck=_PECK * bore.diameter)
    if bore.diameter >= _FLAT_FROM and not bore.through:
        return Cycle(code=82, x=x, y=y, floor=floor, diameter=wide, dwell=_DWELL)
    return Cycle(code=81, x=x, y=y, floor=floor, diameter=wide)
