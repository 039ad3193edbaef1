"""What is read before a drilling program runs: cautions, the tools, a plot of every set-up."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from kdkit.catalogue.machines import Machine
from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.columns import Column, mm, table_rows
from kdkit.publish.files.tables import runs_on, surface_words
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, Box, DrawingSheet, text_width
from kdkit.publish.workshop.drawings.panel_drawings import SCALES
from kdkit.publish.workshop.drawings.title_block import draw_frame, draw_title_block, room_on
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.program_blocks import Setup, Tool, leaning, left_out
from kdkit.units import mm_text

__all__ = ["draw_program_sheets", "program_name", "tool_columns"]


_CAUTIONS = (
    "untried", "who", "control", "tools", "zero", "air", "clamps", "spoil", "figures", "guard",
    "help",
)  # fmt: skip
_BY_KIND = ("tools", "air")
"""Of these, what can be done depends on whether the machine changes its tools by itself."""
_ROW = 5.0
_TABLE = 250.0
"""Width of the list of tools, mm."""


def program_name(setup: Setup, tool: Tool, machine: Machine) -> str:
    """Return what the file with a tool's part of a set-up is called, without its ending."""
    return setup.name if machine.changes_tools else f"{setup.name}-t{tool.number}"


def draw_program_sheets(
    job: WorkshopJob,
    setups: Sequence[Setup],
    tools: Sequence[Tool],
    words: tuple[Sequence[str], Sequence[str]],
) -> tuple[DrawingSheet, ...]:
    """Return the caution page, the list of tools, then a plot for each set-up.

    ``words`` are those of all programs, as ``words_of`` gives them.
    """
    pages = [(_caution_page(job, setups, words), None, "cautions", "")]
    pages += [(page, None, "tools", "") for page in _tool_pages(job, tools)]
    drawn = [(*_plot(job, setup), setup) for setup in setups]
    count = len(pages) + len(drawn)
    say = job.messages.plain
    for n, (sheet, _, what, _scale) in enumerate(pages, start=1):
        draw_frame(sheet)
        draw_title_block(sheet, job, None, say(f"workshop.programs_{what}"), "", f"{n} / {count}")
    for n, (sheet, scale, setup) in enumerate(drawn, start=len(pages) + 1):
        draw_frame(sheet)
        what = surface_words(job.messages, setup.view.surface)
        draw_title_block(sheet, job, setup.panel.cut, what, scale, f"{n} / {count}")
    return (*(page[0] for page in pages), *(sheet for sheet, _, _ in drawn))


def _caution_page(
    job: WorkshopJob, setups: Sequence[Setup], words: tuple[Sequence[str], Sequence[str]]
) -> DrawingSheet:
    say = job.messages.plain
    codes, letters = words
    meant = [say(f"workshop.meant_{code}") for code in ("G83", "G4", "G82") if code in codes]
    deepest = max((-c.floor for s in setups for _, cycles in s.runs for c in cycles), default=0.0)
    sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.programs_cautions"))
    x0, y0, x1, y1 = room_on(sheet)
    y = y0 + 12
    signal = sheet.text((x0 + 6, y), say("signal.warning"), 5.0, bold=True)
    sheet.text((signal[2] + 5, y), say("workshop.programs_cautions"), 3.5)
    y += 6
    machine = job.machine
    kind = "change" if machine.changes_tools else "by_hand"
    cautions = []
    for key in _CAUTIONS:
        text = say(
            f"workshop.caution_{key}_{kind}" if key in _BY_KIND else f"workshop.caution_{key}",
            machine=machine.title,
            safe=mm_text(machine.safe_height),
            near=mm_text(machine.near_height),
            through=mm_text(machine.break_through),
            top=mm_text(machine.top),
            codes=", ".join(codes),
            letters=", ".join(letters),
            meant=" ".join(dict.fromkeys(meant)),
            deep=mm_text(math.ceil(deepest + machine.near_height)),
        )
        cautions.append(_wrapped(text, 2.5, x1 - x0 - 22))
    # All on one page: closer where there is much to say.
    row = min(_ROW, (y1 - y - 3) / (sum(map(len, cautions)) + 0.6 * len(cautions)))
    for n, lines in enumerate(cautions, start=1):
        y += 0.6 * row
        sheet.text((x0 + 6, y + row), f"{n}.", 2.5)
        for line in lines:
            y += row
            sheet.text((x0 + 14, y), line, 2.5)
    return sheet


def _wrapped(text: str, height: float, room: float) -> list[str]:
    return wrap_lines(text, lambda line: text_width(line, height) <= room)


def tool_columns(messages: Messages) -> tuple[Column, ...]:
    """Return the columns of the list of tools."""
    return (
        Column("workshop.tool_tool", lambda tool: tool.number, share=0.044),
        Column("workshop.tool_kind", lambda tool: messages.plain(f"workshop.tool_{tool.is_.kind}"),
               share=0.108),
        Column("workshop.tool_diameter", lambda tool: tool.diameter, mm(3), share=0.144),
        Column("workshop.tool_angle", lambda tool: tool.is_.angle, mm(2), share=0.108),
        Column("workshop.tool_tip", lambda tool: tool.is_.tip, mm(2), share=0.104),
        Column("workshop.tool_reach", lambda tool: tool.is_.reach, mm(1), share=0.112),
        Column("workshop.tool_speed", lambda tool: tool.is_.speed, share=0.14),
        Column("workshop.tool_feed", lambda tool: tool.is_.feed, share=0.24),
    )  # fmt: skip


