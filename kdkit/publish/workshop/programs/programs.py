"""Programs in the words of ISO 6983: absolute millimetres.

Where the machine's control knows canned cycles, G81 drills, G82 stays a moment on the floor
of a housing, G83 clears its chips, and every bore ends with a return to the safe height
(G98); else the same moves are written one by one. Before anything else, and before and after
each tool, the spindle stops and goes up to the machine's own top (G53). A machine that
changes tools by itself gets T and M6 and takes the tool's length by G43; for one that does
not, each tool has a program of its own, before which a person sets Z zero.

A program says in comments which surface it is for, where work zero is and what it leaves out;
it holds no text of a definition. First all bores are drilled, then grooves, slots and
openings are cut, the shaped outline last (``cuts``, ``cutter_moves``). What no tool makes
whole, such as slanted bores, is told, never half made.
"""

from __future__ import annotations

import pathlib
import re
from collections import Counter
from collections.abc import Sequence

from kdkit.catalogue.machines import Machine
from kdkit.diagnostics import Problem, advice
from kdkit.frames import Vec2
from kdkit.publish.files.columns import product_columns, table_rows
from kdkit.publish.files.tables import datum_words, render_rows, runs_on, surface_words
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.cuts import Cut
from kdkit.publish.workshop.programs.cutter_moves import CutterMove, cutter_moves
from kdkit.publish.workshop.programs.program_blocks import (
    CutRun,
    Cycle,
    Setup,
    Tool,
    leaning,
    left_out,
    list_setups,
    refused_cuts,
    tools_of,
    without_tool,
)
from kdkit.publish.workshop.programs.program_sheets import (
    cut_words,
    draw_program_sheets,
    program_name,
    tool_columns,
)
from kdkit.publish.workshop.programs.program_text import (
    LONGEST_LINE,
    comment_lines,
    program_number,
    words_of,
)
from kdkit.schedule.views import PanelViews
from kdkit.units import TOLERANCE, mm_text

__all__ = ["render_programs", "write_programs"]

Run = tuple[Tool, tuple[Cycle, ...] | CutRun]

_CLEAR = 0.5  # mm above the last floor to which a drill goes back at full speed; common practice


_NAME = re.compile(r"[A-Z]{1,8}-[a-z0-9-]{1,24}", re.ASCII)
"""A panel's letter and a surface; many controls show no other names whole."""


_LEFT_OUT = {
    "slanted": ("slanted bore", "slanted bores"),
    "bevelled": ("bore in a bevelled edge", "bores in bevelled edges"),
    "notch": (
        "bore on an edge beyond which the panel stands out",
        "bores on edges beyond which the panel stands out",
    ),
    "tall": (
        "bore on an edge for which it would stand taller than the machine holds",
        "bores on edges for which it would stand taller than the machine holds",
    ),
    "large": ("bore, the panel being larger than the machine",
              "bores, the panel being larger than the machine"),
    "tools": ("bore for which the machine has no tool that reaches",
              "bores for which the machine has no tool that reaches"),
    "sinks": ("countersink that no tool of the machine makes",
              "countersinks that no tool of the machine makes"),
    "untold": ("countersink, the angle or the tip of the machine's tool not being said",
               "countersinks, the angle or the tip of the machine's tool not being said"),
}  # fmt: skip


