"""Drilling programs in the words of ISO 6983: absolute millimetres, canned cycles.

G81 drills, G82 stays a moment on the floor of a housing, G83 clears its chips. Every
bore ends with a return to the safe height (G98). A program says in comments which surface
it is for, where work zero is and what it leaves out; it holds no text of a definition.
"""

from __future__ import annotations

import pathlib
import re

from kdkit.diagnostics import Problem, advice
from kdkit.publish.pdf import make_sheets
from kdkit.publish.tables import (
    Number,
    datum_words,
    render_rows,
    runs_on,
    surface_words,
    with_product,
)
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.program_blocks import (
    BREAK_THROUGH,
    NEAR_HEIGHT,
    SAFE_HEIGHT,
    Cycle,
    Setup,
    Tool,
    left_out,
    list_setups,
    list_tools,
)
from kdkit.publish.workshop.program_sheets import draw_program_sheets
from kdkit.publish.workshop.program_text import LONGEST_LINE, comment_lines, program_number
from kdkit.publish.workshop.sheet import PAPER_SIZES
from kdkit.units import TOLERANCE, mm_text

__all__ = ["render_program", "write_programs"]


_NAME = re.compile(r"[A-Z]{1,8}-[a-z0-9-]{1,20}", re.ASCII)
"""A panel's letter and a surface; many controls show no other names whole."""


def write_programs(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``programs/``: a program for each set-up, ``tools.csv``, ``read-first.pdf``.

    Returns:
        An advice for each panel of which something has to be made otherwise.
    """
    tools = list_tools(job.panels)
    setups = tuple(list_setups(job.panels, tools))
    target = folder / "programs"
    target.mkdir()
    for setup in setups:
        if not _NAME.fullmatch(setup.name):
            raise ValueError(f"{setup.name!r} is no name for a program's file")
        text = render_program(setup, job)
        (target / f"{setup.name}.nc").write_text(text, encoding="ascii", newline="")
    (target / "tools.csv").write_text(_tool_table(tools, job), "utf-8", newline="")
    sheets = draw_program_sheets(job, setups, tools)
    title = job.messages.plain("workshop.programs_title", product=job.product)
    pdf = make_sheets([s.render() for s in sheets], PAPER_SIZES[job.paper], title, job.messages)
    (target / "read-first.pdf").write_bytes(pdf)
    return tuple(_left_out_advice(job))


def _tool_table(tools: tuple[Tool, ...], job: WorkshopJob) -> str:
    heads = ("tool", "diameter", "speed", "feed")
    rows: list[list[object]] = [[job.messages.plain(f"workshop.tool_{head}") for head in heads]]
    rows += [
        [tool.number, Number(mm_text(tool.diameter, 3)), tool.speed, tool.feed] for tool in tools
    ]
    return render_rows(with_product(rows, job.results, job.messages))


def _left_out_advice(job: WorkshopJob) -> list[Problem]:
    found = []
    for panel in job.panels:
        kinds = (
            ("slanted bore", "slanted bores"),
            ("bore in a bevelled edge", "bores in bevelled edges"),
            ("groove", "grooves"),
            ("slot", "slots"),
        )
        counts = zip(left_out(panel), kinds, strict=True)
        words = [f"{n} {many if n > 1 else one}" for n, (one, many) in counts if n]
        if words:
            found.append(
                advice(
                    "not-in-program",
                    f"the drilling programs of {panel.letter} leave out {', '.join(words)}",
                    job.results.resolved.part(panel.cut.parts[0]).path,
                    where=", ".join(panel.cut.parts),
                    help="make them by jig, saw or router, from the panel's drawing",
                )
            )
    return found


def render_program(setup: Setup, job: WorkshopJob) -> str:
    """Return the program of one set-up; ASCII, a block a line.

    Raises:
        ValueError: a fault in kdkit: a bore lies outside the surface, or a number or a line
            is none that a control could read.
    """
    for _, cycles in setup.runs:
        for cycle in cycles:
            _refuse_outside(cycle, setup)
    lines = ["%", *_heading(setup, job)]
    lines += ["G21 G17 G90 G94 G40 G49 G80 G54", "M5"]
    for tool, cycles in setup.runs:
        lines += comment_lines(job.messages.plain("workshop.program_tool"), tool.diameter)
        lines += [f"T{tool.number:d} M6", f"S{tool.speed:d} M3"]
        lines.append(f"G0 Z{_n(SAFE_HEIGHT)}")
        lines.append(f"G0 X{_n(cycles[0].x)} Y{_n(cycles[0].y)}")
        before: Cycle | None = None
        for cycle in cycles:
            lines.append(_block(cycle, before, tool))
            before = cycle
        lines += ["G80", f"G0 Z{_n(SAFE_HEIGHT)}", "M5"]
    lines += ["M30", "%"]
    if long := [line for line in lines if len(line) > LONGEST_LINE]:
        raise ValueError(f"{setup.name}: {long[0]!r} is too long for a control")
    return "".join(f"{line}\r\n" for line in lines)


def _refuse_outside(cycle: Cycle, setup: Setup) -> None:
    """Refuse a bore that a checked product cannot have.

    Raises:
        ValueError: a fault in kdkit: no program is better than a plunge beside the panel.
    """
    x0, y0, x1, y1 = setup.view.box
    cut = setup.panel.cut
    deepest = (max(cut.finished) if setup.view.is_edge else cut.thickness) + BREAK_THROUGH
    inside = x0 <= cycle.x <= x1 and y0 <= cycle.y <= y1
    if not inside or not 0 < -cycle.floor <= deepest + TOLERANCE:
        raise ValueError(
            f"{setup.name}: a bore at ({cycle.x}, {cycle.y}) down to {cycle.floor} is not in "
            f"the surface from ({x0}, {y0}) to ({x1}, {y1}), or deeper than {deepest}"
        )


def _block(cycle: Cycle, before: Cycle | None, tool: Tool) -> str:
    """Return a bore's block; while cycle and floor stay the same, only its place."""
    place = f"X{_n(cycle.x)} Y{_n(cycle.y)}"
    same = before is not None and (cycle.code, cycle.floor) == (before.code, before.floor)
    if same:
        return place
    block = f"G98 G{cycle.code:d} {place} Z{_n(cycle.floor)} R{_n(NEAR_HEIGHT)}"
    if cycle.dwell is not None:
        block += f" P{_n(cycle.dwell)}"
    if cycle.peck is not None:
        block += f" Q{_n(cycle.peck)}"
    return f"{block} F{tool.feed:d}"


def _heading(setup: Setup, job: WorkshopJob) -> list[str]:
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
    add("zero_edge" if view.is_edge else "zero", datum=datum_words(job.messages, panel.datum))
    add("axes", x=say(f"runs.{x_runs}"), y=say(f"runs.{y_runs}"))
    add("y_down" if view.y_down else "y_up")
    for name, end in zip(("x_least", "y_least", "x_most", "y_most"), view.box, strict=True):
        add(name, end)
    if panel.cut.bevels:
        add("bevelled")
    if any(bore.through for bore in view.bores):
        add("through", BREAK_THROUGH)
    left = {
        "slanted": sum(b.towards_deg is not None and b.stage == "workshop" for b in view.bores),
        "home": sum(b.stage == "home" for b in view.bores),
        "grooves": len(view.grooves),
        "slots": len(view.slots),
    }
    for what, count in left.items():
        if count:
            add(f"without_{what}", str(count))
    return lines


_n = program_number
