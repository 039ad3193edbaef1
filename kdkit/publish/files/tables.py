"""The schedules as CSV files that spreadsheet programs and scripts both read.

RFC 4180: comma, CRLF, quotes doubled; UTF-8 with a byte order mark so that spreadsheet
programs take the letters right; a heading row with units; decimal points.

A text that a spreadsheet would run as a formula gets an apostrophe before it: one that
begins, behind blanks and what cannot be seen, with ``=``, ``+``, ``-`` or ``@`` in any of
their widths. The same holds behind every semicolon, since that is what parts the cells
where the comma is the decimal sign, and quotes inside a line do not stop it there. Tabs and
line ends become blanks. Numbers are never touched, a minus before them neither.
Source: OWASP, "CSV Injection" (from memory).
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence

from kdkit.publish.files.columns import (
    Column,
    Number,
    Value,
    fixed,
    mm,
    per_kind,
    product_columns,
    table_rows,
)
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.plain_text import one_line
from kdkit.schedule.schedules import (
    BoughtLine,
    CutLine,
    DrilledPanel,
    DrillLine,
    GrooveLine,
    HardwareLine,
    SlotLine,
)
from kdkit.schedule.views import PanelViews
from kdkit.units import mm_text

__all__ = [
    "cut_list_rows",
    "datum_words",
    "drilling_rows",
    "hardware_rows",
    "render_cut_list",
    "render_drilling",
    "render_hardware",
    "render_rows",
    "runs_on",
    "surface_words",
]

SIDES = ("front", "back", "left", "right", "top", "bottom", "other")


def render_rows(rows: Iterable[Sequence[object]]) -> str:
    """Return rows as CSV text; numbers as they are, texts guarded."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return "\ufeff" + out.getvalue()


def render_cut_list(results: Results, messages: Messages) -> str:
    """Return ``cutlist.csv``: a line for every letter, panels first."""
    return render_rows(cut_list_rows(results, messages))


def render_drilling(results: Results, messages: Messages) -> str:
    """Return ``drilling.csv``: a line for every bore, groove and slot."""
    return render_rows(drilling_rows(results, messages))


def render_hardware(results: Results, messages: Messages) -> str:
    """Return ``hardware.csv``: a line for every item, with its counts by step and joint."""
    return render_rows(hardware_rows(results, messages))


def _cell(value: object) -> str:
    if isinstance(value, Number | int | float):
        return str(value)
    text = "" if value is None else one_line(str(value))
    return "".join(
        f"'{piece}" if _starts_formula(piece) else piece for piece in re.split("(?<=;)", text)
    )


def _starts_formula(text: str) -> bool:
    """Tell whether the first thing to be seen of a text makes a formula of it.

    A quote is passed over: behind a semicolon it may be read as a cell's own.
    """
    for c in text:
        if c != '"' and unicodedata.category(c)[0] not in "ZCM":
            return unicodedata.normalize("NFKC", c)[:1] in ("=", "+", "-", "@")
    return False


