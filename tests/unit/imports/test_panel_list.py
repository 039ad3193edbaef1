"""Lists in many spellings give the same panels; bad ones all their problems."""

from __future__ import annotations

import datetime
import io
import itertools
import zipfile
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from kdkit.imports.panel_list import MAX_PANELS, ListedPanel
from tests.unit.imports.conftest import ReadList

PLAIN = """\
name,quantity,length,width,thickness,board
Side,2,900,300,18,MDF
Shelf,1,764.5,280,18,MDF
"""

SAME = {
    "semicolons and commas": PLAIN.replace(",", ";").replace("764.5", "764,5"),
    "tabs": PLAIN.replace(",", "\t"),
    "bars": PLAIN.replace(",", "|"),
    "byte order mark": "\ufeff" + PLAIN,
    "old line ends": PLAIN.replace("\n", "\r\n"),
    "quotes": '"name","quantity","length","width","thickness","board"\n'
    '"Side","2","900","300","18","MDF"\n"Shelf","1","764,5","280","18","MDF"\n',
    "other words": PLAIN.replace("quantity,length", "Qty.,Finished length"),
    "German": PLAIN.replace(
        "name,quantity,length,width,thickness,board", "Bauteil,Stück,Länge,Breite,Stärke,Werkstoff"
    ),
    "French": PLAIN.replace(
        "name,quantity,length,width,thickness,board",
        "Pièce,Qté,Longueur,Largeur,Épaisseur,Matériau",
    ),
    "another order": "thickness,width,board,name,length,quantity\n"
    "18,300,MDF,Side,900,2\n18,280,MDF,Shelf,764.5,1\n",
    "units in the headings": "name;quantity;length (cm);width [cm];thickness in mm;board\n"
    "Side;2;90;30;18;MDF\nShelf;1;76,45;28;18;MDF\n",
    "units in the cells": "name;quantity;length;width;thickness;board\n"
    "Side;2;90 cm;300 mm;18;MDF\nShelf;1;0.7645 m;28cm;18;MDF\n",
    "thickness in the board's name": "name,quantity,length,width,board\n"
    "Side,2,900,300,MDF\nShelf,1,764.5,280,MDF\n".replace("MDF", "MDF 18 mm"),
    "one column of sizes": "name;quantity;size;board\n"
    "Side;2;900 x 300 x 18;MDF\nShelf;1;764.5×280×18;MDF\n",
    "lines that are no panels": "Quernmoss Workshop;;;;;\n\n# a remark;;;;;\n"
    + PLAIN.replace(",", ";")
    + ";;;;;\nCarcass;;;;;\n\nTotal;3;;;;\n",
    "the headings twice": PLAIN + PLAIN.split("\n")[0] + "\n",
}


def facts(panels: tuple[ListedPanel, ...]) -> list[tuple[Any, ...]]:
    return [
        (p.name, p.quantity, round(p.length, 3), p.width, p.thickness, p.board[:3]) for p in panels
    ]


EXPECTED = [("Side", 2, 900, 300, 18, "MDF"), ("Shelf", 1, 764.5, 280, 18, "MDF")]


@pytest.mark.parametrize("text", SAME.values(), ids=SAME.keys())
def test_a_list_in_any_spelling_gives_the_same_panels(text: str, read_list: ReadList) -> None:
    found, problems = read_list(text)
    assert found is not None, [p.message for p in problems]
    assert facts(found.panels) == EXPECTED


def test_wide_text_is_read(read_list: ReadList) -> None:
    found, _ = read_list(PLAIN.replace(",", "\t").encode("utf-16"))
    assert found is not None
    assert facts(found.panels) == EXPECTED


def test_what_was_left_out_or_concluded_is_told(read_list: ReadList) -> None:
    found, _ = read_list(
        "Name;Width;Height;Thickness;Colour;Qty\nSide;300;900;18;white;\nTotal;;;;;1\n"
    )
    assert found is not None
    assert facts(found.panels) == [("Side", 1, 900, 300, 18, "")]
    told = "\n".join((*found.inferred, *found.skipped))
    assert "'Height' was taken as the length" in told
    assert "says no quantity" in told
    assert "names no unit" in told
    assert "'Colour'" in told
    assert "a total" in told


