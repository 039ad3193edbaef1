"""The cells of a workbook (XLSX) as texts; nothing in it is computed or followed.

Source: the package's layout is ECMA-376 (Office Open XML), read by openpyxl; its XML is
parsed by defusedxml, which refuses entities. Each part's size is counted while it is
inflated, and its declarations are looked at, before openpyxl sees any of it.
"""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
import zlib
from typing import Any

from openpyxl import load_workbook

from kdkit.diagnostics import Problem, Source
from kdkit.imports.row import MAX_CELL, MAX_COLUMNS, MAX_ROWS, Row

__all__ = ["read_workbook"]

MAX_UNPACKED = 10_000_000
MAX_MEMBERS = 500
MAX_STYLES = 50_000
"""Elements of the styles, which are made one by one though only the dates' are of use."""
MAX_SHEETS = 100
MAX_ELEMENTS = 150_000
"""Rows, cells and values of the largest part times the number of sheets, since any sheet may
lead to any part. A list of 2000 rows of ten filled cells has some 42 000."""
MAX_READ = 5 * MAX_UNPACKED
"""Bytes, counted in the same way."""
LAST_LINE = 20_000
"""Cells below are a problem; empty lines above cost nothing worth a limit."""
_LAST_OF_ALL = 1_048_576
_WIDEST = 16_384
"""The last line and column that spreadsheet programs have, 2^20 and 2^14; from memory."""
_CHUNK = 1 << 16
_DECLARES = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)|<\0!\0(?:D|E)")
_SHEET = re.compile(rb"<(?:[\w.-]+:)?sheet[\s/>]")
_STYLES = "xl/styles.xml"
_FORMULA = "="
_SAVE = "save it as .xlsx or .csv with the panels' sheet alone"


def read_workbook(
    raw: bytes, name: str, sheet: str | None
) -> tuple[list[Row] | None, tuple[Problem, ...]]:
    """Return the rows of a sheet with any text in them.

    A formula stands for the value that was saved with it; one without a saved value is
    a problem.
    """
    fault = _package_fault(raw)
    if fault is not None:
        return None, (_problem("list-not-read", fault, name, _SAVE),)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and print areas that nobody asks for
            return _read(raw, name, sheet)
    except Exception as fault:  # the library raises whatever a broken part leads it to
        words = " ".join(str(fault).split())[:120] or type(fault).__name__
        return None, (
            _problem(
                "list-not-read",
                f"the workbook is damaged: {words}",
                name,
                "open it in a spreadsheet program and save it again as .xlsx",
            ),
        )


