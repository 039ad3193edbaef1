"""The tables as one workbook (Office Open XML, ISO/IEC 29500)."""

from __future__ import annotations

import datetime
import io
import pathlib
import re
from collections.abc import Sequence

import xlsxwriter  # type: ignore[import-untyped]  # it has no types

from kdkit.diagnostics import Problem, error
from kdkit.publish.files.columns import Number
from kdkit.publish.files.tables import cut_list_rows, drilling_rows, hardware_rows
from kdkit.publish.typesetting.engines import EngineFailed, hear
from kdkit.publish.wording.plain_text import one_line
from kdkit.publish.workshop.bagging.bag_tables import bag_rows
from kdkit.publish.workshop.job import WorkshopJob

__all__ = ["make_workbook", "write_spreadsheet"]

_WIDEST = 48  # characters
_LONGEST_CELL = 32_767
_LONGEST_NAME = 31
_LONGEST_PROPERTY = 255
"""UTF-16 units. Source: published limits of spreadsheet programs, from memory."""
_NO_DATE = datetime.datetime(2000, 1, 1)
"""A workbook must have a date of making; a fixed one keeps its bytes the same."""


def write_spreadsheet(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``tables.xlsx``: cut list, drilling, hardware and bags, the rows of the CSV files.

    Numbers are numbers; every text is a text, whatever it begins with, and is cut where
    a cell ends (the CSV files hold all of it). The heads stay in sight and have filters.
    """
    say, results = job.messages.plain, job.results
    tables = (
        (say("workshop.sheet_cut_list"), cut_list_rows(results, job.messages)),
        (say("workshop.sheet_drilling"), drilling_rows(results, job.messages)),
        (say("workshop.sheet_hardware"), hardware_rows(results, job.messages)),
        (say("workshop.sheet_bags"), bag_rows(results, job.messages)),
    )
    (folder / "tables.xlsx").write_bytes(make_workbook(job.product, tables))
    return ()


def make_workbook(title: str, tables: Sequence[tuple[str, Sequence[Sequence[object]]]]) -> bytes:
    """Return a workbook with a sheet for each table: its name, its rows, headings first.

    Raises:
        EngineFailed: the workbook cannot hold them.
    """
    with hear() as heard:
        held = _workbook(title, tables)
    if heard:
        told = "; ".join(said.text for said in heard)
        raise EngineFailed(error("engine-failed", f"the workbook is not whole: {told}"))
    return held.getvalue()


def _workbook(title: str, tables: Sequence[tuple[str, Sequence[Sequence[object]]]]) -> io.BytesIO:
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True, "strings_to_urls": False})
    book.set_properties({"title": one_line(title, _LONGEST_PROPERTY), "created": _NO_DATE})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    names: list[str] = []
    for words, rows in tables:
        names.append(_sheet_name(words, names))
        sheet = book.add_worksheet(names[-1])
        _fill(sheet, rows, head)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
    book.close()
    return held


def _cell(text: str) -> str:
    """Return a text as a cell can hold it."""
    line = one_line(text)
    units = line.encode("utf-16-le")
    if len(units) <= 2 * _LONGEST_CELL:
        return line
    return units[: 2 * (_LONGEST_CELL - 1)].decode("utf-16-le", "ignore") + "…"


def _sheet_name(words: str, taken: Sequence[str]) -> str:
    """Return words as the name of a sheet: without what none may hold, and none twice."""
    plain = " ".join(re.sub(r"[\[\]:*?/\\\ufffd]", " ", one_line(words)).split())
    while len(plain.encode("utf-16-le")) > 2 * (_LONGEST_NAME - 4):
        plain = plain[:-1]
    plain = plain.strip("' ") or "Table"
    same = [name for name in taken if name.lower().startswith(plain.lower())]
    return f"{plain} {len(same) + 1}" if same else plain


def _fill(sheet: object, rows: Sequence[Sequence[object]], head: object) -> None:
    assert isinstance(sheet, xlsxwriter.worksheet.Worksheet)
    for r, row in enumerate(rows):
        for c, value in enumerate(row):
            if isinstance(value, Number | int | float):
                status = sheet.write_number(r, c, float(value))
            elif value not in ("", None):
                status = sheet.write_string(r, c, _cell(str(value)), head if r == 0 else None)
            else:
                continue
            if status:  # outside the sheet
                raise EngineFailed(
                    error(
                        "engine-failed",
                        f"the workbook cannot hold line {r + 1}, column {c + 1} of the sheet "
                        f"{sheet.name}: {str(value)[:40]}",
                        help="leave out xlsx with --files; the CSV tables of build hold it",
                    )
                )
    for c in range(len(rows[0])):
        longest = max((len(str(row[c])) for row in rows[1:] if c < len(row)), default=0)
        sheet.set_column(c, c, min(_WIDEST, max(9, longest + 2)))
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, max(1, len(rows) - 1), len(rows[0]) - 1)