def _tool_pages(job: WorkshopJob, tools: Sequence[Tool]) -> list[DrawingSheet]:
    """Return the list of tools, and below it what no program makes, on as many as they need."""
    say = job.messages.plain
    columns = tool_columns(job.messages)
    places = [_TABLE * sum(column.share for column in columns[:n]) for n in range(len(columns))]
    heads, *listed = table_rows(columns, tools, job.messages)
    cells = [(f"T{number}", *map(str, others)) for number, *others in listed]
    room = room_on(DrawingSheet(*PAPER_SIZES[job.paper], ""))
    notes = _wrapped(say("workshop.tool_note"), 2.5, room[2] - room[0] - 12)
    rows: list[tuple[str, ...]] = [*cells, (), *((line,) for line in notes)]
    left = [(panel, left_out(panel, job.machine)) for panel in job.panels]
    if any(counts for _, counts in left):
        rows += [(), (say("workshop.left_head"),)]
    for panel, counts in left:
        offs = ", ".join(f"{mm_text(off, 2)}°" for off in leaning(panel))
        words = "; ".join(say(f"workshop.left_{why}", n=n, offs=offs) for why, n in counts.items())
        if counts:
            lines = _wrapped(f"{panel.letter} - {words}", 2.5, room[2] - room[0] - 12)
            rows += [(line,) for line in lines]
    pages: list[DrawingSheet] = []
    while rows:
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.programs_tools"))
        x0, y0, _, y1 = room_on(sheet)
        y = y0 + 9
        if len(rows[0]) > 1:
            for at, head in zip(places, heads, strict=True):
                sheet.text((x0 + 6 + at, y), str(head), 2.5, bold=True)
            sheet.line((x0 + 5, y + 1.6), (x0 + _TABLE, y + 1.6), "edge")
            y += 1
        fit = int((y1 - y - 5) / _ROW)
        for row in rows[:fit]:
            y += _ROW
            for at, cell in zip(places, row, strict=False):
                sheet.text((x0 + 6 + at, y), cell, 2.5)
        rows = rows[fit:]
        pages.append(sheet)
    return pages


def _plot(job: WorkshopJob, setup: Setup) -> tuple[DrawingSheet, str]:
    """Return the plot of a set-up as seen from above, and its scale."""
    say, view = job.messages.plain, setup.view
    sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.plot", file=f"{setup.name}.nc"))
    x0, y0, x1, y1 = room_on(sheet)
    x_runs, y_runs = runs_on(setup.panel, view.surface)
    names = dict.fromkeys(program_name(setup, tool, job.machine) for tool in setup.tools)
    head = say(
        "workshop.plot_head",
        file=", ".join(f"{name}.nc" for name in names),
        mark=setup.mark,
        x=say(f"runs.{x_runs}"),
        y=say(f"runs.{y_runs}"),
    )
    if view.slants:
        head += " " + say("workshop.plot_slant", angle=mm_text(view.slants, 2))
    for row, line in enumerate(_wrapped(head, 2.5, x1 - x0 - 8)):
        sheet.text((x0 + 3, y0 + 6 + 4.5 * row), line, 2.5)
    zone: Box = (x0 + 14, y0 + 16, x1 - 14, y1 - 20)
    low_x, low_y, high_x, high_y = (
        min(0.0, view.box[0]),
        min(0.0, view.box[1]),
        max(0.0, view.box[2]),
        max(0.0, view.box[3]),
    )
    wide, high = high_x - low_x, high_y - low_y
    n = next(
        (n for n in SCALES if wide / n <= zone[2] - zone[0] and high / n <= zone[3] - zone[1]),
        SCALES[-1],
    )
    origin = (
        zone[0] + (zone[2] - zone[0] - wide / n) / 2 - low_x / n,
        zone[1] + (zone[3] - zone[1] - high / n) / 2 + high_y / n,
    )

    def at(x: float, y: float) -> tuple[float, float]:
        return (origin[0] + x / n, origin[1] - y / n)

    for ring in (*view.outlines, *view.openings):
        sheet.polyline([at(*view.seen(p)) for p in ring], "outline", closed=True)
    for start, end in pairwise(setup.path):
        sheet.line(at(*start), at(*end), "hidden")
    for _, cycles in setup.runs:
        for cycle in cycles:
            place = at(cycle.x, cycle.y)
            sheet.circle(place, cycle.diameter / 2 / n, "edge", fill="#fff")
            reach = cycle.diameter / 2 / n + 0.4
            sheet.keep_clear(
                (place[0] - reach, place[1] - reach, place[0] + reach, place[1] + reach)
            )
    sheet.circle(origin, 1.5, "edge")
    for arm, word in (((12.0, 0.0), "X"), ((0.0, -12.0), "Y")):
        tip = (origin[0] + arm[0], origin[1] + arm[1])
        sheet.line(origin, tip, "outline")
        sheet.place_text(tip, word, 2.5, ((x0, y0 + 13, x1, y1 - 18),), start=1.0, reach=20)
    # Where each tool begins, and the list of runs below the plot.
    y = y1 - 13
    x = x0 + 4
    for tool, cycles in setup.runs:
        sizes = Counter(mm_text(cycle.diameter, 3) for cycle in cycles)
        made = (say("workshop.plot_size", d=d, count=count) for d, count in sizes.items())
        text = say("workshop.plot_run", n=tool.number, sizes=", ".join(made))
        if x + text_width(text, 2.5) > x1 - 4:
            x, y = x0 + 4, y + 4.5
        sheet.text((x, y), text, 2.5)
        x += text_width(text, 2.5) + 6
        first = at(cycles[0].x, cycles[0].y)
        sheet.place_text(
            first,
            f"T{tool.number}",
            2.5,
            ((x0 + 1, y0 + 13, x1 - 1, y1 - 18),),
            start=cycles[0].diameter / 2 / n + 1.5,
            reach=40,
            leader=0.0,
            white=0.5,
        )
    return sheet, f"1 : {n}"