def cut_list_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``cutlist.csv``: a line for every letter, panels first."""
    lines = (*results.schedules.cut, *results.schedules.bought)
    return table_rows(_cut_list(results, messages), lines, messages)


def _cut_list(results: Results, messages: Messages) -> list[Column]:
    """Return the columns of panels (CutLine) and bought parts (BoughtLine).

    Bands have a column for each side that has one, bevels theirs where there is one.
    """
    say, said = messages.plain, results.resolved.said
    boards, materials = getattr(said, "boards", {}), results.catalogue.boards
    cut = results.schedules.cut

    def both(panel: Value, bought: Value | None = None) -> Value:
        return per_kind({CutLine: panel, BoughtLine: bought})

    def board(line: CutLine) -> str:
        known = boards.get(line.board)
        return (known.title if known is not None else "") or line.board

    def material(line: CutLine) -> str:
        known = materials.get(line.material)
        return messages.name("boards", line.material, known.title if known else "")

    def band(side: str) -> Value:
        return both(lambda line: line.bands.get(side))

    def short(n: int) -> Value:
        return both(lambda line: None if line.short is None else line.short[n])

    bands = [
        Column("table.band", band(side), mm(2), {"side": say(f"sides.{side}")})
        for side in SIDES
        if any(side in line.bands for line in cut)
    ]
    bevels = [
        Column("table.bevels", both(lambda line: _bevel_words(line, messages))),
        Column("table.short_length", short(0), mm(2)),
        Column("table.short_width", short(1), mm(2)),
    ]
    return [
        Column("table.letter", lambda line: line.letter),
        Column("table.title", lambda line: line.title),
        Column("table.quantity", lambda line: line.quantity),
        Column("table.board", both(board)),
        Column("table.material", both(material)),
        Column("table.thickness", both(lambda p: p.thickness, lambda b: b.size[2]), mm(2)),
        Column("table.finished_length", both(lambda p: p.finished[0], lambda b: b.size[0]), mm(2)),
        Column("table.finished_width", both(lambda p: p.finished[1], lambda b: b.size[1]), mm(2)),
        Column("table.cut_length", both(lambda line: line.cut[0]), mm(2)),
        Column("table.cut_width", both(lambda line: line.cut[1]), mm(2)),
        *bands,
        *(bevels if any(line.bevels for line in cut) else ()),
        Column("table.grain", both(lambda line: say(f"table.grain_{line.grain}"))),
        Column("table.shaped", both(lambda line: _yes(messages, line.shaped))),
        Column("table.pair", both(lambda line: line.pair)),
        Column("table.mass", lambda line: line.mass_kg, fixed(3)),
        Column("table.area", both(lambda line: line.area / 1e6), fixed(4)),
        Column("table.parts", lambda line: "; ".join(line.parts)),
        *product_columns(results),
    ]


def _yes(messages: Messages, so: bool) -> str:
    return messages.plain("table.yes" if so else "table.no")


def _bevel_words(line: CutLine, messages: Messages) -> str:
    say = messages.plain
    return "; ".join(
        say(
            "table.bevel",
            side=say(f"sides.{bevel.side}"),
            angle=mm_text(bevel.angle_deg, 2),
            long=say(f"table.bevel_{bevel.long}"),
        )
        for bevel in line.bevels
    )


_OPPOSITES = ({"left", "right"}, {"front", "back"}, {"top", "bottom"})


def surface_words(messages: Messages, surface: str) -> str:
    """Return a surface of the drilling in words."""
    if not surface.startswith("edge:"):
        return messages.plain(f"surface.{surface}")
    name = surface.removeprefix("edge:")
    if name.isdigit():
        return messages.plain("surface.edge_number", n=name)
    return messages.plain("surface.edge", side=messages.plain(f"sides.{name}"))


def datum_words(messages: Messages, datum: str) -> str:
    """Return a datum corner in words: "front bottom corner"."""
    sides = " ".join(messages.plain(f"sides.{side}") for side in datum.split())
    return messages.plain("table.datum", sides=sides)


Line = DrillLine | GrooveLine | SlotLine
Worked = tuple[DrilledPanel, Line]


def drilling_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``drilling.csv``: a line for every bore and groove of every letter."""
    worked: list[Worked] = [
        (panel, line) for panel in results.schedules.drilling for line in _lines(panel)
    ]
    columns = [*_worked_panel(messages), *_worked_line(messages), *product_columns(results)]
    return table_rows(columns, worked, messages)


def _lines(panel: DrilledPanel) -> tuple[Line, ...]:
    return (*panel.bores, *panel.grooves, *panel.slots)


def _worked_panel(messages: Messages) -> list[Column]:
    """Return the columns that say which surface a line of the drilling table is on."""
    say = messages.plain

    def looks(row: Worked) -> str:
        return say(f"runs.{row[0].face_looks}") if row[0].face_looks else ""

    def runs(n: int) -> Value:
        return lambda row: say(f"runs.{runs_on(row[0], row[1].surface)[n]}")

    return [
        Column("table.letter", lambda row: row[0].letter),
        Column("table.title", lambda row: row[0].title),
        Column("table.quantity", lambda row: row[0].quantity),
        Column("table.named_on", lambda row: row[0].named_on),
        Column("table.face_looks", looks),
        Column("table.surface", lambda row: surface_words(messages, row[1].surface)),
        Column("table.datum_corner", lambda row: datum_words(messages, row[0].datum)),
        Column("table.x_runs", runs(0)),
        Column("table.y_runs", runs(1)),
    ]


