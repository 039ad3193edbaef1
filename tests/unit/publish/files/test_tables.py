"""The CSV files read back with an independent reader."""

from __future__ import annotations

import csv
import pathlib

import pytest

from kdkit.publish.files.tables import render_cut_list, render_rows, surface_words
from kdkit.publish.wording.messages import load_messages
from tests import handmade


def read(path: pathlib.Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert all(None not in row and None not in row.values() for row in rows)
    return rows


def test_bytes_are_utf8_with_mark_and_crlf(published: pathlib.Path) -> None:
    for name in ("cutlist.csv", "drilling.csv", "hardware.csv"):
        data = (published / name).read_bytes()
        assert data.startswith(b"\xef\xbb\xbf")
        assert data.endswith(b"\r\n")
        assert data.count(b"\n") == data.count(b"\r\n")


def test_cut_list_reads_back(published: pathlib.Path) -> None:
    rows = read(published / "cutlist.csv")
    assert [row["Letter"] for row in rows] == ["A", "B", "C", "D"]
    left = rows[0]
    assert float(left["Finished length (mm)"]) == 900
    assert float(left["Finished width (mm)"]) == 300
    assert float(left["Cut width (mm)"]) == 299
    assert float(left["Band front (mm)"]) == 1
    assert left["Mirror image of"] == "B"
    assert float(left["Mass each (kg)"]) == pytest.approx(0.9 * 0.3 * 0.018 * 650, abs=0.001)
    assert float(left["Area each (m²)"]) == pytest.approx(0.27)
    assert rows[2]["Parts"] == "bottom; top"
    assert rows[2]["Quantity"] == "2"


def test_drilling_reads_back(published: pathlib.Path) -> None:
    rows = read(published / "drilling.csv")
    sides = [
        [
            (row["Surface"], row["x (mm)"], row["y (mm)"], row["Diameter (mm)"], row["Depth (mm)"])
            for row in rows
            if row["Letter"] == letter
        ]
        for letter in "AB"
    ]
    assert sides[0] == sides[1]
    assert ("face", "300", "37", "5", "12") in sides[0]
    assert {row["Datum corner"] for row in rows if row["Letter"] == "A"} == {"front bottom corner"}
    assert {row["x runs"] for row in rows if row["Letter"] == "A"} == {"up"}
    assert len(rows) == len(handmade.joinery().bores) - 6  # the second equal shelf is C too


def test_hardware_counts_agree_in_the_file(published: pathlib.Path) -> None:
    for row in read(published / "hardware.csv"):
        steps = sum(int(v) for k, v in row.items() if k.startswith("Step "))
        joints = sum(int(p.rpartition(": ")[2]) for p in row["Joint or fixture: count"].split("; "))
        assert steps + int(row["Fitted in the workshop"]) == joints == int(row["Quantity"])


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+SUM(A1)", "-2", "@x", "\t=1", "\r\n=cmd", " =1"],
)
def test_texts_never_start_a_formula(text: str) -> None:
    cells = next(csv.reader([render_rows([[text]]).removeprefix("\ufeff")], strict=True))
    assert cells[0].startswith("'")
    assert cells[0][1:].strip() == text.strip() or "\r" in text


@pytest.mark.parametrize("text", ['Side;"=1+1"', 'Side; "" @x', "Side;＝1", 'A;B;"-2"'])
def test_no_text_starts_a_formula_where_semicolons_part_cells(text: str) -> None:
    line = render_rows([[text]]).removeprefix("\ufeff")
    for cells in (next(csv.reader([line], delimiter=";")), line.split(";")):
        for cell in cells:
            assert cell.strip(' "\r\n')[:1] not in set("=+-@＝"), cells


def test_numbers_keep_their_minus() -> None:
    assert render_rows([[-2, -0.5]]) == "\ufeff-2,-0.5\r\n"


def test_hostile_titles_stay_in_their_cell() -> None:
    title = '=HYPERLINK("http://x","y"),"A",9'
    said = handmade.product(boards={"carcass": {"material": "m", "thickness": 18, "title": title}})
    text = render_cut_list(handmade.results(said), load_messages("en"))
    rows = list(csv.DictReader(text.removeprefix("\ufeff").splitlines(keepends=True), strict=True))
    assert len(rows) == 4
    assert rows[0]["Board"] == "'" + title


def test_surfaces_in_words() -> None:
    messages = load_messages("en")
    assert surface_words(messages, "face") == "face"
    assert surface_words(messages, "edge:front") == "front edge"
    assert surface_words(messages, "edge:3") == "edge 3 from the datum"
