"""Files for the workshop with texts that try to get out of their place, read back."""

from __future__ import annotations

import csv
import json
import pathlib
import re
import struct
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import ezdxf
import openpyxl
import pytest
from hypothesis import given

from kdkit.publish.files.columns import Number
from kdkit.publish.files.tables import render_rows
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages, load_messages
from kdkit.publish.wording.plain_text import one_line
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.exchange.dxf import render_dxf
from kdkit.publish.workshop.exchange.gltf import render_glb
from kdkit.publish.workshop.exchange.spreadsheet import write_spreadsheet
from kdkit.publish.workshop.exchange.step import write_step
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.views import list_views
from tests import handmade
from tests.hostile_texts import ANY_TEXT, HOSTILE, hostile_messages, with_text

ResultsOf = Callable[[str], Results]


def job_of(results: Results, messages: Messages | None = None) -> WorkshopJob:
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    words = messages or load_messages("en")
    return WorkshopJob(results=results, panels=panels, messages=words, paper="a4",
                       machine=results.catalogue.machines["router"])  # fmt: skip


def entities(text: str, path: pathlib.Path) -> Counter[tuple[object, ...]]:
    """Return what a drawing holds: every form with its place, every text with its place."""
    path.write_text(text, encoding="utf-8", newline="")
    drawing = ezdxf.readfile(path)
    assert drawing.audit().errors == []
    found: Counter[tuple[object, ...]] = Counter()
    for entity in drawing.modelspace():
        what: object = ""
        if entity.dxftype() == "CIRCLE":
            what = (entity.dxf.center.round(6), entity.dxf.radius)
        elif entity.dxftype() == "LWPOLYLINE":
            what = tuple(entity.get_points("xy"))
        elif entity.dxftype() == "LINE":
            what = (entity.dxf.start.round(6), entity.dxf.end.round(6))
        elif entity.dxftype() == "TEXT":
            what = entity.dxf.insert.round(6)
            assert len(entity.dxf.text) <= 255
            assert not any(code in entity.dxf.text for code in ("%%", "^", "\\"))
        found[entity.dxftype(), what] += 1
    assert all(len(layer.dxf.name) <= 255 for layer in drawing.layers)
    return found


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("everywhere", [False, True], ids=["titles", "language"])
def test_a_drawing_holds_the_same_forms(
    name: str, everywhere: bool, tmp_path: pathlib.Path
) -> None:
    plain = job_of(handmade.results())
    words = hostile_messages(load_messages("en"), HOSTILE[name]) if everywhere else None
    job = job_of(with_text(handmade.results(), HOSTILE[name]), words)
    for one, two in zip(plain.panels, job.panels, strict=True):
        wanted = entities(render_dxf(one, plain)[0], tmp_path / "one.dxf")
        assert entities(render_dxf(two, job)[0], tmp_path / "two.dxf") == wanted


@pytest.mark.parametrize("name", HOSTILE)
def test_a_scene_is_valid_and_the_same(name: str) -> None:
    plain = content_of(render_glb(job_of(handmade.results())))
    found = content_of(render_glb(job_of(with_text(handmade.results(), HOSTILE[name]))))
    for key in ("meshes", "accessors", "bufferViews", "buffers", "asset"):
        assert found[key] == plain[key]
    shown = one_line(HOSTILE[name])
    assert found["nodes"][-1]["name"] == found["scenes"][0]["name"] == shown
    assert {node["extras"]["title"] for node in found["nodes"][:-1]} == {shown}


def content_of(data: bytes) -> dict[str, Any]:
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    content = json.loads(data[20 : 20 + size].decode("utf-8", "strict"))
    assert isinstance(content, dict)
    return content


