"""Nothing is scaled on its way to the page: sizes measured in the PDF itself.

Another program (poppler) takes lines and letters out of the PDF; what it finds is held
against the style's pens, the catalogue's sizes and the standard's letter heights.
"""

from __future__ import annotations

import math
import pathlib
import re
import shutil
import subprocess

import pytest

from kdkit.illustrate import Sketches, sketch_figures
from kdkit.illustrate.annotation.detail import draw_caption
from kdkit.illustrate.annotation.detail_choice import detail_apart
from kdkit.illustrate.paper.figure import Area, Text
from kdkit.illustrate.paper.style import load_style
from kdkit.illustrate.staging.explode import item_frame
from kdkit.pipeline import Outcome
from tests import product_files

MM = 25.4 / 72  # one point of a PDF

Built = tuple[Outcome, pathlib.Path]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    folder = tmp_path_factory.mktemp("built") / "low-cabinet"
    return product_files.built("low-cabinet", folder), folder


@pytest.fixture(scope="module")
def sketches(built: Built) -> Sketches:
    r = built[0].results
    assert r is not None
    return sketch_figures(r.resolved, r.assembly, r.joinery, r.catalogue, r.plan, r.schedules)


def run(*command: str) -> str:
    if shutil.which(command[0]) is None:
        pytest.skip(f"needs {command[0]} of poppler")
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def strokes(pdf: pathlib.Path, page: int) -> set[tuple[float, float]]:
    """Return width as said and how much larger it comes out, for the lines on a page."""
    svg = run("pdftocairo", "-svg", "-f", str(page), "-l", str(page), str(pdf), "-")
    found = set()
    for tag in re.findall(r"<path [^>]*>", svg):
        width = re.search(r'stroke-width[:=]"?([\d.]+)', tag)
        matrix = re.search(r'transform="matrix\(([^)]*)\)"', tag)
        if width is None or matrix is None:
            continue
        a, b, c, d, *_ = (float(v) for v in re.split(r"[ ,]+", matrix.group(1).strip()))
        found.add((float(width.group(1)), math.sqrt(abs(a * d - b * c)) * MM))
    return found


def test_a_millimetre_of_a_figure_is_a_millimetre_on_paper(built: Built) -> None:
    """Pens come out as wide as the style says, within half a per cent, and so does the rest.

    Other units (warning triangle, persons) have strokes that no pen has.
    """
    style, _ = load_style()
    assert style is not None
    pens = {pen.width for pen in style.pens.values()}
    pdf = built[1] / "manual.pdf"
    pages = re.search(r"Pages:\s+(\d+)", run("pdfinfo", str(pdf)))
    assert pages is not None
    used = set()
    for page in range(1, int(pages.group(1)) + 1):
        for width, scale in strokes(pdf, page):
            if width in pens:
                assert scale == pytest.approx(1.0, rel=0.005), (page, width)
                used.add(width)
    assert {0.5, 0.35, 0.25, 0.18, 0.13} <= used


def test_details_are_drawn_at_the_scale_that_they_note(sketches: Sketches) -> None:
    """The dowel of 35 mm and the bolt measure what the note says, in every detail."""
    measured = 0
    for sketch in sketches.steps.values():
        unplaced = sketch.unplaced
        for detail, window in zip(
            unplaced.details if unplaced else (), unplaced.windows if unplaced else (), strict=True
        ):
            assert unplaced is not None
            plate = sketch.plates[detail.plate]
            texts = [
                s.text
                for s in draw_caption(detail, unplaced.numbers, (0.0, 0.0), window.scale)
                if isinstance(s, Text) and ":" in s.text
            ]
            paper, real = (float(n) for n in texts[0].split(":"))
            noted = paper / real
            reach = 2 * window.radius / window.scale + 60.0
            places = detail_apart(plate, detail.turned).items
            close = [
                m
                for m, one in enumerate(plate.state.items)
                if math.dist(item_frame(one, places[m]).origin, detail.centre) < reach
            ]
            if close != list(detail.states) or not plate.state.items[close[0]].new:
                continue  # other hardware is in the window too
            n = detail.states[0]
            one = plate.state.items[n]
            item = sketches.subject.catalogue.items[one.item.item]
            frame = item_frame(one, places[n])
            right, up, _ = detail.view.axes
            # Its shadow in the detail's view, worked out from the catalogue's sizes alone.
            corners = [
                frame.point_to_outer((r * math.cos(a), r * math.sin(a), z))
                for piece in item.pieces
                for z, r in (
                    (piece.z0, piece.d0 / 2),
                    (piece.z1, (piece.d1 if piece.kind == "cone" else piece.d0 or 0) / 2),  # type: ignore[operator]
                )
                for a in (math.tau * k / 64 for k in range(64))
            ]
            across = [sum(p[m] * right[m] for m in range(3)) for p in corners]
            along = [sum(p[m] * up[m] for m in range(3)) for p in corners]
            drawn = [
                point
                for shape in window.shapes
                if isinstance(shape, Area) and shape.tone.startswith("hardware-")
                for point in shape.outer
            ]
            wide = max(x for x, _ in drawn) - min(x for x, _ in drawn)
            high = max(y for _, y in drawn) - min(y for _, y in drawn)
            assert wide == pytest.approx(noted * (max(across) - min(across)), abs=0.4)
            assert high == pytest.approx(noted * (max(along) - min(along)), abs=0.4)
            measured += 1
    assert measured >= 3


def test_letters_have_the_heights_of_the_standard(built: Built) -> None:
    """Row of ISO 3098-1: 1.8 2.5 3.5 5 7 10; a note "1 : 2" is 2.5 mm high.

    Source: the capitals of common sans-serif faces are 0.70 to 0.74 of the font's size;
    a line's box, which poppler reports, is the font's ascent and descent, 1.1 to 1.2.
    """
    text = run("pdftotext", "-bbox", str(built[1] / "manual.pdf"), "-")
    colons = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">:</word>', text)
    assert len(colons) >= 5
    for low, high in colons:
        size = (float(high) - float(low)) * MM
        assert 2.5 / 0.74 * 1.0 < size < 2.5 / 0.70 * 1.25
