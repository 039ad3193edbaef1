"""The bagging bench's files: codes read back, sizes measured, limits, tables, weighing tried."""

from __future__ import annotations

import csv
import json
import math
import pathlib
import random
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace

import openpyxl
import pypdf
import pytest
import zxingcpp
from PIL import Image

from kdkit.catalogue import load_catalogue
from kdkit.publish.results import Results
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.bagging.bag_code import code_cells, code_text
from kdkit.schedule.bags import Bag
from tests.conservation import conserved
from tests.weighing_bench import share_found

ResultsOf = Callable[[str], Results]
EXAMPLES = ("bookcase", "low-cabinet", "hall-bench", "wardrobe")
MM = 25.4 / 72


def written(results: Results, folder: pathlib.Path, *more: str, sheet: str = "") -> pathlib.Path:
    files, problems = publish_workshop(results, folder, ["bags", *more], label_sheet=sheet)
    assert files is not None, problems
    return folder


def pages(pdf: pathlib.Path, folder: pathlib.Path, dpi: int) -> list[Image.Image]:
    if shutil.which("pdftoppm") is None:
        pytest.skip("needs poppler")
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", str(pdf), str(folder / "p")], check=True)
    return [Image.open(p) for p in sorted(folder.glob("p*.pgm"))]


def boxes(pdf: pathlib.Path) -> list[tuple[float, float]]:
    """Return width and height of everything drawn on the first page, mm."""
    if shutil.which("pdftocairo") is None:
        pytest.skip("needs poppler")
    command = ["pdftocairo", "-svg", "-f", "1", "-l", "1", str(pdf), "-"]
    svg = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    found = []
    for tag in re.findall(r"<path [^>]*>", svg):
        path = re.search(r' d="([^"]*)"', tag)
        assert path is not None
        numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", path[1])]
        if not numbers:
            continue
        matrix = re.search(r'transform="matrix\(([^)]*)\)"', tag)
        scale = 1.0
        if matrix is not None:
            a, b, *_ = (float(n) for n in matrix[1].split(","))
            scale = math.hypot(a, b)
        xs, ys = numbers[::2], numbers[1::2]
        found.append(((max(xs) - min(xs)) * scale * MM, (max(ys) - min(ys)) * scale * MM))
    return found


