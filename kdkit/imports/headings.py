"""Which column of a table holds what: headings recognised in several spellings."""

from __future__ import annotations

import functools
import importlib.resources
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Problem
from kdkit.imports.numbers import IN_MM
from kdkit.imports.row import Row
from kdkit.imports.table import Table, cell_problem

__all__ = ["BAND_COLUMNS", "Headings", "find_headings", "plain_words", "words_of"]

BAND_COLUMNS = (
    "long1",
    "long2",
    "short1",
    "short2",
    "front",
    "back",
    "left",
    "right",
    "top",
    "bottom",
)
_SIZES = ("length", "height", "width", "depth")
"""The first two that a table has are a panel's length and width."""
_LOOKED_AT = 40


@dataclass(frozen=True)
class Headings:
    """What the columns of a table hold.

    Args:
        row: the row of headings.
        columns: column by what it holds: ``name``, ``quantity``, ``length``, ``width``,
            ``thickness``, ``size``, ``board``, ``grain``, ``note``, ``bands``, ``number``
            and the names of ``BAND_COLUMNS``.
        units: the unit that a heading states, by column.
        inferred: what had to be concluded, in words.
        ignored: headings that nothing is known of.
    """

    row: Row
    columns: Mapping[str, int]
    units: Mapping[int, str]
    inferred: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    bands: Mapping[str, int] = field(default_factory=dict)


@functools.cache
def words_of(table: str) -> dict[str, tuple[str, ...]]:
    """Return a table of ``words.toml``."""
    text = importlib.resources.files("kdkit.imports").joinpath("words.toml").read_text("utf-8")
    return {key: tuple(words) for key, words in tomllib.loads(text)[table].items()}


def plain_words(text: str) -> str:
    """Return a text for comparison: small letters, marks between words as one space."""
    return " ".join(re.sub(r"[^\w#°²×]+", " ", text.casefold().replace("_", " ")).split())


def find_headings(table: Table) -> tuple[Headings | None, tuple[Problem, ...]]:
    """Return what the columns hold, from the row with the most known headings."""
    best, most = None, 1
    for row in table.rows[:_LOOKED_AT]:
        known = {_column_of(cell)[0] for cell in row.cells} - {""}
        sized = known & {*_SIZES, "size"}
        if len(known) > most and sized:
            best, most = row, len(known)
    if best is None:
        message = "no row of headings is found: at least a name and the sizes must be named"
        help = "write, for instance: name, quantity, length, width, thickness, board"
        return None, (cell_problem("list-heading", message, table, table.rows[0], help=help),)
    return _read(best, table)


def _column_of(cell: str) -> tuple[str, str]:
    """Return what a heading says its column holds, "" if unknown, and its unit, or ""."""
    text = cell.casefold().strip()
    unit = ""
    match = re.search(
        r"""(?:[\[(/,]\s*|\bin\s+|\s)(mm|cm|inches|inch|in|"|″)\s*\.?\s*[\])]?\s*$|[\[(]\s*(m)\s*[\])]\s*$""",
        text,
    )
    if match is not None and match.start() > 0:
        found = match[1] or match[2]
        unit = found if found in IN_MM else "in"
        text = text[: match.start()]
    words = plain_words(text)
    for table in ("bands", "headings"):
        for column, known in words_of(table).items():
            if words in known:
                return column, unit
    return "", unit


def _read(row: Row, table: Table) -> tuple[Headings | None, tuple[Problem, ...]]:
    problems: list[Problem] = []
    columns: dict[str, int] = {}
    units: dict[int, str] = {}
    ignored = []
    for n, cell in enumerate(row.cells):
        column, unit = _column_of(cell)
        if unit:
            units[n] = unit
        if not column:
            if cell:
                ignored.append(cell)
        elif column in columns:
            message = f"two columns hold the {column}: {row.cells[columns[column]]!r} and {cell!r}"
            help = "rename or delete one of them"
            problems.append(cell_problem("list-heading", message, table, row, n, help))
        else:
            columns[column] = n
    inferred: list[str] = []
    sizes = [size for size in _SIZES if size in columns]
    if "size" in columns and not sizes:
        pass
    elif "size" in columns or len(sizes) > 2:
        named = ", ".join(repr(row.cells[columns[s]]) for s in [*sizes, "size"] if s in columns)
        message = f"which columns are a panel's length, width and thickness? There are {named}"
        help = "name them length, width and thickness"
        problems.append(cell_problem("list-heading", message, table, row, help=help))
    elif len(sizes) < 2:
        known = [*words_of("headings")["length"][:2], *words_of("headings")["width"][:2]]
        near = [n for text in ignored for n in near_names(plain_words(text), known)]
        message = f"{'one' if sizes else 'no'} column of sizes is found, two are needed"
        help = f"did you mean {near[0]}?" if near else "name them length and width"
        problems.append(cell_problem("list-heading", message, table, row, help=help))
    else:
        for wanted, found in zip(("length", "width"), sizes, strict=True):
            if wanted != found:
                heading = row.cells[columns[found]]
                inferred.append(f"the column {heading!r} was taken as the {wanted}")
        at = [columns.pop(size) for size in sizes]
        columns["length"], columns["width"] = at
    if "name" not in columns and "number" in columns:
        columns["name"] = columns.pop("number")
    elif "name" not in columns:
        message = "no column holds the names of the panels"
        problems.append(cell_problem("list-heading", message, table, row, help="call it name"))
    if problems:
        return None, tuple(problems)
    bands = {name: columns.pop(name) for name in BAND_COLUMNS if name in columns}
    return Headings(row, columns, units, tuple(inferred), tuple(ignored), bands), ()