def write_programs(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``programs/``: the programs, ``tools.csv``, ``read-first.pdf``.

    Returns:
        An advice for each panel of which something has to be made otherwise.
    """
    setups = tuple(list_setups(job.panels, job.machine))
    tools = tools_of(setups)
    target = folder / "programs"
    target.mkdir()
    programs: dict[str, str] = {}
    for setup in setups:
        for name, text in render_programs(setup, job).items():
            programs[name] = text
            if not _NAME.fullmatch(name):
                raise ValueError(f"{name!r} is no name for a program's file")
            (target / f"{name}.nc").write_text(text, encoding="ascii", newline="")
    (target / "tools.csv").write_text(_tool_table(tools, job), "utf-8", newline="")
    sheets = draw_program_sheets(job, setups, tools, words_of(programs.values()))
    title = job.messages.plain("workshop.programs_title", product=job.product)
    pdf = make_sheets([s.render() for s in sheets], PAPER_SIZES[job.paper], title, job.messages)
    (target / "read-first.pdf").write_bytes(pdf)
    return tuple(_left_out_advice(job))


def _tool_table(tools: tuple[Tool, ...], job: WorkshopJob) -> str:
    columns = [*tool_columns(job.messages), *product_columns(job.results)]
    return render_rows(table_rows(columns, tools, job.messages))


def _left_out_advice(job: WorkshopJob) -> list[Problem]:
    found = []
    for panel in job.panels:
        counts = left_out(panel, job.machine)
        sizes = _sizes_without_tool(panel, job.machine)
        offs = ", ".join(f"{mm_text(off, 2)}°" for off in leaning(panel))
        sizes["slanted"] = f" ({offs} off square)"
        words = [
            cut_words(job.messages, why, n) if ":" in why
            else f"{n} {_LEFT_OUT[why][n > 1]}{sizes.get(why, '')}" for why, n in counts.items()
        ]  # fmt: skip
        if words:
            found.append(
                advice(
                    "not-in-program",
                    f"the programs of {panel.letter} leave out {', '.join(words)}",
                    job.results.resolved.part(panel.cut.parts[0]).path,
                    where=", ".join(panel.cut.parts),
                    help="make them by jig, saw or router, from the panel's drawing",
                )
            )
    return found


def _sizes_without_tool(panel: PanelViews, machine: Machine) -> dict[str, str]:
    """Return the sizes of the bores without a tool in brackets, by the reason."""
    sizes: dict[str, set[tuple[float, float]]] = {}
    for view in panel.views:
        for why, bores in without_tool(panel, view, machine).items():
            sizes.setdefault(why, set()).update((b.diameter, b.depth) for b in bores)
    return {
        why: f" ({', '.join(f'Ø{mm_text(d, 3)} × {mm_text(t, 1)}' for d, t in sorted(found))})"
        for why, found in sizes.items()
    }


def render_programs(setup: Setup, job: WorkshopJob) -> dict[str, str]:
    """Return the programs of one set-up by name; ASCII, a block a line.

    One for a machine that changes its tools, else one a tool.

    Raises:
        ValueError: a fault in kdkit: a bore lies outside the surface, or a number or a line
            is none that a control could read.
    """
    for _, cycles in setup.runs:
        for cycle in cycles:
            _refuse_outside(cycle, setup, job.machine)
    for run in setup.cut_runs:
        for cut in run.cuts:
            _refuse_cut_outside(cut, setup, job.machine)
    runs: list[Run] = [*setup.runs, *((run.tool, run) for run in setup.cut_runs)]
    if job.machine.changes_tools:
        return {setup.name: _program(setup, job, runs)}
    return {
        program_name(setup, tool, job.machine, done.what if isinstance(done, CutRun) else ""):
        _program(setup, job, [(tool, done)])
        for tool, done in runs
    }  # fmt: skip


def _program(setup: Setup, job: WorkshopJob, runs: Sequence[Run]) -> str:
    machine = job.machine
    top = f"G53 G0 Z{_n(machine.top)}"
    modes = f"G21 G17 G90 G94 G40 G49{' G80' if machine.canned_cycles else ''} G54"
    lines = ["%", *_heading(setup, job, runs), modes, "M5", top]
    before: Tool | None = None
    for tool, done in runs:
        if tool != before:
            lines += _put_away(machine) if before is not None else []
            lines += comment_lines(job.messages.plain(f"workshop.program_{tool.is_.kind}"),
                                   tool.diameter)  # fmt: skip
            if machine.changes_tools:
                lines.append(f"T{tool.number:d} M6")
            else:
                lines += comment_lines(job.messages.plain("workshop.program_zeroed"))
            lines.append(f"S{tool.is_.speed:d} M3")
        if isinstance(done, CutRun):
            x, y = done.cuts[0].lanes[0][0].start
        else:
            x, y = done[0].x, done[0].y
        lines.append(f"G0 X{_n(x)} Y{_n(y)}")
        if tool != before:
            if machine.changes_tools:
                lines.append(f"G43 H{tool.number:d}")
            lines.append(f"G0 Z{_n(machine.safe_height)}")
        before = tool
        if isinstance(done, CutRun):
            lines += comment_lines(job.messages.plain(f"workshop.cut_{done.what}_many"))
            lines += _cutter_blocks(done, setup, machine)
        else:
            lines += _drilled(done, tool, machine)
    lines += [*_put_away(machine), "M30", "%"]
    if long := [line for line in lines if len(line) > LONGEST_LINE]:
        raise ValueError(f"{setup.name}: {long[0]!r} is too long for a control")
    return "".join(f"{line}\r\n" for line in lines)


def _put_away(machine: Machine) -> list[str]:
    """Return the blocks after a tool: it stops and goes up to the machine's own top."""
    return ["M5", f"G53 G0 Z{_n(machine.top)}", *(["G49"] if machine.changes_tools else [])]


def _cutter_blocks(run: CutRun, setup: Setup, machine: Machine) -> list[str]:
    """Return the blocks of a cutter, from and to the safe height."""
    thick = _deepest(setup)
    moves = [m for cut in run.cuts for m in cutter_moves(cut, thick, machine)]
    lines: list[str] = []
    at, feed = (run.cuts[0].lanes[0][0].start, machine.safe_height), 0
    for move in moves:
        end = (move.end[:2], move.end[2])
        going = run.tool.is_.feed if move.kind == "cut" else run.tool.is_.plunge_feed or 0
        words = _moved(move, at)
        if not words:
            continue
        if move.kind != "rapid" and going != feed:
            words, feed = f"{words} F{going:d}", going
        lines.append(words)
        at = end
    return lines


def _moved(move: CutterMove, at: tuple[Vec2, float]) -> str:
    """Return a move without its feed; nothing if it leads nowhere."""
    (x, y), z = at
    place = [f"X{_n(move.end[0])}", f"Y{_n(move.end[1])}"]
    level = [] if _n(z) == _n(move.end[2]) else [f"Z{_n(move.end[2])}"]
    if move.centre is not None:
        # From the beginning as it was written, so that both radii agree to a thousandth.
        i, j = move.centre[0] - round(x, 3), move.centre[1] - round(y, 3)
        return " ".join([f"G{3 if move.left else 2}", *place, *level, f"I{_n(i)}", f"J{_n(j)}"])
    aside = [p for p, old in zip(place, (f"X{_n(x)}", f"Y{_n(y)}"), strict=True) if p != old]
    words = [*aside, *level]
    return " ".join([f"G{0 if move.kind == 'rapid' else 1}", *words]) if words else ""


def _drilled(cycles: Sequence[Cycle], tool: Tool, machine: Machine) -> list[str]:
    """Return the blocks that drill, from and to the safe height."""
    if not machine.canned_cycles:
        return [line for cycle in cycles for line in _moves(cycle, tool, machine)]
    lines = []
    before: Cycle | None = None
    for cycle in cycles:
        lines.append(_block(cycle, before, tool, machine))
        before = cycle
    return [*lines, "G80", f"G0 Z{_n(machine.safe_height)}"]


def _moves(cycle: Cycle, tool: Tool, machine: Machine) -> list[str]:
    """Return one bore as plain moves; chips are cleared as G83 does."""
    near = machine.near_height
    lines = [f"G0 X{_n(cycle.x)} Y{_n(cycle.y)}", f"G0 Z{_n(near)}"]
    deep, step = near, near - cycle.floor if cycle.peck is None else cycle.peck
    while deep > cycle.floor:
        if deep < near:  # out to clear the chips, and back to just above the last floor
            lines += [f"G0 Z{_n(near)}", f"G0 Z{_n(min(near, deep + _CLEAR))}"]
        deep = max(cycle.floor, deep - step)
        lines.append(f"G1 Z{_n(deep)} F{tool.is_.feed:d}")
    if cycle.dwell is not None:
        lines.append(f"G4 P{_n(cycle.dwell)}")
    return [*lines, f"G0 Z{_n(machine.safe_height)}"]


def _refuse_outside(cycle: Cycle, setup: Setup, machine: Machine) -> None:
    """Refuse a bore that a checked product cannot have.

    Raises:
        ValueError: a fault in kdkit: no program is better than a plunge beside the panel.
    """
    x0, y0, x1, y1 = setup.view.box
    deepest = _deepest(setup) + machine.break_through
    inside = x0 <= cycle.x <= x1 and y0 <= cycle.y <= y1
    if not inside or not 0 < -cycle.floor <= deepest + TOLERANCE:
        raise ValueError(
            f"{setup.name}: a bore at ({cycle.x}, {cycle.y}) down to {cycle.floor} is not in "
            f"the surface from ({x0}, {y0}) to ({x1}, {y1}), or deeper than {deepest}"
        )


def _deepest(setup: Setup) -> float:
    """Return how much wood is under a surface at most, mm."""
    cut = setup.panel.cut
    return max(cut.finished) if setup.view.is_edge else cut.thickness


def _refuse_cut_outside(cut: Cut, setup: Setup, machine: Machine) -> None:
    """Refuse a cut that leads further beside the panel, or deeper, than is told.

    Raises:
        ValueError: a fault in kdkit.
    """
    x0, y0, x1, y1 = setup.view.box
    beside = machine.cutting.run_out + machine.tools[cut.tool].diameter / 2 + TOLERANCE
    ends = [p for lane in cut.lanes for s in lane for p in (s.start, s.end)]
    inside = all(
        x0 - beside <= x <= x1 + beside and y0 - beside <= y <= y1 + beside for x, y in ends
    )
    deep = -cut.floor <= min(_deepest(setup) + machine.break_through,
                             machine.tools[cut.tool].reach) + TOLERANCE  # fmt: skip
    if not inside or not deep or cut.floor >= 0:
        raise ValueError(f"{setup.name}: {cut.what} leads beside or below the panel: {cut}")


def _block(cycle: Cycle, before: Cycle | None, tool: Tool, machine: Machine) -> str:
    """Return a bore's block; while cycle and floor stay the same, only its place."""
    place = f"X{_n(cycle.x)} Y{_n(cycle.y)}"
    same = before is not None and (cycle.code, cycle.floor) == (before.code, before.floor)
    if same:
        return place
    block = f"G98 G{cycle.code:d} {place} Z{_n(cycle.floor)} R{_n(machine.near_height)}"
    if cycle.dwell is not None:
        block += f" P{_n(cycle.dwell)}"
    if cycle.peck is not None:
        block += f" Q{_n(cycle.peck)}"
    return f"{block} F{tool.is_.feed:d}"


def _heading(setup: Setup, job: WorkshopJob, runs: Sequence[Run]) -> list[str]:
    """Return the comments at the head: what lies how, from where to where, what is not made.

    Nothing of a definition is among them (``program_text`` says why).
    """
    say = job.messages.plain
    panel, view = setup.panel, setup.view
    x_runs, y_runs = runs_on(panel, view.surface)
    lines: list[str] = []

    def add(key: str, number: float | str | None = None, **words: str) -> None:
        lines.extend(comment_lines(say(f"workshop.program_{key}", **words), number))

    edge = view.surface.removeprefix("edge:")
    lines += comment_lines(f"kdkit - {panel.letter} - {'edge' if view.is_edge else edge}")
    if edge.isdigit():
        add("edge_number", edge)
    else:
        add("surface", surface=surface_words(job.messages, view.surface))
    add("mark", setup.mark)
    add("read_first")
    zero = "zero_slant" if view.slants else "zero_edge" if view.is_edge else "zero"
    add(zero, datum=datum_words(job.messages, panel.datum))
    if view.slants:
        add("slant", round(view.slants, 2))
    add("axes", x=say(f"runs.{x_runs}"), y=say(f"runs.{y_runs}"))
    add("y_down" if view.y_down else "y_up")
    for name, end in zip(("x_least", "y_least", "x_most", "y_most"), view.box, strict=True):
        add(name, end)
    if panel.cut.bevels:
        add("bevelled")
    cuts = [c for _, run in runs if isinstance(run, CutRun) for c in run.cuts]
    if any(b.through for b in view.bores) or any(-c.floor > panel.cut.thickness for c in cuts):
        add("through", job.machine.break_through)
    if over := max((cut.over for cut in cuts), default=0.0):
        add("run_out", over)
    for holding in sorted({cut.holds for cut in cuts if cut.holds}):
        add(f"held_{holding}", str(sum(cut.holds == holding for cut in cuts)))
    if corners := sum(cut.corners for cut in cuts):
        add("round_corners", str(corners))
    for tool, _ in runs:
        if tool.is_.kind == "countersink":
            add("sink_tool", str(tool.number))
            add("sink_angle", tool.is_.angle)
            add("sink_tip", tool.is_.tip)
    left = {
        "slanted": sum(b.towards_deg is not None and b.stage == "workshop" for b in view.bores),
        "home": sum(b.stage == "home" for b in view.bores),
        **{why: len(b) for why, b in without_tool(panel, view, job.machine).items()},
    }
    for what, count in left.items():
        if count:
            add(f"without_{what}", str(count))
    refused = Counter(refused_cuts(panel, view, job.machine))
    for (what, why), count in refused.items():
        add("without_cuts", str(count), what=say(f"workshop.cut_{what}_many"),
            why=say(f"workshop.why_{why}"))  # fmt: skip
    return lines


_n = program_number
