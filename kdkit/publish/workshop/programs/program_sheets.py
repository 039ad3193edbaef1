"""What is read before a program runs: cautions, the tools, a plot of every set-up."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise

from shapely.geometry import LineString, Point

from kdkit.areas import together
from kdkit.catalogue.machines import Machine
from kdkit.frames import Vec2
from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.files.columns import Column, mm, table_rows
from kdkit.publish.files.tables import runs_on, surface_words
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, Box, DrawingSheet, text_width
from kdkit.publish.workshop.drawings.panel_drawings import SCALES
from kdkit.publish.workshop.drawings.title_block import draw_frame, draw_title_block, room_on
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.cuts import Cut
from kdkit.publish.workshop.programs.cutter_moves import CutterMove, cutter_moves, passes_of
from kdkit.publish.workshop.programs.program_blocks import (
    Setup,
    Tool,
    leaning,
    left_out,
    left_round,
)
from kdkit.units import mm_text

__all__ = ["cut_words", "draw_program_sheets", "program_name", "tool_columns"]


_CAUTIONS = (
    "untried", "who", "control", "tools", "zero", "air", "clamps", "spoil", "figures", "guard",
    "help",
)  # fmt: skip
_OF_CUTTING = ("cutting", "loose", "thrown")
"""What is said besides where cutters work."""
_BY_KIND = ("tools", "air")
"""Of these, what can be done depends on whether the machine changes its tools by itself."""
_ROW = 5.0
_TABLE = 250.0
"""Width of the list of tools, mm."""


def program_name(setup: Setup, tool: Tool, machine: Machine, what: str = "") -> str:
    """Return what the file with a tool's part of a set-up is called, without its ending.

    ``what`` a cutter makes in it; a cutter may have several files.
    """
    if machine.changes_tools:
        return setup.name
    return f"{setup.name}-t{tool.number}{'-' if what else ''}{what}"


def cut_words(messages: Messages, left: str, n: int) -> str:
    """Return how many things no cutter makes, and why; ``left`` as in ``left_out``."""
    what, _, why = left.partition(":")
    many = messages.plain(f"workshop.cut_{what}{'_many' if n > 1 else ''}")
    return f"{n} {many} {messages.plain(f'workshop.why_{why}')}"


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
    pages += [(page, None, "tools", "") for page in _tool_pages(job, setups, tools)]
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
    meant = [say(f"workshop.meant_{code}") for code in ("G83", "G4", "G82", "G2") if code in codes]
    deepest = max((setup.deepest for setup in setups), default=0.0)
    cuts = any(setup.cut_runs for setup in setups)
    sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.programs_cautions"))
    x0, y0, x1, y1 = room_on(sheet)
    y = y0 + 12
    signal = sheet.text((x0 + 6, y), say("signal.warning"), 5.0, bold=True)
    sheet.text((signal[2] + 5, y), say("workshop.programs_cautions"), 3.5)
    y += 6
    machine = job.machine
    kind = "change" if machine.changes_tools else "by_hand"
    cautions = []
    cutting = machine.cutting
    way = say(f"workshop.holding_{cutting.holding}", length=mm_text(cutting.tab_length),
              height=mm_text(cutting.tab_height), skin=mm_text(cutting.skin))  # fmt: skip
    for key in (*_CAUTIONS[:-2], *(_OF_CUTTING if cuts else ()), *_CAUTIONS[-2:]):
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
            over=mm_text(cutting.run_out),
            direction=say(f"workshop.direction_{cutting.direction}"),
            holding=way,
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
        Column("workshop.tool_tool", lambda tool: tool.number, share=0.036),
        Column("workshop.tool_kind", lambda tool: messages.plain(f"workshop.tool_{tool.is_.kind}"),
               share=0.102),
        Column("workshop.tool_diameter", lambda tool: tool.diameter, mm(3), share=0.08),
        Column("workshop.tool_angle", lambda tool: tool.is_.angle, mm(2), share=0.07),
        Column("workshop.tool_tip", lambda tool: tool.is_.tip, mm(2), share=0.074),
        Column("workshop.tool_reach", lambda tool: tool.is_.reach, mm(1), share=0.08),
        Column("workshop.tool_speed", lambda tool: tool.is_.speed, share=0.088),
        Column("workshop.tool_feed", lambda tool: tool.is_.feed, share=0.092),
        Column("workshop.tool_pass", lambda tool: tool.is_.pass_depth, mm(2), share=0.076),
        Column("workshop.tool_stepover", lambda tool: tool.stepover, mm(2), share=0.092),
        Column("workshop.tool_plunge_feed", lambda tool: tool.is_.plunge_feed, share=0.1),
        Column("workshop.tool_comes_in", lambda tool: _comes_in(messages, tool), share=0.07),
    )  # fmt: skip


def _comes_in(messages: Messages, tool: Tool) -> str:
    """Return how a cutter goes down; nothing for other tools."""
    if tool.is_.kind != "cutter":
        return ""
    if tool.is_.plunges:
        return messages.plain("workshop.tool_plunges")
    return messages.plain("workshop.tool_ramps", angle=mm_text(tool.is_.ramp, 1))


def _after_cutting(setup: Setup, job: WorkshopJob) -> list[str]:
    """Return what is left to the hand where a cutter was: round corners, pieces that are held."""
    say, cutting = job.messages.plain, job.machine.cutting
    notes = [
        say(f"workshop.round_{what}", n=n, radius=mm_text(radius, 2),
            what=say(f"workshop.cut_{what}{'_many' if n > 1 else ''}"))
        for (what, radius), n in left_round(setup).items()
    ]  # fmt: skip
    cuts = [cut for run in setup.cut_runs for cut in run.cuts]
    for tabs, n in sorted(Counter(cut.tabs for cut in cuts if cut.tabs).items()):
        notes.append(say("workshop.left_tabs", n=n, tabs=tabs,
                         length=mm_text(cutting.tab_length),
                         height=mm_text(cutting.tab_height)))  # fmt: skip
    thick = setup.panel.cut.thickness
    for skin, n in sorted(Counter(mm_text(thick + c.floor, 2)
                                  for c in cuts if c.holds == "skin").items()):  # fmt: skip
        notes.append(say("workshop.left_skin", n=n, skin=skin))
    return notes


def _tool_pages(
    job: WorkshopJob, setups: Sequence[Setup], tools: Sequence[Tool]
) -> list[DrawingSheet]:
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
        words = "; ".join(
            cut_words(job.messages, why, n) if ":" in why
            else say(f"workshop.left_{why}", n=n, offs=offs) for why, n in counts.items()
        )  # fmt: skip
        if counts:
            lines = _wrapped(f"{panel.letter} - {words}", 2.5, room[2] - room[0] - 12)
            rows += [(line,) for line in lines]
    after = [(setup, _after_cutting(setup, job)) for setup in setups]
    if any(notes for _, notes in after):
        rows += [(), (say("workshop.after_head"),)]
    for setup, notes in after:
        if notes:
            surface = surface_words(job.messages, setup.view.surface)
            said = f"{setup.panel.letter}, {surface} - {' '.join(notes)}"
            rows += [(line,) for line in _wrapped(said, 2.5, room[2] - room[0] - 12)]
    pages: list[DrawingSheet] = []
    while rows:
        sheet = DrawingSheet(*PAPER_SIZES[job.paper], say("workshop.programs_tools"))
        x0, y0, _, y1 = room_on(sheet)
        y = y0 + 9
        if len(rows[0]) > 1:
            headings = [_wrapped(str(head), 2.8, column.share * _TABLE) for head, column
                     in zip(heads, columns, strict=True)]  # fmt: skip
            for at, heading in zip(places, headings, strict=True):
                for below, part in enumerate(heading):
                    sheet.text((x0 + 6 + at, y + 3.8 * below), part, 2.5, bold=True)
            y += 3.8 * (max(map(len, headings)) - 1)
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
    names = dict.fromkeys(
        [*(program_name(setup, tool, job.machine) for tool, _ in setup.runs),
         *(program_name(setup, run.tool, job.machine, run.what) for run in setup.cut_runs)]
    )  # fmt: skip
    head = say(
        "workshop.plot_head",
        file=", ".join(f"{name}.nc" for name in names),
        mark=setup.mark,
        x=say(f"runs.{x_runs}"),
        y=say(f"runs.{y_runs}"),
    )
    if view.slants:
        head += " " + say("workshop.plot_slant", angle=mm_text(view.slants, 2))
    if setup.cut_runs:
        head += " " + say("workshop.plot_cuts")
    heads = _wrapped(head, 2.5, x1 - x0 - 8)
    for row, line in enumerate(heads):
        sheet.text((x0 + 3, y0 + 6 + 4.5 * row), line, 2.5)
    said = _run_words(setup, job)
    below = _wrapped("; ".join(said), 2.5, x1 - x0 - 8)
    below += _wrapped(" ".join(_after_cutting(setup, job)), 2.5, x1 - x0 - 8)
    first_below = y1 - 13 - 4.5 * max(0, len(below) - 3)
    zone: Box = (x0 + 14, y0 + 16 + 4.5 * max(0, len(heads) - 2), x1 - 14, first_below - 7)
    moved = [(p.end[0], p.end[1]) for p in _cut_moves(setup, job.machine)]
    xs, ys = [0.0, *(x for x, _ in moved)], [0.0, *(y for _, y in moved)]
    low_x, low_y, high_x, high_y = (
        min(*xs, view.box[0]),
        min(*ys, view.box[1]),
        max(*xs, view.box[2]),
        max(*ys, view.box[3]),
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
    _draw_cuts(sheet, setup, at, n)
    for start, end in _travel(setup, job.machine):
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
    for row, line in enumerate(below):
        sheet.text((x0 + 4, first_below + 4.5 * row), line, 2.5)
    begins = [(tool.number, (cycles[0].x, cycles[0].y), cycles[0].diameter)
              for tool, cycles in setup.runs]  # fmt: skip
    begins += [(run.tool.number, run.cuts[0].lanes[0][0].start, run.tool.diameter)
               for run in setup.cut_runs]  # fmt: skip
    for number, place, wide in begins:
        sheet.place_text(
            at(*place),
            f"T{number}",
            2.5,
            ((x0 + 1, y0 + 13, x1 - 1, first_below - 5),),
            start=wide / 2 / n + 1.5,
            reach=40,
            leader=0.0,
            white=0.5,
        )
    return sheet, f"1 : {n}"


def _run_words(setup: Setup, job: WorkshopJob) -> list[str]:
    """Return what each tool makes, in the order of its use."""
    say = job.messages.plain
    said = []
    for tool, cycles in setup.runs:
        sizes = Counter(mm_text(cycle.diameter, 3) for cycle in cycles)
        made = (say("workshop.plot_size", d=d, count=count) for d, count in sizes.items())
        said.append(say("workshop.plot_run", n=tool.number, sizes=", ".join(made)))
    for run in setup.cut_runs:
        for (floor, passes), cuts in _alike(run.cuts, job.machine).items():
            many = f"workshop.cut_{run.what}{'_many' if len(cuts) > 1 else ''}"
            said.append(say("workshop.plot_cut_run", n=run.tool.number, count=len(cuts),
                            what=say(many), deep=mm_text(-floor, 2), passes=passes))  # fmt: skip
    return said


def _alike(cuts: Sequence[Cut], machine: Machine) -> dict[tuple[float, int], list[Cut]]:
    """Return the cuts by their depth and their number of passes."""
    found: dict[tuple[float, int], list[Cut]] = {}
    for cut in cuts:
        found.setdefault((round(cut.floor, 3), len(passes_of(cut, machine))), []).append(cut)
    return found


def _cut_moves(setup: Setup, machine: Machine) -> list[CutterMove]:
    thick = setup.panel.cut.thickness
    return [m for run in setup.cut_runs for c in run.cuts for m in cutter_moves(c, thick, machine)]


def _travel(setup: Setup, machine: Machine) -> list[tuple[Vec2, Vec2]]:
    """Return the moves at full speed over the panel, from work zero, each once."""
    places: list[Vec2] = [(0.0, 0.0), *((c.x, c.y) for _, cycles in setup.runs for c in cycles)]
    moves = list(pairwise(places))
    at = places[-1]
    for move in _cut_moves(setup, machine):
        end = (move.end[0], move.end[1])
        if move.kind == "rapid" and math.dist(at, end) > 1e-6:
            moves.append((at, end))
        at = end
    return list(dict.fromkeys(moves))


def _draw_cuts(sheet: DrawingSheet, setup: Setup, at: Callable[[float, float], Vec2],
               n: float) -> None:  # fmt: skip
    """Draw where a cutter goes: what it sweeps in grey, the way of its middle as a line."""
    for run in setup.cut_runs:
        for cut in run.cuts:
            ways = [
                [stretch.at(k / steps) for stretch in lane
                 for steps in (max(1, math.ceil(math.degrees(stretch.turn) / 6)),)
                 for k in range(steps)] + [lane[-1].end]
                for lane in cut.lanes
            ]  # fmt: skip
            swept = together([
                (LineString(way) if len(set(way)) > 1 else Point(way[0]))
                .buffer(run.tool.diameter / 2) for way in ways
            ])  # fmt: skip
            for piece in getattr(swept, "geoms", [swept]):
                for ring in (piece.exterior, *piece.interiors):
                    sheet.polyline([at(*p) for p in ring.coords[:-1]], "edge", closed=True)
            for way in ways:
                sheet.polyline([at(*p) for p in way], "centre")