def _worked_line(messages: Messages) -> list[Column]:
    """Return the columns of bores, grooves and slots."""
    say = messages.plain

    def any_of(
        bore: Value | None = None, groove: Value | None = None, slot: Value | None = None
    ) -> Value:
        value = per_kind({DrillLine: bore, GrooveLine: groove, SlotLine: slot})
        return lambda row: value(row[1])

    def word(key: str) -> Value:
        return lambda _: say(f"table.{key}")

    def purpose(line: DrillLine | SlotLine) -> str:
        return messages.name("purposes", line.purpose, line.purpose)

    def stage(line: DrillLine | SlotLine) -> str:
        return say(f"table.{line.stage}")

    return [
        Column("table.kind", any_of(word("bore"), word("groove"), word("slot"))),
        Column(
            "table.x", any_of(lambda b: b.x, lambda g: g.x[0], lambda slot: slot.start[0]), mm(2)
        ),
        Column(
            "table.y", any_of(lambda b: b.y, lambda g: g.y[0], lambda slot: slot.start[1]), mm(2)
        ),
        Column("table.x_end", any_of(None, lambda g: g.x[1], lambda slot: slot.end[0]), mm(2)),
        Column("table.y_end", any_of(None, lambda g: g.y[1], lambda slot: slot.end[1]), mm(2)),
        Column("table.diameter", any_of(lambda bore: bore.diameter), mm(2)),
        Column("table.depth", lambda row: row[1].depth, mm(2)),
        Column("table.through_bore", any_of(lambda bore: _yes(messages, bore.through))),
        Column("table.angle", any_of(lambda bore: bore.angle_deg), mm(2)),
        Column("table.towards", any_of(lambda bore: bore.towards_deg), mm(1)),
        Column("table.purpose", any_of(purpose, None, purpose)),
        Column("table.drilled_in", any_of(stage, word("workshop"), stage)),
        Column("table.spare", any_of(lambda bore: _yes(messages, bore.spare))),
        Column("table.slot_width", any_of(slot=lambda slot: slot.width), mm(2)),
        Column("table.slot_disc", any_of(slot=lambda slot: slot.disc), mm(2)),
    ]


def runs_on(panel: DrilledPanel | PanelViews, surface: str) -> tuple[str, str]:
    """Return which ways x and y run on a surface; on an edge y runs from the face in."""
    if not surface.startswith("edge:"):
        return panel.x_runs, panel.y_runs
    side = surface.removeprefix("edge:")
    if side.isdigit():
        return "along", "inward"
    across_the_length = any({side, panel.x_runs} <= pair for pair in _OPPOSITES)
    return (panel.y_runs if across_the_length else panel.x_runs), "inward"


def hardware_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``hardware.csv``: an item each, with its counts by step and joint."""
    return table_rows(_hardware(results, messages), results.schedules.hardware, messages)


def _hardware(results: Results, messages: Messages) -> list[Column]:
    def in_step(number: int) -> Value:
        return lambda line: line.per_step.get(number, 0)

    def joints(line: HardwareLine) -> str:
        return "; ".join(f"{joint}: {n}" for joint, n in line.per_joint.items())

    return [
        Column("table.number", lambda line: line.number),
        Column("table.item", lambda line: line.item),
        Column("table.title", lambda line: messages.name("items", line.item, line.title)),
        Column("table.size", lambda line: messages.name("item_sizes", line.item, line.size)),
        Column("table.quantity", lambda line: line.quantity),
        Column("table.bag", lambda line: "; ".join(line.bags)),
        Column("table.mass_g", lambda line: line.mass_g, fixed(2)),
        Column("table.fitted_count", lambda line: line.workshop),
        *(
            Column("table.step", in_step(step.number), said={"n": step.number})
            for step in results.plan.steps
            if step.items
        ),
        Column("table.joint", joints),
        *product_columns(results),
    ]
