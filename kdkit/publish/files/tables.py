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

from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.plain_text import one_line
from kdkit.schedule.schedules import CutLine, DrilledPanel, DrillLine, GrooveLine, SlotLine
from kdkit.schedule.views import PanelViews
from kdkit.units import mm_text

__all__ = [
    "Number",
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
    "with_product",
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


def with_product(
    rows: Sequence[Sequence[object]], results: Results, messages: Messages
) -> list[list[object]]:
    """Return a table, its heads first, with four columns more: what and which it is of.

    They stand last and in every row, so that a reader finds them in a table that was cut
    up, and a program that asks for its columns by number or by name still gets them.
    """
    said = results.resolved.said
    names = ("product", "revision", "batch", "variant")
    values: list[object] = [str(getattr(said, name, "") or "") for name in names[:3]]
    values.append(results.resolved.variant or "")
    head, *body = rows
    heads = [messages.plain(f"cover.{name}") for name in names]
    return [[*head, *heads], *([*row, *values] for row in body)]


class Number(str):
    """A number already written as text: a minus before it is no formula."""

    __slots__ = ()


def _cell(value: object) -> str:
    if isinstance(value, Number | int | float):
        return str(value)
    text = "" if value is None else one_line(str(value))
    return "".join(
        f"'{piece}" if _starts_formula(piece) else piece for piece in re.split("(?<=;)", text)
    )


def _starts_formula(text: str) -> bool:
    """Tell whether the first thing to be seen of a text makes a formula of it."""
    for c in text:
        if unicodedata.category(c)[0] not in "ZCM":
            return unicodedata.normalize("NFKC", c)[:1] in ("=", "+", "-", "@")
    return False


def _mm(value: float, places: int = 2) -> Number:
    return Number(mm_text(value, places))


def _bevel_cells(line: CutLine, messages: Messages) -> list[object]:
    """Return the bevels in words, then length and width at the short points."""
    say = messages.plain
    words = [
        say(
            "table.bevel",
            side=say(f"sides.{bevel.side}"),
            angle=mm_text(bevel.angle_deg, 2),
            long=say(f"table.bevel_{bevel.long}"),
        )
        for bevel in line.bevels
    ]
    short = ["", ""] if line.short is None else [_mm(v) for v in line.short]
    return ["; ".join(words), *short]


def cut_list_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``cutlist.csv``: a line for every letter, panels first."""
    say = messages.plain
    catalogue, said = results.catalogue, results.resolved.said
    boards = getattr(said, "boards", {})
    heads = ["letter", "title", "quantity", "board", "material", "thickness"]
    heads += ["finished_length", "finished_width", "cut_length", "cut_width"]
    sides = [s for s in SIDES if any(s in line.bands for line in results.schedules.cut)]
    sawn = any(line.bevels for line in results.schedules.cut)
    rows: list[list[object]] = [
        [
            *(say(f"table.{head}") for head in heads),
            *(say("table.band", side=say(f"sides.{side}")) for side in sides),
            *(say(f"table.{h}") for h in ("bevels", "short_length", "short_width")[: 3 * sawn]),
            *(say(f"table.{h}") for h in ("grain", "shaped", "pair", "mass", "area", "parts")),
        ]
    ]
    for line in results.schedules.cut:
        board = boards.get(line.board)
        material = catalogue.boards.get(line.material)
        rows.append(
            [
                line.letter,
                line.title,
                line.quantity,
                (board.title if board is not None else "") or line.board,
                messages.name("boards", line.material, material.title if material else ""),
                _mm(line.thickness),
                *(_mm(v) for v in (*line.finished, *line.cut)),
                *(_mm(line.bands[s]) if s in line.bands else "" for s in sides),
                *_bevel_cells(line, messages)[: 3 * sawn],
                say(f"table.grain_{line.grain}"),
                say("table.yes" if line.shaped else "table.no"),
                line.pair,
                Number(f"{line.mass_kg:.3f}"),
                Number(f"{line.area / 1e6:.4f}"),
                "; ".join(line.parts),
            ]
        )
    for bought in results.schedules.bought:
        blank = [""] * (len(sides) + 3 * sawn + 2)
        rows.append(
            [
                bought.letter,
                bought.title,
                bought.quantity,
                "",
                "",
                _mm(bought.size[2]),
                _mm(bought.size[0]),
                _mm(bought.size[1]),
                "",
                "",
                *blank,
                "",
                Number(f"{bought.mass_kg:.3f}"),
                "",
                "; ".join(bought.parts),
            ]
        )
    return with_product(rows, results, messages)


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


def drilling_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``drilling.csv``: a line for every bore and groove of every letter."""
    say = messages.plain
    heads = ["letter", "title", "quantity", "named_on", "face_looks", "surface", "datum_corner"]
    heads += ["x_runs", "y_runs", "kind"]
    heads += ["x", "y", "x_end", "y_end", "diameter", "depth", "through_bore", "angle"]
    heads += ["towards", "purpose", "drilled_in", "spare", "slot_width", "slot_disc"]
    rows: list[list[object]] = [[say(f"table.{head}") for head in heads]]
    for panel in results.schedules.drilling:
        for bore in panel.bores:
            rows.append(_bore_row(messages, panel, bore))
        for groove in panel.grooves:
            rows.append(_groove_row(messages, panel, groove))
        for slot in panel.slots:
            rows.append(_slot_row(messages, panel, slot))
    return with_product(rows, results, messages)


def _start_of_row(messages: Messages, panel: DrilledPanel, surface: str) -> list[object]:
    return [
        panel.letter,
        panel.title,
        panel.quantity,
        panel.named_on,
        messages.plain(f"runs.{panel.face_looks}") if panel.face_looks else "",
        surface_words(messages, surface),
        datum_words(messages, panel.datum),
        *(messages.plain(f"runs.{way}") for way in runs_on(panel, surface)),
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


def _bore_row(messages: Messages, panel: DrilledPanel, bore: DrillLine) -> list[object]:
    say = messages.plain
    towards = "" if bore.towards_deg is None else Number(mm_text(bore.towards_deg))
    return [
        *_start_of_row(messages, panel, bore.surface),
        say("table.bore"),
        _mm(bore.x),
        _mm(bore.y),
        "",
        "",
        _mm(bore.diameter),
        _mm(bore.depth),
        say("table.yes" if bore.through else "table.no"),
        Number(mm_text(bore.angle_deg, 2)),
        towards,
        messages.name("purposes", bore.purpose, bore.purpose),
        say(f"table.{bore.stage}"),
        say("table.yes" if bore.spare else "table.no"),
        "",
        "",
    ]


def _groove_row(messages: Messages, panel: DrilledPanel, groove: GrooveLine) -> list[object]:
    return [
        *_start_of_row(messages, panel, groove.surface),
        messages.plain("table.groove"),
        _mm(groove.x[0]),
        _mm(groove.y[0]),
        _mm(groove.x[1]),
        _mm(groove.y[1]),
        "",
        _mm(groove.depth),
        *[""] * 4,
        messages.plain("table.workshop"),
        *[""] * 3,
    ]


def _slot_row(messages: Messages, panel: DrilledPanel, slot: SlotLine) -> list[object]:
    return [
        *_start_of_row(messages, panel, slot.surface),
        messages.plain("table.slot"),
        *(_mm(v) for v in (*slot.start, *slot.end)),
        "",
        _mm(slot.depth),
        *[""] * 3,
        messages.name("purposes", slot.purpose, slot.purpose),
        messages.plain(f"table.{slot.stage}"),
        "",
        _mm(slot.width),
        "" if slot.disc is None else _mm(slot.disc),
    ]


def hardware_rows(results: Results, messages: Messages) -> list[list[object]]:
    """Return the rows of ``hardware.csv``: an item each, with its counts by step and joint."""
    say = messages.plain
    steps = [step.number for step in results.plan.steps if step.items]
    heads = ["number", "item", "title", "size", "quantity", "bag", "mass_g", "fitted_count"]
    rows: list[list[object]] = [
        [
            *(say(f"table.{head}") for head in heads),
            *(say("table.step", n=n) for n in steps),
            say("table.joint"),
        ]
    ]
    for line in results.schedules.hardware:
        rows.append(
            [
                line.number,
                line.item,
                messages.name("items", line.item, line.title),
                messages.name("item_sizes", line.item, line.size),
                line.quantity,
                line.bag,
                Number(f"{line.mass_g:.2f}"),
                line.workshop,
                *(line.per_step.get(n, 0) for n in steps),
                "; ".join(f"{joint}: {n}" for joint, n in line.per_joint.items()),
            ]
        )
    return with_product(rows, results, messages)