@pytest.mark.parametrize(
    ("columns", "cells", "bands"),
    [
        ("L1;L2;W1", "1;0,8;x", {"long1": 1, "long2": 0.8, "short1": None}),
        ("Front edge;Kante oben", "ABS 2 mm;-", {"front": 2}),
        ("Edge band", "2L 1W", {"long1": None, "long2": None, "short1": None}),
        ("Kanten", "alle 4", {"all": None}),
        ("Edges", "front back", {"front": None, "back": None}),
    ],
)
def test_edge_bands_are_read(
    columns: str, cells: str, bands: dict[str, Any], read_list: ReadList
) -> None:
    found, _ = read_list(f"name;length;width;{columns}\nShelf;764;280;{cells}\n")
    assert found is not None
    assert found.panels[0].bands == bands
    assert found.panels[0].bands_said == ""


def test_edge_bands_that_are_not_understood_are_kept(read_list: ReadList) -> None:
    found, _ = read_list("name;length;width;edges\nShelf;764;280;visible ones\n")
    assert found is not None
    assert found.panels[0].bands_said == "visible ones"


BAD = {
    "nothing": ("", "list-empty", "nothing"),
    "only spaces": ("\n ; ;\n", "list-empty", "nothing"),
    "no headings": ("Side;900;300\n", "list-heading", "no row of headings"),
    "one size": ("name;qty;length\nSide;1;900\n", "list-heading", "two are needed"),
    "three sizes": (
        "name;width;height;depth\nSide;300;900;18\n",
        "list-heading",
        "which columns",
    ),
    "two columns alike": ("name;length;len;width\nA;1;2;3\n", "list-heading", "two columns"),
    "no name": ("length;width\n900;300\n", "list-heading", "names of the panels"),
    "no panels": ("name;length;width\n", "list-empty", "no row"),
    "a word for a size": ("name;length;width\nA;long;300\n", "list-cell", "not a length"),
    "a formula": ("name;length;width\nA;=900*2;300\n", "list-cell", "formula"),
    "no size": ("name;length;width\nA;;300\n", "list-cell", "length is missing"),
    "a huge size": ("name;length;width\nA;99999;300\n", "list-cell", "no size of a panel"),
    "below zero": ("name;length;width\nA;-900;300\n", "list-cell", "no size of a panel"),
    "read in two ways": ("name;length;width\nA;1,234;300\n", "list-cell", "can be read as"),
    "half a panel": ("name;qty;length;width\nA;1.5;900;300\n", "list-cell", "pieces"),
    "too many": (f"name;qty;length;width\nA;{MAX_PANELS + 1};900;300\n", "list-too-long", "most"),
    "cm for mm": ("name;length;width\nA;90;30\n", "list-unit", "really in mm"),
    "nameless": ("name;qty;length;width\n;1;900;300\n", "list-cell", "no name"),
    "a thick band": ("name;length;width;L1\nA;900;300;99\n", "list-cell", "99 mm"),
    "turning letters": ("name;length;width\n\u202eA;900;300\n", "list-cell", "printed"),
    "a long name": (f"name;length;width\n{'A' * 130};900;300\n", "list-cell", "characters"),
    "an open quote": ('name;length;width\n"A;900;300\n' + "x" * 200_000, "list-not-read", "quote"),
}


@pytest.mark.parametrize(("text", "code", "says"), BAD.values(), ids=BAD.keys())
def test_a_bad_list_is_refused_with_its_place(
    text: str, code: str, says: str, read_list: ReadList
) -> None:
    _, problems = read_list(text)
    assert [p.code for p in problems] == [code]
    assert says in f"{problems[0].message} {problems[0].help}"


def test_all_problems_of_a_list_are_told_at_once(read_list: ReadList) -> None:
    _, problems = read_list(
        "name;qty;length;width\nA;one;900;300\nB;1;wide;=1\n;1;900;300\nC;2;900;1e9\n"
    )
    assert [(p.source.line, p.source.column) for p in problems if p.source] == [
        (2, 5), (3, 9), (3, 16), (4, 1), (5, 15),
    ]  # fmt: skip


def test_what_is_no_table_is_refused(read_list: ReadList) -> None:
    for content in (
        b"\x00\x01\x02",
        b"\xff\xfe\x00",
        b"name;length\xe4;width\n",
        b"\xd0\xcf\x11\xe0",
    ):
        _, problems = read_list(content)
        assert [p.code in ("file-not-text", "list-not-read", "list-cell") for p in problems] == [
            True
        ]


