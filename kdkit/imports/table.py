"""A table from a file: rows of texts, each with the line that it stands in."""

from __future__ import annotations

import csv
import io
import pathlib
from collections.abc import Sequence
from dataclasses import dataclass
from unicodedata import normalize

from kdkit.definition.gate import find_unprintable
from kdkit.diagnostics import Problem, Source
from kdkit.imports.numbers import Mark
from kdkit.imports.row import MAX_CELL, MAX_COLUMNS, MAX_ROWS, Row

__all__ = ["Table", "cell_problem", "load_table"]

MAX_BYTES = 2_000_000

_DELIMITERS = ";\t,|"
_ZIP = b"PK\x03\x04"
_LOCKED = "EncryptedPackage".encode("utf-16-le")
"""The stream of an encrypted workbook. Source: MS-OFFCRYPTO, from memory."""
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Table:
    """The rows of a file.

    Args:
        file: its name for people, with the sheet if one was asked for.
        rows: those that hold anything.
        mark: what stands before decimals, where the file's kind says it.
    """

    file: str
    rows: tuple[Row, ...]
    mark: Mark | None = None


def cell_problem(
    code: str, message: str, table: Table, row: Row, column: int | None = None, help: str = ""
) -> Problem:
    """Return a problem at a cell; its caret stands in the row as ``Row.text`` shows it."""
    start = 0 if column is None else len(" | ".join((*row.cells[:column], "")))
    width = len(row.text) if column is None else len(row.cells[column])
    return Problem(
        code=code,
        message=message,
        help=help,
        source=Source(
            file=table.file,
            line=row.line,
            column=start + 1,
            end_column=start + max(width, 1) + 1,
            text=row.text,
        ),
    )


def load_table(
    path: pathlib.Path, sheet: str | None = None
) -> tuple[Table | None, tuple[Problem, ...]]:
    """Read a CSV file or a workbook (XLSX).

    Args:
        path: the file; what it is is seen from its first bytes.
        sheet: the sheet of a workbook; needed only if several hold something.

    Returns:
        The table, or None and the problems. Rows without any text are left out; nothing
        in a cell is computed or followed.
    """
    name = str(path)
    if path.exists() and not path.is_file():
        return None, (_whole("file-not-read", f"{name} is no ordinary file", name, ""),)
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except OSError as fault:
        return None, (_whole("file-not-read", f"{name}: {fault.strerror or fault}", name, ""),)
    if len(raw) > MAX_BYTES:
        return None, (
            _whole(
                "file-too-large",
                f"the list is larger than {MAX_BYTES // 1000} kB",
                name,
                "keep the rows of one product",
            ),
        )
    mark: Mark | None = None
    if raw.startswith(_ZIP):
        mark = "."
        # Here, because the library is large and a CSV needs none of it.
        from kdkit.imports.workbook import read_workbook

        rows, problems = read_workbook(raw, name, sheet)
    elif raw.startswith(_OLD_WORKBOOK):
        locked = _LOCKED in raw
        message = (
            "the workbook is locked with a password"
            if locked
            else "workbooks of the old kind (.xls) are not read"
        )
        help = f"{_SAVE}, without a password" if locked else _SAVE
        rows, problems = None, (_whole("list-not-read", message, name, help),)
    elif sheet is not None:
        rows, problems = (
            None,
            (_whole("list-not-read", "the file has no sheets", name, "leave the sheet out"),),
        )
    else:
        rows, problems = _read_csv(raw, name)
    if rows is None:
        return None, problems
    # One form of each letter, as in a definition: what looks the same is the same name.
    rows = [Row(row.line, tuple(normalize("NFC", cell) for cell in row.cells)) for row in rows]
    table = Table(name if sheet is None else f"{name} [{sheet}]", tuple(rows), mark)
    faults = (*problems, *_check_cells(table))
    if faults:
        return None, faults
    if not table.rows:
        return None, (_whole("list-empty", "the list holds nothing", name, ""),)
    return table, ()


_SAVE = "save it as .xlsx or .csv"


