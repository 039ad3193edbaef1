"""Drilling programs in the words of ISO 6983: absolute millimetres, canned cycles.

G81 drills, G82 stays a moment on the floor of a housing, G83 clears its chips. Every
bore ends with a return to the safe height (G98). A program says in comments what it is
for, where work zero is and what it leaves out.
"""

from __future__ import annotations

import pathlib
import unicodedata

from kdkit.diagnostics import Problem, advice
from kdkit.publish.messages import Messages
from kdkit.publish.pdf import make_sheets
from kdkit.publish.tables import Number, datum_words, render_rows, runs_on, surface_words
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
from kdkit.publish.workshop.sheet import PAPER_SIZES
from kdkit.units import mm_text

__all__ = ["render_program", "write_programs"]


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
        text = render_program(setup, job)
        (target / f"{setup.name}.nc").write_text(text, encoding="ascii", newline="")
    (target / "tools.csv").write_text(_tool_table(tools, job.messages), "utf-8", newline="")
    sheets = draw_program_sheets(job, setups, tools)
    title = job.messages.plain("workshop.programs_title", product=job.product)
    pdf = make_sheets([s.render() for s in sheets], PAPER_SIZES[job.paper], title, job.messages)
    (target / "read-first.pdf").write_bytes(pdf)
    return tuple(_left_out_advice(job))


def _tool_table(tools: tuple[Tool, ...], messages: Messages) -> str:
    heads = ("tool", "diameter", "speed", "feed")
    rows: list[list[object]] = [[messages.plain(f"workshop.tool_{head}") for head in heads]]
    rows += [
        [tool.number, Number(mm_text(tool.diameter, 3)), tool.speed, tool.feed] for tool in tools
    ]
    return render_rows(rows)


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
    """Return the program of one set-up; ASCII, a block a line."""
    lines = ["%", *(f"({_ascii(text)})" for text in _heading(setup, job))]
    lines += ["G21 G17 G90 G94 G40 G49 G80 G54", "M5"]
    for tool, cycles in setup.runs:
        words = job.messages.plain(
            "workshop.program_tool", n=tool.number, d=mm_text(tool.diameter, 3)
        )
        lines += [f"({_ascii(words)})", f"T{tool.number} M6", f"S{tool.speed} M3"]
        lines.append(f"G0 Z{_n(SAFE_HEIGHT)}")
        lines.append(f"G0 X{_n(cycles[0].x)} Y{_n(cycles[0].y)}")
        before: Cycle | None = None
        for cycle in cycles:
            lines.append(_block(cycle, before, tool))
            before = cycle
        lines += ["G80", f"G0 Z{_n(SAFE_HEIGHT)}", "M5"]
    lines += ["M30", "%"]
    return "".join(f"{line}\r\n" for line in lines)


def _block(cycle: Cycle, before: Cycle | None, tool: Tool) -> str:
    """Return a bore's block; while cycle and floor stay the same, only its place."""
    place = f"X{_n(cycle.x)} Y{_n(cycle.y)}"
    same = before is not None and (cycle.code, cycle.floor) == (before.code, before.floor)
    if same:
        return place
    block = f"G98 G{cycle.code} {place} Z{_n(cycle.floor)} R{_n(NEAR_HEIGHT)}"
    if cycle.dwell is not None:
        block += f" P{_n(cycle.dwell)}"
    if cycle.peck is not None:
        block += f" Q{_n(cycle.peck)}"
    return f"{block} F{tool.feed}"


def _heading(setup: Setup, job: WorkshopJob) -> list[str]:
    say = job.messages.plain
    panel, view = setup.panel, setup.view
    x_runs, y_runs = runs_on(panel, view.surface)
    x0, y0, x1, y1 = view.box
    texts = [
        say("workshop.program_product", product=job.product, revision=job.revision),
        say(
            "workshop.program_panel",
            letter=panel.letter,
            title=panel.cut.title,
            surface=surface_words(job.messages, view.surface),
        ),
        say(
            "workshop.program_zero_edge" if view.is_edge else "workshop.program_zero",
            datum=datum_words(job.messages, panel.datum),
        ),
        say("workshop.program_axes", x=say(f"runs.{x_runs}"), y=say(f"runs.{y_runs}")),
        say("workshop.program_y_down" if view.y_down else "workshop.program_y_up"),
        say("workshop.program_room", x0=_n(x0), x1=_n(x1), y0=_n(y0), y1=_n(y1)),
        say("workshop.program_read_first"),
    ]
    if panel.cut.bevels:
        texts.append(say("workshop.program_bevelled"))
    if any(bore.through for bore in view.bores):
        texts.append(say("workshop.program_through", depth=_n(BREAK_THROUGH)))
    slanted = sum(b.towards_deg is not None and b.stage == "workshop" for b in view.bores)
    home = sum(b.stage == "home" for b in view.bores)
    grooves, slots = len(view.grooves), len(view.slots)
    if slanted or home or grooves or slots:
        texts.append(
            say("workshop.program_leaves", slanted=slanted, home=home, grooves=grooves, slots=slots)
        )
    return texts


def _n(value: float) -> str:
    return mm_text(value, 3)


def _ascii(text: str) -> str:
    """Return a comment that every control reads: no brackets, no letters beyond ASCII."""
    text = text.replace("×", "x").replace("Ø", "dia ").replace("(", "[").replace(")", "]")
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    return " ".join(plain.replace("%", " ").split())
