"""The workbook read back by another library than the one that wrote it."""

from __future__ import annotations

import csv
import pathlib
from collections.abc import Callable
from dataclasses import replace

import openpyxl
import pytest

from kdkit.publish.files.tables import (
    render_cut_list,
    render_drilling,
    render_hardware,
    render_rows,
)
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.bagging.bag_tables import bag_rows


def cells(text: str) -> list[list[str]]:
    return list(csv.reader(text.removeprefix("\ufeff").splitlines()))


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench", "wardrobe"])
def test_the_sheets_hold_the_tables(
    name: str, results_of: Callable[[str], Results], tmp_path: pathlib.Path
) -> None:
    results, messages = results_of(name), load_messages("en")
    publish_workshop(results, tmp_path / "w", ["xlsx"])
    book = openpyxl.load_workbook(tmp_path / "w" / "tables.xlsx")
    assert book.sheetnames == ["Cut list", "Drilling", "Hardware", "Bags"]
    tables = (
        render_cut_list(results, messages),
        render_drilling(results, messages),
        render_hardware(results, messages),
        render_rows(bag_rows(results, messages)),
    )
    for sheet, table in zip(book.worksheets, tables, strict=True):
        wanted = cells(table)
        assert (sheet.max_row, sheet.max_column) == (len(wanted), len(wanted[0]))
        for row, texts in zip(sheet.iter_rows(values_only=True), wanted, strict=True):
            for value, text in zip(row, texts, strict=True):
                if isinstance(value, int | float):
                    assert value == pytest.approx(float(text))
                else:
                    assert (value or "") == text
        assert any(isinstance(c.value, int | float) for c in sheet[2])


def test_a_text_is_never_a_formula(
    results_of: Callable[[str], Results], tmp_path: pathlib.Path
) -> None:
    results = results_of("bookcase")
    cut = (replace(results.schedules.cut[0], title='=HYPERLINK("x")'), *results.schedules.cut[1:])
    results = replace(results, schedules=replace(results.schedules, cut=cut))
    publish_workshop(results, tmp_path / "w", ["xlsx"])
    cell = openpyxl.load_workbook(tmp_path / "w" / "tables.xlsx")["Cut list"]["B2"]
    assert (cell.value, cell.data_type) == ('=HYPERLINK("x")', "s")


def test_numbers_are_numbers(results_of: Callable[[str], Results], tmp_path: pathlib.Path) -> None:
    results = results_of("bookcase")
    publish_workshop(results, tmp_path / "w", ["xlsx"])
    sheet = openpyxl.load_workbook(tmp_path / "w" / "tables.xlsx")["Cut list"]
    heads = [cell.value for cell in sheet[1]]
    line = results.schedules.cut[0]
    assert sheet[2][heads.index("Cut length (mm)")].value == pytest.approx(line.cut[0])
    assert sheet[2][heads.index("Quantity")].value == line.quantity
