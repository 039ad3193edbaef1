"""Lists whose reading is bounded as a whole, and names that YAML takes for something else."""

from __future__ import annotations

import csv
import io
import pathlib
import re
import zipfile

import pytest

from kdkit.imports.workbook import read_workbook
from kdkit.pipeline import Request, check
from tests.unit.imports.test_hostile_lists import SHEET, more_rows, rewritten, row, started

HEADINGS = "name,quantity,length,width,thickness,board,note\n"


def sheets_of_one_part(count: int) -> bytes:
    """Return the workbook with many entries that lead to its one sheet of 40 rows."""
    longer = rewritten(SHEET, more_rows(b"".join(row(n) for n in range(3, 43))))
    entry = re.compile(rb'<sheet name="Sheet1" sheetId="1" ([^/]*)/>')
    many = b"".join(rb'<sheet name="S%d" sheetId="%d" \1/>' % (n, n) for n in range(1, count + 1))
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(longer)) as before,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for name in before.namelist():
            data = before.read(name)
            if name == "xl/workbook.xml":
                data, found = entry.subn(many, data)
                assert found == 1
            after.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (sheets_of_one_part(101), "the workbook has more than 100 sheets"),
        (rewritten(SHEET, more_rows(b"<row/>" * 150_000)), "the largest sheet has 1500"),
        (
            rewritten(SHEET, more_rows(b'<row r="3"><c r="A3"/></row>' * 75_000)),
            "sheets, 1, they may be 150000",
        ),
    ],
    ids=["sheets", "rows", "cells"],
)
def test_the_work_of_a_whole_workbook_has_a_limit(
    tmp_path: pathlib.Path, raw: bytes, said: str
) -> None:
    result = started(tmp_path, raw)
    assert result.exit_code == 1
    assert said in result.stderr
    assert "with the panels' sheet alone" in result.stderr


def test_every_sheet_may_lead_to_the_largest_part() -> None:
    rows, problems = read_workbook(sheets_of_one_part(20), "list.xlsx", None)
    assert rows is None
    assert "several sheets" in problems[0].message
    more = rewritten(SHEET, more_rows(b"<row/>" * 2000))
    assert read_workbook(more, "list.xlsx", None)[1] == ()


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ('side,2,600,300,18,mdf,"with back\nshelf,1,564,300,18,mdf,x\n', "on line 2 is not closed"),
        ('a,1,600,300,18,mdf,x\nb,1,600,300,18,mdf,"y', "on line 3 is not closed"),
        ('a,1,600,300,18,mdf,"x\nb,1,600,300,18,mdf,"y"\n', "on line 2 is not closed"),
        ('a,1,600,300,18,mdf,"x\ny"\n"b ""z"",1,600,300,18\n', "on line 4 is not closed"),
        ('"a"b,1,600,300,18,mdf,x\n', "on line 2 is followed by more"),
    ],
)
def test_a_quote_that_is_not_closed_hides_no_panel(
    tmp_path: pathlib.Path, rows: str, said: str
) -> None:
    result = started(tmp_path, (HEADINGS + rows).encode(), "a.csv")
    assert result.exit_code == 1
    assert said in result.stderr


def test_quotes_that_are_closed_are_read(tmp_path: pathlib.Path) -> None:
    rows = '"top ""A""",1,600,300,18,mdf,"two\nlines"\nshelf 5" deep,1,564,300,18,mdf,x\n'
    assert started(tmp_path, (HEADINGS + rows).encode(), "a.csv").exit_code == 0


ODD = ["null", "Null", "TRUE", "true", "False", "yes", "no", "y", "~", "1e3", "0x1", ".inf", ".nan"]
ODD += ["2020-01-01", "12:30", "=", "<<", "-", "- x", "?", "boards", "min", "max", "x0", "kdkit"]
ODD += ["*a", "&a", "!a", "%a", "@a", "# a", "{}", "[]", "a: b", "'", "|", ">", "None", "0", "ﬁ"]


def test_a_panel_of_any_name_starts_a_definition_that_is_read(tmp_path: pathlib.Path) -> None:
    """As panels, and as boards; what is asked stays open and nothing else is wrong."""
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["name", "quantity", "length", "width", "thickness", "board"])
    for n, name in enumerate(ODD):
        rows.writerow([name, 1, 500 + n, 300, 18, name])
    result = started(tmp_path, out.getvalue().encode(), "a.csv")
    assert result.exit_code == 0, result.stderr
    problems = check(Request(file=tmp_path / "made.yaml")).problems
    assert {p.code for p in problems} == {"open-question"}, problems
