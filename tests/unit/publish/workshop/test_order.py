"""The order as files: table, layouts, labels."""

from __future__ import annotations

import csv
import itertools
import pathlib
import re
from collections import Counter
from collections.abc import Callable

import openpyxl
import pypdf
import pytest

from kdkit.pipeline import Request, check
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.labels import LABELS, draw_labels
from kdkit.publish.workshop.order import draw_order
from kdkit.schedule.sheets import Saw, order_boards
from kdkit.schedule.views import list_views

ResultsOf = Callable[[str], Results]
MITRED = """\
kdkit: 1
product: Box for the wall
boards: {oak: {material: mdf, thickness: 16}}
panels:
  left: {board: oak, x: {from: 0}, y: [0, 250], z: [0, 420], face: +x, bands: {front: 0.4},
    bevels: {top: {angle: 45, long: back}, bottom: {angle: 45, long: back}}}
  right: {mirror: left, x: {to: 640}}
  top: {board: oak, x: [0, 640], y: [0, 250], z: {to: 420}, face: -z, bands: {front: 0.4},
    bevels: {left: {angle: 45, long: back}, right: {angle: 45, long: back}}}
  bottom: {board: oak, x: [0, 640], y: [0, 250], z: {from: 0}, face: +z, bands: {front: 0.4},
    bevels: {left: {angle: 45, long: back}, right: {angle: 45, long: back}}}
joints:
  - {join: [bottom, top], to: [left, right], fittings: [mitre-glued]}
safety: {wall_restraint: none}
"""
EXAMPLES = ("bookcase", "low-cabinet", "hall-bench", "wardrobe")


def job_of(results: Results, paper: str = "a4") -> WorkshopJob:
    return WorkshopJob(
        machine=results.catalogue.machines["router"],
        results=results,
        panels=list_views(results.resolved, results.joinery, results.plan, results.schedules),
        messages=load_messages("en"),
        paper=paper,
    )