def test_a_list_of_100_000_rows_is_refused(read_list: ReadList) -> None:
    row = "Shelf;1;764;280\n"
    _, problems = read_list("name;qty;length;width\n" + row * 100_000)
    assert [p.code for p in problems] == ["list-too-long"]
    _, problems = read_list("name;qty;length;width\n" + row * 200_000)
    assert [p.code for p in problems] == ["file-too-large"]


def workbook(rows: list[list[Any]], **sheets: list[list[Any]]) -> bytes:
    book = Workbook()
    for title, content in {"Panels": rows, **sheets}.items():
        sheet = book.create_sheet(title)
        for row in content:
            sheet.append(row)
    del book["Sheet"]
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


ROWS: list[list[Any]] = [
    ["Quernmoss Workshop", datetime.date(2026, 11, 25)],
    [],
    ["name", "quantity", "length", "width", "thickness", "board"],
    ["Side", 2, 900, 300.0, 18, "MDF"],
    ["Shelf", 1, 764.5, "280", 18, "MDF"],
]


def test_a_workbook_gives_the_same_panels(read_list: ReadList) -> None:
    found, problems = read_list(workbook(ROWS, Empty=[]))
    assert found is not None, [p.message for p in problems]
    assert facts(found.panels) == EXPECTED
    assert [p.line for p in found.panels] == [4, 5]


def test_three_decimals_of_a_workbook_are_no_thousands(read_list: ReadList) -> None:
    found, _ = read_list(workbook([*ROWS[:4], ["Shelf", 1, 764.125, 280, 18, "MDF"]]))
    assert found is not None
    assert found.panels[1].length == 764.125


def test_a_formula_without_its_value_is_told_with_its_cell(read_list: ReadList) -> None:
    _, problems = read_list(workbook([*ROWS, ["Top", 1, "=E5*2", '=HYPERLINK("x")', 18, "MDF"]]))
    assert [(p.code, p.source.line, p.source.column) for p in problems if p.source] == [
        ("list-cell", 6, 3),
        ("list-cell", 6, 4),
    ]


def test_a_workbook_with_several_sheets_asks_for_one(read_list: ReadList) -> None:
    _, problems = read_list(workbook(ROWS, Other=ROWS))
    assert [p.code for p in problems] == ["list-not-read"]
    assert "Panels, Other" in problems[0].help


def packed(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in members.items():
            package.writestr(name.replace("__", "/"), content)
    return out.getvalue()


def bomb_in_a_workbook() -> bytes:
    good = io.BytesIO(workbook(ROWS))
    out = io.BytesIO()
    entities = "".join(f'<!ENTITY e{n + 1} "{f"&e{n};" * 10}">' for n in range(9))
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(out, "w") as target:
        for member in source.namelist():
            content = source.read(member)
            if member.endswith("sheet1.xml"):
                head = f'<!DOCTYPE x [<!ENTITY e0 "ha">{entities}]>'.encode()
                content = head + content.replace(b"<sheetData>", b"<sheetData>&e9;")
            target.writestr(member, content)
    return out.getvalue()


HOSTILE = {
    "cut off": workbook(ROWS)[:800],
    "an archive": packed(a=b"1"),
    "a bomb": packed(**{"[Content_Types].xml": b"0" * 30_000_000}),
    "many parts": packed(**{f"p{n}": b"" for n in range(600)}),
    "broken inside": packed(**{"[Content_Types].xml": b"<nothing", "xl__workbook.xml": b"<x"}),
    "entities": bomb_in_a_workbook(),
    "only the first bytes": b"PK\x03\x04",
}


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_workbook_is_refused(content: bytes, read_list: ReadList) -> None:
    _, problems = read_list(content)
    assert [p.code for p in problems] == ["list-not-read"]


def test_a_workbook_of_100_000_rows_is_refused(read_list: ReadList) -> None:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Panels")
    for row in itertools.chain(ROWS, itertools.repeat(ROWS[-1], 100_000)):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    _, problems = read_list(out.getvalue())
    assert [p.code in ("list-too-long", "file-too-large", "list-not-read") for p in problems] == [
        True
    ]


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(rows=st.lists(st.lists(TEXTS, max_size=6), max_size=8), mark=st.sampled_from(";,\t|"))
def test_any_table_is_read_or_refused(
    rows: list[list[str]], mark: str, read_list: ReadList
) -> None:
    text = "\n".join(mark.join(row) for row in rows)
    read_list(text)
    read_list(f"name{mark}length{mark}width{mark}qty\n{text}")
