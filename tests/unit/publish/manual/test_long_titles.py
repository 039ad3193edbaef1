"""Titles as long as may be, without a space: nothing runs over the edge of a page or a cell."""

from __future__ import annotations

import itertools
import pathlib
import re
import subprocess
from dataclasses import replace

import pytest

from kdkit.publish import publish
from kdkit.schedule import make_schedules
from tests import handmade

MM = 72 / 25.4
EDGE = 6.0  # mm; printers leave about 5 white


def long(n: int) -> str:
    return f"{n:03d}{'Panelofawardrobethatnobodyeverbuilt' * 4}"[:120]


@pytest.fixture(scope="module", params=["A4", "letter"])
def manual(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return every word of a manual with its box, as an independent reader finds them."""
    folder = tmp_path_factory.mktemp("long") / "out"
    maker = {"name": long(2), "address": long(3), "contact": long(4)}
    said = handmade.product(product=long(0), revision=long(1), maker=maker)
    results = handmade.results(said)
    parts = tuple(
        replace(part, title=long(n)) for n, part in enumerate(results.resolved.parts, start=10)
    )
    resolved = replace(results.resolved, parts=parts)
    drawn = {key: replace(figure, primitives=()) for key, figure in results.figures.items()}
    assembly = replace(results.assembly, parts=parts)
    schedules = make_schedules(resolved, assembly, results.joinery, results.catalogue, results.plan)
    results = replace(
        results, resolved=resolved, assembly=assembly, figures=drawn, schedules=schedules
    )
    assert publish(results, folder, paper=str(request.param))[0] is not None
    return boxes(folder / "manual.pdf")


def boxes(pdf: pathlib.Path) -> str:
    call = ["pdftotext", "-bbox-layout", str(pdf), "-"]
    return subprocess.run(call, check=True, capture_output=True, encoding="utf-8").stdout


def numbers(tag: str) -> tuple[float, ...]:
    return tuple(float(n) for n in re.findall(r'="([-\d.]+)"', tag))


def test_every_word_lies_inside_its_page(manual: str) -> None:
    pages = manual.split("<page ")[1:]
    assert len(pages) > 3
    for page in pages:
        width, height = numbers(page[: page.index(">")])
        words = re.findall(r"<word (.*)</word>", page)
        assert words
        for word in words:
            x0, y0, x1, y1 = numbers(word)
            assert min(x0, y0) >= EDGE * MM, word
            assert (x1 <= width - EDGE * MM, y1 <= height - EDGE * MM) == (True, True), word


def test_no_line_lies_on_another(manual: str) -> None:
    for page in manual.split("<page ")[1:]:
        lines = [numbers(line) for line in re.findall(r"<line ([^>]*)>", page)]
        for a, b in itertools.combinations(lines, 2):
            beside = min(a[2], b[2]) - max(a[0], b[0])
            over = min(a[3], b[3]) - max(a[1], b[1])
            least = min(a[3] - a[1], b[3] - b[1])
            assert beside <= 0.5 or over <= least / 2, (a, b)