@pytest.mark.parametrize("name", ["lines", "quotes", "codes", "nothing"])
def test_solids_are_the_same(name: str, tmp_path: pathlib.Path) -> None:
    cad = pytest.importorskip("build123d")
    results = with_text(handmade.results(), HOSTILE[name])
    write_step(job_of(results), tmp_path)
    text = (tmp_path / "step" / "product.step").read_text("ascii")
    lines = text.splitlines()
    assert [line for line in lines if line.startswith(("ENDSEC", "DATA", "HEADER", "END-"))] == [
        "HEADER;", "ENDSEC;", "DATA;", "ENDSEC;", "END-ISO-10303-21;"
    ]  # fmt: skip
    numbers = [int(n) for n in re.findall(r"^#(\d+) *=", text, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    read = cad.import_step(tmp_path / "step" / "product.step")
    assert len(read.solids()) == len(results.assembly.parts)
    assert {child.label for child in read.children} == {p.name for p in results.assembly.parts}


def test_names_of_other_scripts_come_through_a_step_file(tmp_path: pathlib.Path) -> None:
    """The library that reads puts lines for blanks."""
    cad = pytest.importorskip("build123d")
    write_step(job_of(with_text(handmade.results(), "Étagère d'été, 戸棚 🚪 'x'")), tmp_path)
    read = cad.import_step(tmp_path / "step" / "product.step")
    assert read.label.replace("_", " ") == "Étagère d'été, 戸棚 🚪 'x'"


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("everywhere", [False, True], ids=["titles", "language"])
def test_a_workbook_reads_back(name: str, everywhere: bool, tmp_path: pathlib.Path) -> None:
    words = hostile_messages(load_messages("en"), HOSTILE[name]) if everywhere else None
    write_spreadsheet(job_of(with_text(handmade.results(), HOSTILE[name]), words), tmp_path)
    book = openpyxl.load_workbook(tmp_path / "tables.xlsx")
    assert len(book.worksheets) == 4
    assert all(0 < len(title) <= 31 for title in book.sheetnames)
    types = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert types <= {"s", "n"}
    if not everywhere:
        assert book.properties.title == one_line(HOSTILE[name], 255)
        assert book.worksheets[0]["B2"].value == one_line(HOSTILE[name])


def test_a_text_longer_than_a_cell_is_cut(tmp_path: pathlib.Path) -> None:
    results = handmade.results()
    cut = replace(results.schedules.cut[0], title="🚪" * 40_000)
    schedules = replace(results.schedules, cut=(cut, *results.schedules.cut[1:]))
    write_spreadsheet(job_of(replace(results, schedules=schedules)), tmp_path)
    value = openpyxl.load_workbook(tmp_path / "tables.xlsx").worksheets[0]["B2"].value
    assert value == "🚪" * 16_383 + "…"


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\uff1d1", "'\uff1d1"),
        ("\uff0b1", "'\uff0b1"),
        ("\uff0d1", "'\uff0d1"),
        ("\uff201", "'\uff201"),
        ("\ufe66x", "'\ufe66x"),
        ("\t=1", "'=1"),
        ("\r\n=1", "'=1"),
        (" \u00a0\u200b\ufeff=1", "'\u200b\ufeff=1"),
        ("\u0301=1", "'\u0301=1"),
        ("a\t=1", "a =1"),
        ("a;=1", "a;'=1"),
        ('a"; =1', "a\";' =1"),
        ("a;b;-c", "a;b;'-c"),
        ("a, -b", "a, -b"),
        ("a = b", "a = b"),
        ("", ""),
        (Number("-5"), "-5"),
        (-5, "-5"),
        (-0.5, "-0.5"),
        (None, ""),
    ],
)
def test_what_a_spreadsheet_would_run_is_a_text(text: object, cell: str) -> None:
    (row,) = csv.reader(render_rows([[text, "x"]]).removeprefix("\ufeff").splitlines())
    assert row == [cell, "x"]


@given(text=ANY_TEXT)
def test_no_cell_begins_a_formula_whatever_parts_the_cells(text: str) -> None:
    table = render_rows([["A", text, 5], ["B", text, Number("-5")]])
    table.encode("utf-8")
    assert [len(row) for row in csv.reader(table.splitlines())] == [3, 3]
    for parted in (",", ";", "\t"):
        for line in csv.reader(table.removeprefix("\ufeff").splitlines(), delimiter=parted):
            for cell in line:
                bare = cell.strip().lstrip("\u200b\ufeff").strip('"')
                assert parted == "," or not bare.startswith(("=", "+", "-", "@")) or bare == "-5"
                assert not cell.startswith(("=", "+", "@", "\t", "\r"))


@pytest.mark.parametrize("name", HOSTILE)
def test_drawings_order_and_labels_are_written(name: str, tmp_path: pathlib.Path) -> None:
    results = with_text(handmade.results(), HOSTILE[name])
    files, problems = publish_workshop(results, tmp_path / "w", ["drawings", "order", "programs"])
    assert files is not None, problems
    index = json.loads((tmp_path / "w" / "workshop.json").read_text(encoding="utf-8"))
    assert set(index["files"]) == {"drawings", "order", "programs"}
