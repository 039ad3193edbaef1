"""The PDF as an independent reader sees it."""

from __future__ import annotations

import os
import pathlib
import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pypdf
import pytest

from kdkit.publish.typesetting.engines import EngineFailed
from kdkit.publish.typesetting.pdf import ENDLESS, make_pdf, measure_heights
from tests import handmade

MM = 72 / 25.4
ROOT = pathlib.Path(__file__).parents[4]


@pytest.fixture(scope="module")
def pdf(published: pathlib.Path) -> pypdf.PdfReader:
    return pypdf.PdfReader(published / "manual.pdf", strict=True)


def structure(node: Any) -> Iterator[Any]:
    """Yield every structure element below a node."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, dict) and "/S" in kid:
            yield kid
            yield from structure(kid)


def test_tagged_titled_and_in_a_language(pdf: pypdf.PdfReader) -> None:
    root = pdf.root_object
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata is not None
    assert pdf.metadata.title == "Window-sill bookcase: Assembly instructions"
    assert pdf.metadata.author == "Quernmoss Workshop"
    assert b"pdfuaid:part" in root["/Metadata"].get_data()


def test_reading_order_has_headings_and_figures_have_words(pdf: pypdf.PdfReader) -> None:
    elements = list(structure(pdf.root_object["/StructTreeRoot"]))
    kinds = [element["/S"] for element in elements]
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") >= 5
    figures = [element for element in elements if element["/S"] == "/Figure"]
    assert len(figures) > 15
    assert all(figure.get("/Alt") for figure in figures)


def test_no_dates_but_the_definitions(pdf: pypdf.PdfReader) -> None:
    assert pdf.metadata is not None
    assert pdf.metadata.creation_date is None
    assert pdf.metadata.modification_date is None
    assert "2026-03-02" in pdf.pages[0].extract_text()


def test_paper_sizes(pdf: pypdf.PdfReader, published_letter: pathlib.Path) -> None:
    for page in pdf.pages:
        assert float(page.mediabox.width) == pytest.approx(210 * MM, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(297 * MM, abs=0.5)
    for page in pypdf.PdfReader(published_letter / "manual.pdf").pages:
        assert float(page.mediabox.width) == pytest.approx(612, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(792, abs=0.5)


def test_every_page_but_the_cover_is_numbered(pdf: pypdf.PdfReader) -> None:
    count = len(pdf.pages)
    for number, page in enumerate(pdf.pages, start=1):
        text = page.extract_text()
        assert (f"Page {number} of {count}" in text) is (number > 1)
        assert ("Window-sill bookcase, revision B" in text) is (number > 1)


def straight_lines(page: pypdf.PageObject) -> list[float]:
    """Return the lengths on paper, mm, of all level lines drawn on a page."""
    lengths = []
    start: list[float] = []

    def visit(operator: bytes, args: list[Any], cm: list[float], tm: list[float]) -> None:
        nonlocal start
        if operator == b"m":
            start = [float(a) for a in args]
        elif operator == b"l" and start:
            x, y = (float(a) for a in args)
            if abs(y - start[1]) < 1e-6:
                lengths.append(abs(x - start[0]) * abs(cm[0]) / MM)
            start = [x, y]

    page.extract_text(visitor_operand_before=visit)
    return lengths


def test_the_ruler_is_100_mm_long(pdf: pypdf.PdfReader) -> None:
    page = next(p for p in pdf.pages if "Lay a ruler here" in p.extract_text())
    assert any(length == pytest.approx(100, abs=0.05) for length in straight_lines(page))


def test_hardware_is_drawn_at_true_size(pdf: pypdf.PdfReader) -> None:
    """The dowel's frame is 35 mm long, with 2 mm of white at each end taken off."""
    page = next(p for p in pdf.pages if "Lay a ruler here" in p.extract_text())
    lengths = straight_lines(page)
    item = handmade.catalogue().items["dowel-8x35"]
    long = max(p.z1 for p in item.pieces) - min(p.z0 for p in item.pieces)
    assert any(length == pytest.approx(long, abs=0.05) for length in lengths)


def test_no_step_is_split(pdf: pypdf.PdfReader) -> None:
    pages = [page.extract_text() for page in pdf.pages]
    for step in handmade.plan().steps:
        heads = [
            n
            for n, text in enumerate(pages)
            if re.search(rf"^Step {step.number}\b(?!,| back)", text, re.M)
        ]
        assert len(heads) == 1
    # Every step ends with its check; as many stand on a page as steps begin there.
    for text in pages:
        begun = len(re.findall(r"^Step \d+\b(?!,| back)", text, re.M))
        assert len(re.findall(r"^Check (?!all)", text, re.M)) == begun


BUILD = """
import pathlib, sys
from kdkit.publish import publish
from tests import handmade
files, problems = publish(handmade.results(), pathlib.Path(sys.argv[1]))
assert files, problems
"""


def test_the_same_input_gives_the_same_bytes_in_every_process(
    published: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    for seed in ("1", "2"):
        subprocess.run(
            [sys.executable, "-c", BUILD, str(tmp_path / seed)],
            check=True,
            cwd=ROOT,
            env={
                **os.environ,
                "PYTHONHASHSEED": seed,
                "TZ": "UTC" if seed == "1" else "Asia/Tokyo",
            },
        )
    for file in sorted(p for p in published.rglob("*") if p.is_file()):
        name = file.relative_to(published)
        for seed in ("1", "2"):
            assert (tmp_path / seed / name).read_bytes() == file.read_bytes(), name


def test_nothing_is_fetched(tmp_path: pathlib.Path) -> None:
    (tmp_path / "secret.txt").write_text("the secret")
    asking = (
        f'<img alt="x" src="file://{tmp_path}/secret.txt">',
        f'<object data="file://{tmp_path}/secret.txt"></object>',
        f'<link rel="attachment" href="file://{tmp_path}/secret.txt">',
        '<img alt="y" src="http://127.0.0.1:9/x.png">',
    )
    for one in asking:
        html = f'<html lang="en"><head><title>t</title></head><body>{one}<p>shown</p></body></html>'
        with pytest.raises(EngineFailed, match="fetches nothing"):
            make_pdf(html, "a4")


@pytest.mark.parametrize("count", [3, 900])
def test_heights_are_measured_over_any_length(count: int) -> None:
    blocks = '<div style="height: 50mm"></div>' * count
    html = (
        '<html lang="en"><head><title>t</title></head><body style="margin: 0">'
        f'<div id="a"></div>{blocks}<div id="b">end</div></body></html>'
    )
    a, b = measure_heights(html, "a4", ["a", "b"])
    assert (count * 50 > ENDLESS) is (count == 900)
    assert b - a == pytest.approx(count * 50, abs=50)


def test_a_picture_that_is_measured_takes_its_room() -> None:
    """What is drawn in it changes nothing, so that it is left out when heights are sought."""
    frame = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="73mm">{}</svg>'
    page = "<html><body><p id='a'>{}</p><p id='b'>end</p></body></html>"
    empty = measure_heights(page.format(frame.format("")), "a4", ["a", "b"])
    drawn = frame.format('<title>part</title><path d="M0 0 L900 900"/><text y="5">A</text>')
    full = measure_heights(page.format(drawn), "a4", ["a", "b"])
    assert full == empty
    assert full[1] - full[0] > 73