def _whole(code: str, message: str, file: str, help: str) -> Problem:
    """Return a problem of the file as a whole."""
    source = Source(file=file, line=1, column=1, end_column=2)
    return Problem(code=code, message=message, help=help, source=source)


def _check_cells(table: Table) -> list[Problem]:
    problems = []
    if len(table.rows) > MAX_ROWS:
        problems.append(
            cell_problem(
                "list-too-long",
                f"the list has more than {MAX_ROWS} rows",
                table,
                table.rows[MAX_ROWS],
                help="keep the rows of one product",
            )
        )
    for row in table.rows[:MAX_ROWS]:
        if len(row.cells) > MAX_COLUMNS:
            problems.append(
                cell_problem(
                    "list-too-long", f"the row has more than {MAX_COLUMNS} cells", table, row
                )
            )
            continue
        for column, cell in enumerate(row.cells):
            if len(cell) > MAX_CELL:
                message = f"the cell has {len(cell)} characters, at most {MAX_CELL} are read"
            elif (bad := find_unprintable(cell)) is not None:
                message = f"the cell holds the character U+{ord(bad):04X}, which cannot be printed"
            else:
                continue
            problems.append(cell_problem("list-cell", message, table, row, column))
    return problems


def _read_csv(raw: bytes, name: str) -> tuple[list[Row] | None, tuple[Problem, ...]]:
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        return None, (
            Problem(
                code="file-not-text",
                message=f"the byte 0x{raw[fault.start]:02X} is not UTF-8 text",
                help="save the list as CSV in UTF-8",
                source=Source(file=name, line=line, column=1, end_column=2),
            ),
        )
    if "\0" in text:
        return None, (
            _whole("file-not-text", "the file is neither text nor a workbook", name, _SAVE),
        )
    delimiter = _delimiter(text)
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    try:
        for cells in reader:
            stripped = _stripped(cells)
            if stripped:
                rows.append(Row(line, stripped))
            line = reader.line_num + 1
            if len(rows) > MAX_ROWS:
                break
    except csv.Error as fault:
        opened = _quote_open_at(text, delimiter, line, reader.line_num)
        if opened is None:
            message, opened = f"the row cannot be read: {fault}", line
        elif opened < reader.line_num or "end of data" in str(fault):
            message = f"a quote opened on line {opened} is not closed"
        else:
            message = f"a quote on line {opened} is followed by more before the cell ends"
        return None, (
            Problem(
                code="list-not-read",
                message=message,
                help="write a quote inside a quoted cell twice, and close the cell with one",
                source=Source(file=name, line=opened, column=1, end_column=2),
            ),
        )
    return rows, ()


def _quote_open_at(text: str, delimiter: str, begin: int, end: int) -> int | None:
    """Return the line of the last quote that opens a cell, from one line to another."""
    found = None
    inside, at_start, closed = False, True, False
    for number, line in enumerate(io.StringIO(text), start=1):
        if not begin <= number <= end:
            continue
        for sign in line:
            if sign == '"' and (inside or at_start or closed):
                inside = not inside
                found = number if at_start else found
                closed = not inside
            else:
                closed = False
            at_start = not inside and sign in (delimiter, "\n", "\r")
    return found


def _stripped(cells: Sequence[str]) -> tuple[str, ...]:
    """Return the cells in one line each, without empty ones at the end; () if all are."""
    found = [" ".join(cell.split()) for cell in cells]
    while found and not found[-1]:
        found.pop()
    return tuple(found)


def _delimiter(text: str) -> str:
    """Return what stands between the cells: what the same number of times in most lines is.

    A comma counts last, because it may stand before decimals.
    """
    lines = [line for line in text.split("\n")[:50] if line.strip()]
    scores = {}
    for delimiter in _DELIMITERS:
        counts = [line.count(delimiter) for line in lines]
        usual = max(set(counts), key=lambda n: (counts.count(n), n)) if counts else 0
        scores[delimiter] = counts.count(usual) if usual > 0 else 0
    return max(_DELIMITERS, key=lambda d: (scores[d], -_DELIMITERS.index(d)))