@pytest.mark.parametrize("name", EXAMPLES)
def test_files(name: str, results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    results = results_of(name)
    for folder in ("one", "two"):
        files, problems = publish_workshop(results, tmp_path / folder, ["order"])
        assert files is not None
        assert problems == ()
    for file in ("order.csv", "order.pdf", "labels.pdf"):
        one, two = ((tmp_path / f / file).read_bytes() for f in ("one", "two"))
        assert one == two, file
    text = (tmp_path / "one" / "order.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(text.splitlines()))
    orders = order_boards(job_of(results).panels, results.catalogue)
    assert [int(row["Panels"]) for row in rows] == [order.count for order in orders]
    for row, order in zip(rows, orders, strict=True):
        assert float(row["Area (m²)"]) == pytest.approx(order.area / 1e6, abs=6e-4)
        bought = sum(int(s.split(" × ")[0]) for s in row["Sheets"].split("; ") if s)
        assert bought == len(order.sheets)
    pages = len(pypdf.PdfReader(tmp_path / "one" / "order.pdf").pages)
    assert pages == len(draw_order(job_of(results), orders))
    text = (tmp_path / "one" / "cuts.csv").read_text(encoding="utf-8-sig")
    cuts = list(csv.DictReader(text.splitlines()))
    assert sum(int(row["Sheets so"]) for row in cuts if row["Cut"]) == sum(
        len(plan.cuts) for order in orders for plan in order.sheets
    )
    assert {row["Saw"] for row in cuts if row["Cut"]} == {"rip", "crosscut"}
    assert (tmp_path / "one" / "timber.csv").exists() == any(order.timber for order in orders)


def test_pre_milling_is_the_workshops_alone(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    # Source: 0.5 more for each banded edge where the bander pre-mills: common practice.
    results = results_of("low-cabinet")
    usual = results.schedules.cut
    sheets: dict[float, list[tuple[object, ...]]] = {}
    for pre_mill in (0.0, 0.5):
        folder = tmp_path / str(pre_mill)
        saw = Saw(pre_mill=pre_mill)
        assert publish_workshop(results, folder, ["order", "xlsx"], saw=saw)[0] is not None
        book = openpyxl.load_workbook(folder / "tables.xlsx")
        sheets[pre_mill] = list(book.worksheets[0].iter_rows(values_only=True))
        words = " ".join(
            page.extract_text() for page in pypdf.PdfReader(folder / "order.pdf").pages
        )
        assert ("for the bander to mill off" in words) == (pre_mill > 0)
        heads, *rows = sheets[pre_mill]
        places = [heads.index(head) for head in ("Cut length (mm)", "Cut width (mm)")]
        banded = [line for line in usual if not line.shaped and set(line.bands) == {"front"}]
        assert banded
        for line in banded:
            row = next(row for row in rows if row[0] == line.letter)
            now = sum(float(str(row[place])) for place in places)
            assert now - sum(line.cut) == pytest.approx(pre_mill), line.letter
    assert sheets[0.0] != sheets[0.5]
    assert results.schedules.cut is usual


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_no_text_touches_another(name: str, paper: str, results_of: ResultsOf) -> None:
    job = job_of(results_of(name), paper)
    sheets = draw_order(job, order_boards(job.panels, job.results.catalogue))
    for sheet in (*sheets, *draw_labels(job)):
        for (one, a), (two, b) in itertools.combinations(sheet.texts, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (sheet.title, one, two)
        for text, box in sheet.texts:
            assert box[0] >= 10, text
            assert box[2] <= sheet.width - 10, text
            assert box[3] <= sheet.height - 10, text


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_panel_is_named_on_its_sheet(name: str, results_of: ResultsOf) -> None:
    job = job_of(results_of(name))
    orders = order_boards(job.panels, job.results.catalogue)
    plans = [plan for order in orders for plan in dict.fromkeys(order.sheets)]
    sheets = draw_order(job, orders)[1 : 1 + len(plans)]
    for sheet, plan in zip(sheets, plans, strict=True):
        said = Counter(t.split("  ")[0] for t, _ in sheet.texts)
        for letter, count in Counter(piece.letter for piece in plan.laid).items():
            assert said[letter] >= count, letter


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_part_has_a_label(name: str, results_of: ResultsOf) -> None:
    job = job_of(results_of(name))
    texts = [t for sheet in draw_labels(job) for t, _ in sheet.texts]
    for line in job.results.schedules.cut:
        assert texts.count(line.letter) == line.quantity
        for n, part in enumerate(line.parts, start=1):
            assert f"{part}, {n} of {line.quantity}" in texts


def test_what_fits_no_sheet_is_told(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    from dataclasses import replace

    results = results_of("bookcase")
    board = results.catalogue.boards[results.schedules.cut[0].material]
    small = board.model_copy(update={"sheets": ((900.0, 600.0),)})
    boards = {**results.catalogue.boards, results.schedules.cut[0].material: small}
    catalogue = results.catalogue.model_copy(update={"boards": boards})
    _, problems = publish_workshop(replace(results, catalogue=catalogue), tmp_path / "w", ["order"])
    assert {p.code for p in problems} == {"no-sheet-fits"}
    assert all(p.path and p.help for p in problems)


def test_numbers_of_cuts_stand_beside_the_lines(results_of: ResultsOf) -> None:
    job = job_of(results_of("low-cabinet"))
    orders = order_boards(job.panels, job.results.catalogue, job.saw)
    checked = 0
    for sheet in draw_order(job, orders):
        numbers = [box for text, box in sheet.texts if text.isdigit()]
        for line in re.findall(r'<line x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"',
                               sheet.render()):  # fmt: skip
            x0, y0, x1, y1 = (float(v) for v in line)
            left, right = sorted((x0, x1))
            top, foot = sorted((y0, y1))
            for box in numbers:
                apart = box[2] <= left or right <= box[0] or box[3] <= top or foot <= box[1]
                assert apart, (line, box)
                checked += 1
    assert checked > 20


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
def test_labels_of_banded_and_bevelled_parts_stay_inside_their_lines(
    paper: str, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "box.yaml"
    file.write_text(MITRED, encoding="utf-8")
    results = check(Request(file=file), risks=False).results
    assert results is not None
    job = job_of(results, paper)
    assert any(line.bevels and line.bands for line in job.results.schedules.cut)
    for sheet in draw_labels(job):
        high = (sheet.height - 20) / LABELS[1]
        for text, (_, top, _, bottom) in sheet.texts:
            row = (top - 10) // high
            assert 10 + row * high + 0.5 < top, text
            assert bottom < 10 + (row + 1) * high - 0.5, text
