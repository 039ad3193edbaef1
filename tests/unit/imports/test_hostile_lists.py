"""Lists that hold more than they seem to, or what no list may: told, bounded, no fault."""

from __future__ import annotations

import io
import pathlib
import zipfile
from collections.abc import Callable

import pytest
import xlsxwriter
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from kdkit.pipeline import Request, check

SHEET, STRINGS, STYLES = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml"
Change = Callable[[bytes], bytes]


def workbook() -> bytes:
    raw = io.BytesIO()
    with xlsxwriter.Workbook(raw) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["name", "quantity", "length", "width", "thickness", "board"])
        sheet.write_row(1, 0, ["Side", 2, 700, 300, 18, "MDF 18"])
    return raw.getvalue()


def rewritten(part: str, change: Change) -> bytes:
    """Return the workbook with a part changed."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook())) as before,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        assert part in before.namelist()
        for name in before.namelist():
            data = before.read(name)
            changed = change(data) if name == part else data
            assert changed != data or name != part
            after.writestr(name, changed)
    return out.getvalue()


def started(tmp_path: pathlib.Path, raw: bytes, name: str = "list.xlsx") -> Result:
    (tmp_path / name).write_bytes(raw)
    call = ["start", str(tmp_path / name), str(tmp_path / "made.yaml")]
    result = CliRunner().invoke(group, call)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert (tmp_path / "made.yaml").exists() is (result.exit_code == 0)
    return result


def more_rows(rows: bytes) -> Change:
    return lambda data: data.replace(b"</sheetData>", rows + b"</sheetData>")


def row(line: int, column: str = "A") -> bytes:
    return f'<row r="{line}"><c r="{column}{line}"><v>7</v></c></row>'.encode()


def entities(data: bytes) -> bytes:
    declared = b'<!DOCTYPE sst [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    head, rest = data.split(b"?>", 1)
    return head + b"?>" + declared + rest.replace(b"Side", b"&b;")


@pytest.mark.parametrize(
    ("part", "change", "said"),
    [
        (SHEET, more_rows(row(1_048_576)), "something stands below line 20000"),
        (SHEET, more_rows(row(10**12)), "something stands below line 20000"),
        (SHEET, more_rows(row(3, "XFD")), "something stands beyond the 60 cells"),
        (SHEET, more_rows(row(3, "BI")), "something stands beyond the 60 cells"),
        (SHEET, more_rows(b"".join(map(row, range(3, 2100)))), "the list has more than 2000 rows"),
        (STRINGS, entities, "'xl/sharedStrings.xml' declares entities"),
        (STRINGS, lambda d: d.replace(b"Side", b"S" * 10_000_000), "unpacks to more than 10 MB"),
        (STRINGS, lambda d: d.replace(b"Side", b"S" * 1000), "at most 300 are read"),
        (
            STYLES,
            lambda d: d.replace(b"</cellXfs>", b"<xf/>" * 60_000 + b"</cellXfs>"),
            "the workbook's styles have more than 50000 elements",
        ),
        (SHEET, lambda d: d.replace(b"<v>700</v>", b"<v>nan</v>"), "the workbook is damaged"),
        (SHEET, lambda d: d.replace(b"<v>700</v>", b"<v>" + b"9" * 5000 + b"</v>"), "damaged"),
    ],
)
def test_a_workbook_is_counted_while_it_is_unpacked(
    tmp_path: pathlib.Path, part: str, change: Change, said: str
) -> None:
    result = started(tmp_path, rewritten(part, change))
    assert result.exit_code == 1
    assert said in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.replace(b"A1:F2", b"A1:XFD1048576"),
        more_rows(b"".join(b'<row r="%d"/>' % n for n in range(3, 40_000))),
        lambda d: d.replace(
            b"</sheetData>",
            b'</sheetData><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>',
        ),
    ],
)
def test_what_costs_nothing_is_read(tmp_path: pathlib.Path, change: Change) -> None:
    result = started(tmp_path, rewritten(SHEET, change))
    assert result.exit_code == 0, result.stderr


def test_a_part_that_is_larger_than_the_archive_says(tmp_path: pathlib.Path) -> None:
    raw = rewritten(STRINGS, lambda d: d.replace(b"Side", b"S" * 30_000_000))
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        size = archive.getinfo(STRINGS).file_size
    result = started(tmp_path, raw.replace(size.to_bytes(4, "little"), b"\xe8\x03\0\0"))
    assert result.exit_code == 1
    assert "damaged" in result.stderr


def sheet_of_another_kind() -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<a/>")
    return raw.getvalue()


OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)


@pytest.mark.parametrize(
    ("raw", "name", "said", "help"),
    [
        (sheet_of_another_kind(), "a.ods", "(.ods) are not read", "save it as .xlsx or .csv"),
        (OLD, "a.xls", "(.xls) are not read", "save it as .xlsx or .csv"),
        (
            OLD + "EncryptedPackage".encode("utf-16-le"),
            "a.xlsx",
            "locked with a password",
            "without a password",
        ),
        (workbook()[:2000], "a.xlsx", "damaged", "save it as .xlsx or .csv"),
        (
            b'name;length;width\n"A;700;300\n' + b"B;700;300\n" * 20_000,
            "a.csv",
            "on line 2",
            "quote",
        ),
        (b"name;length;width\nA\0;700;300\n", "a.csv", "neither text nor", "save it as"),
    ],
)
def test_another_kind_of_file_is_told_by_name(
    tmp_path: pathlib.Path, raw: bytes, name: str, said: str, help: str
) -> None:
    result = started(tmp_path, raw, name)
    assert result.exit_code == 1
    assert said in result.stderr
    assert help in result.stderr


@pytest.mark.parametrize(
    "bad", ["\uffff", "\ufffe", "\ufeff", "\ufdd0", "\ue000", "\u202e", "\u0378"]
)
@pytest.mark.parametrize("row", ["Top {},600,300,18", "Top,600,300,18,MDF{}", "Top,600,300,18,,{}"])
def test_no_cell_holds_what_no_definition_may(tmp_path: pathlib.Path, bad: str, row: str) -> None:
    text = f"name,length,width,thickness,board,note\n{row.format(bad)}\n"
    result = started(tmp_path, text.encode(), "a.csv")
    assert result.exit_code == 1
    assert f"the character U+{ord(bad):04X}, which cannot be printed" in result.stderr


@pytest.mark.parametrize("name", ["Top \uffff", "\u200b", "x" * 121])
def test_no_product_has_a_name_that_no_definition_may(tmp_path: pathlib.Path, name: str) -> None:
    (tmp_path / "a.csv").write_text("name,length,width,thickness\nTop,600,300,18\n", "utf-8")
    call = ["start", str(tmp_path / "a.csv"), str(tmp_path / "a.yaml"), "--product", name]
    result = CliRunner().invoke(group, call)
    assert result.exit_code == 2
    assert "cannot be the product's name" in result.stderr
    assert not (tmp_path / "a.yaml").exists()


@pytest.mark.parametrize("name", ["\u200b", "\u3164"])
def test_a_panel_has_a_name_that_shows(tmp_path: pathlib.Path, name: str) -> None:
    text = f"name,length,width,thickness\n{name},600,300,18\n"
    result = started(tmp_path, text.encode(), "a.csv")
    assert result.exit_code == 1
    assert "the text shows nothing" in result.stderr


def test_a_list_with_any_file_name_starts_a_definition_that_is_read(tmp_path: pathlib.Path) -> None:
    name = "a\uffff\n\u2028b.csv"
    (tmp_path / name).write_text("name,length,width,thickness\nTop,600,300,18\n", "utf-8")
    made = tmp_path / "made.yaml"
    call = ["start", str(tmp_path / name), str(made), "--product", "Box"]
    assert CliRunner().invoke(group, call).exit_code == 0
    problems = check(Request(file=made)).problems
    assert {p.code for p in problems} == {"open-question"}


def test_a_workbook_under_another_name_is_read(tmp_path: pathlib.Path) -> None:
    assert started(tmp_path, workbook(), "list.csv").exit_code == 0