def _package_fault(raw: bytes) -> str | None:
    """Return why the archive must not be given to the library, or None."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as package:
            return _contents_fault(package)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError) as fault:
        return f"the workbook is damaged: {' '.join(str(fault).split())[:80]}"
    except (NotImplementedError, RuntimeError):  # a compression or a password of the archive
        return "the workbook is packed in a way that is not read"


def _contents_fault(package: zipfile.ZipFile) -> str | None:
    members = package.infolist()
    names = {member.filename for member in members}
    if len(members) > MAX_MEMBERS:
        return f"the workbook has more than {MAX_MEMBERS} parts"
    if "[Content_Types].xml" not in names:
        if "content.xml" in names and "mimetype" in names:
            return "OpenDocument sheets (.ods) are not read"
        return "the file is an archive, but not a workbook"
    room = MAX_UNPACKED
    sheets = largest = longest = 0
    for member in members:
        # What the archive says of a part's size is not believed: the bytes are counted.
        before, elements, size = b"", 0, 0
        is_xml = member.filename.lower().endswith((".xml", ".rels"))
        with package.open(member) as part:
            while chunk := part.read(_CHUNK):
                room -= len(chunk)
                size += len(chunk)
                if room < 0 or member.file_size > MAX_UNPACKED:
                    return f"the workbook unpacks to more than {MAX_UNPACKED // 1_000_000} MB"
                if is_xml and _DECLARES.search(before + chunk):
                    return f"the part {member.filename[:60]!r} declares entities of its own"
                before = chunk[-20:]
                plain = chunk.replace(b"\0", b"")  # a part in UTF-16 says the same
                elements += plain.count(b"<") - plain.count(b"</")
                sheets += len(_SHEET.findall(plain))
        if member.filename.lower() == _STYLES:
            if elements > MAX_STYLES:
                return f"the workbook's styles have more than {MAX_STYLES} elements"
            continue
        largest, longest = max(largest, elements), max(longest, size)
    if sheets > MAX_SHEETS:
        return f"the workbook has more than {MAX_SHEETS} sheets"
    if max(sheets, 1) * largest > MAX_ELEMENTS:
        return (
            f"the largest sheet has {largest} rows, cells and values; times the number of"
            f" sheets, {max(sheets, 1)}, they may be {MAX_ELEMENTS}"
        )
    if sheets * longest > MAX_READ:
        return (
            f"the largest sheet has {longest / 1e6:.1f} MB; times the number of"
            f" sheets, {sheets}, they may be {MAX_READ // 1_000_000} MB"
        )
    return None


def _read(raw: bytes, name: str, sheet: str | None) -> tuple[list[Row] | None, tuple[Problem, ...]]:
    said = load_workbook(io.BytesIO(raw), read_only=True, data_only=False, keep_links=False)
    saved = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
    titles = [each.title for each in said.worksheets]
    if sheet is not None and sheet not in titles:
        message = f"the workbook has no sheet {sheet[:60]!r}"
        return None, (_problem("list-not-read", message, name, f"sheets: {_listed(titles)}"),)
    by_sheet = {}
    for title in [sheet] if sheet is not None else titles:
        rows, problems = _rows(said[title], saved[title], name)
        if rows or problems:
            by_sheet[title] = (rows, problems)
    if len(by_sheet) > 1:
        message = "several sheets of the workbook hold something"
        help = f"say which with --sheet: {_listed(list(by_sheet))}"
        return None, (_problem("list-not-read", message, name, help),)
    for rows, problems in by_sheet.values():
        return (None, problems) if problems else (rows, ())
    return [], ()


def _listed(titles: list[str]) -> str:
    return ", ".join(title[:60] for title in titles[:12])


def _rows(said: Any, saved: Any, name: str) -> tuple[list[Row], tuple[Problem, ...]]:
    """Return a sheet's rows; the library's read-only sheets have no types of their own."""
    found: list[Row] = []
    problems: list[Problem] = []
    limits = {"max_row": LAST_LINE, "max_col": MAX_COLUMNS, "values_only": True}
    pairs = zip(said.iter_rows(**limits), saved.iter_rows(**limits), strict=False)
    for line, (typed, values) in enumerate(pairs, start=1):
        cells = []
        for column, (written, value) in enumerate(zip(typed, values, strict=False)):
            formula = isinstance(written, str) and written.startswith(_FORMULA)
            formula = formula or type(written).__name__ in ("ArrayFormula", "DataTableFormula")
            if formula and value is None:
                message = "a formula stands here whose value was not saved"
                help = "save the workbook in a spreadsheet program, or type the value"
                problems.append(_problem("list-cell", message, name, help, line, column))
            cells.append(_text(value))
        while cells and not cells[-1]:
            cells.pop()
        if cells:
            found.append(Row(line, tuple(cells)))
        if len(found) > MAX_ROWS or len(problems) > 100:
            return found, tuple(problems)
    return found, (*problems, *_far_right(saved, name), *_far_below(saved, name))


def _far_right(sheet: Any, name: str) -> tuple[Problem, ...]:
    """Return a problem if anything stands to the right of the last column that is read."""
    reach = {"min_col": MAX_COLUMNS + 1, "max_col": _WIDEST, "max_row": LAST_LINE}
    for line, values in enumerate(sheet.iter_rows(**reach, values_only=True), start=1):
        if values.count(None) < len(values):
            message = f"something stands beyond the {MAX_COLUMNS} cells that are read of a row"
            help = "move it to the left, or delete it"
            return (_problem("list-too-long", message, name, help, line, MAX_COLUMNS),)
    return ()


def _far_below(sheet: Any, name: str) -> tuple[Problem, ...]:
    """Return a problem if anything stands below the last line that is read."""
    # The sheet's own word on its size is not believed.
    reach = {"min_row": LAST_LINE + 1, "max_row": 2**62, "max_col": MAX_COLUMNS}
    for line, values in enumerate(sheet.iter_rows(**reach, values_only=True), start=LAST_LINE + 1):
        if line > _LAST_OF_ALL or values.count(None) < len(values):
            message = f"something stands below line {LAST_LINE}, the last that is read"
            help = "move it up, or delete it"
            return (_problem("list-too-long", message, name, help, min(line, _LAST_OF_ALL)),)
    return ()


def _text(value: Any) -> str:
    """Return a cell's value as it would be typed; numbers with a point and in full."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}" if abs(value) < 1e12 else str(value)
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return " ".join(str(value)[: 2 * MAX_CELL].split())


def _problem(
    code: str, message: str, file: str, help: str, line: int = 1, column: int = 0
) -> Problem:
    source = Source(file=file, line=line, column=column + 1, end_column=column + 2)
    return Problem(code=code, message=message, help=help, source=source)