def _is(measured: float, said: float) -> bool:
    """Poppler rounds the page to whole units, 0.12 % of A4's width."""
    return abs(measured - said) < 0.002 * said


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_label_has_a_code_that_a_general_reader_reads(
    name: str, results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    results = results_of(name)
    folder = written(results, tmp_path / "w")
    read = [
        json.loads(code.text)
        for page in pages(folder / "bag-labels.pdf", tmp_path, 200)
        for code in zxingcpp.read_barcodes(page)
    ]
    said = results.resolved.said
    assert {code["bag"] for code in read} == {bag.name for bag in results.schedules.bags}
    by_name = {bag.name: bag for bag in results.schedules.bags}
    for code in read:
        bag = by_name[code["bag"]]
        assert code["product"] == said.product
        assert code["batch"] == said.batch
        assert code["grams"][0] == pytest.approx(bag.mass_g, abs=0.51)
        assert code["grams"][1] == pytest.approx(bag.limit_g, abs=0.006)


@pytest.mark.parametrize("product", ["Ş б 5° × ½", "long " * 60, '"\\;=', "袋" * 80])
def test_codes_of_any_name_are_read_back(product: str) -> None:
    text = code_text({"bag": "B", "product": product, "revision": "A", "grams": [21.3, 0.6]})
    assert json.loads(text)["bag"] == "B"
    side, runs = code_cells(text)
    assert side <= 53
    image = Image.new("L", (4 * (side + 8), 4 * (side + 8)), 255)
    for y, x, n in runs:
        image.paste(0, (4 * (x + 4), 4 * (y + 4), 4 * (x + n + 4), 4 * (y + 5)))
    (code,) = zxingcpp.read_barcodes(image)
    assert code.text == text


def test_labels_and_pieces_have_their_true_size_in_the_file(
    results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    results = results_of("low-cabinet")
    folder = written(results, tmp_path / "w")
    drawn = boxes(folder / "bag-labels.pdf")

    def there(width: float, height: float) -> bool:
        return any(_is(w, width) and _is(h, height) for w, h in drawn)

    assert there(94, 88)  # a label of the grid
    assert there(33, 8)  # a dowel 8 × 35 between its chamfers
    assert not there(16.5, 4)
    pdf = pypdf.PdfReader(folder / "bag-labels.pdf")
    assert [float(v) * MM for v in pdf.pages[0].mediabox[2:]] == pytest.approx([210, 297], abs=0.1)


def test_another_grid_of_labels_from_a_catalogue(
    results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    (tmp_path / "own.yaml").write_text(
        "label_sheets:\n  tall:\n    title: our own\n    paper: [210, 297]\n    label: [76, 120]\n"
        "    margin: [20, 20]\n    grid: [2, 2]\n"
    )
    catalogue, problems = load_catalogue([tmp_path / "own.yaml"])
    assert catalogue is not None, problems
    results = replace(results_of("low-cabinet"), catalogue=catalogue)
    folder = written(results, tmp_path / "w", sheet="tall")
    drawn = boxes(folder / "bag-labels.pdf")
    assert any(_is(w, 76) and _is(h, 120) for w, h in drawn)
    files, problems = publish_workshop(results, tmp_path / "x", ["bags"], label_sheet="tal")
    assert files is None
    assert [p.code for p in problems] == ["unknown-label-sheet"]
    assert "did you mean tall?" in problems[0].help


def test_table_workbook_and_sheet_say_the_same(
    results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    results = results_of("bookcase")
    folder = written(results, tmp_path / "w", "xlsx")
    with (folder / "bags.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == sum(len(bag.items) for bag in results.schedules.bags)
    assert {row["Batch"] for row in rows} == {results.resolved.said.batch}
    book = openpyxl.load_workbook(folder / "tables.xlsx")
    cells = list(book["Bags"].iter_rows(values_only=True))
    assert len(cells) == len(rows) + 1
    assert list(cells[0]) == list(rows[0])
    text = "\n".join(p.extract_text() for p in pypdf.PdfReader(folder / "picking.pdf").pages)
    for bag in results.schedules.bags:
        assert f"Bag {bag.name}" in text
        own = [row for row in rows if row["Bag"] == bag.name]
        low, high = float(own[0]["Bag at least (g)"]), float(own[0]["Bag at most (g)"])
        assert bag.mass_g - bag.limit_g <= low < bag.mass_g < high <= bag.mass_g + bag.limit_g
        assert own[0]["Bag at least (g)"] in text
    assert "of 100 right ones up to 10 lie outside" in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_bags_with_one_error_are_found_as_often_as_stated(name: str, results_of: ResultsOf) -> None:
    """200 bags for each bag, a piece of one of its items too few or too many; right ones too."""
    results = results_of(name)
    chance = random.Random(11)
    bags: tuple[Bag, ...] = results.schedules.bags
    assert bags
    assert all(bag.weighs for bag in bags)
    for bag in bags:
        scale = results.catalogue.scales[bag.scale]
        found, stated, right = share_found(bag, scale, 200, chance)
        # Four deviations of a share of 200.
        assert found >= stated - 4 * math.sqrt(max(stated * (1 - stated), 0.01) / 200)
        assert stated >= scale.found
        assert right >= 1 - 2 * (1 - scale.found) - 4 * math.sqrt(0.09 / 200)


@pytest.mark.parametrize("name", EXAMPLES)
def test_fitted_counted_and_bagged_agree(name: str, results_of: ResultsOf) -> None:
    results = results_of(name)
    assert conserved(results) == []
