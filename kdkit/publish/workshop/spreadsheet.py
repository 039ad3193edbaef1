"""The three tables as one workbook (Office Open XML, ISO/IEC 29500)."""

from __future__ import annotations

import datetime
import io
import pathlib
from collections.abc import Sequence

import xlsxwriter  # type: ignore[import-untyped]  # it has no types

from kdkit.diagnostics import Problem, error
from kdkit.publish.engines import EngineFailed, hear
from kdkit.publish.tables import Number, cut_list_rows, drilling_rows, hardware_rows
from kdkit.publish.workshop.job import WorkshopJob

__all__ = ["write_spreadsheet"]

_WIDEST = 48  # characters
_NO_DATE = datetime.datetime(2000, 1, 1)
"""A workbook must have a date of making; a fixed one keeps its bytes the same."""


def write_spreadsheet(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``tables.xlsx``: cut list, drilling and hardware, the rows of the CSV files.

    Numbers are numbers; every text is a text, whatever it begins with. The heads stay
    in sight and have filters.
    """
    with hear() as heard:
        held = _workbook(job)
    if heard:
        told = "; ".join(said.text for said in heard)
        raise EngineFailed(error("engine-failed", f"the workbook is not whole: {told}"))
    (folder / "tables.xlsx").write_bytes(held.getvalue())
    return ()


def _workbook(job: WorkshopJob) -> io.BytesIO:
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True, "strings_to_urls": False})
    book.set_properties({"title": job.product, "created": _NO_DATE})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    for title, rows in (
        ("cut_list", cut_list_rows(job.results, job.messages)),
        ("drilling", drilling_rows(job.results, job.messages)),
        ("hardware", hardware_rows(job.results, job.messages)),
    ):
        sheet = book.add_worksheet(job.messages.plain(f"workshop.sheet_{title}"))
        _fill(sheet, rows, head)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
    book.close()
    return held


def _fill(sheet: object, rows: Sequence[Sequence[object]], head: object) -> None:
    assert isinstance(sheet, xlsxwriter.worksheet.Worksheet)
    for r, row in enumerate(rows):
        for c, value in enumerate(row):
            if isinstance(value, Number | int | float):
                status = sheet.write_number(r, c, float(value))
            elif value not in ("", None):
                status = sheet.write_string(r, c, str(value), head if r == 0 else None)
            else:
                continue
            if status:  # outside the sheet, or a text that was cut off
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
