"""Panel drawings: nothing over anything, true to scale, every bore told."""

from __future__ import annotations

import html
import itertools
import math
import pathlib
import re
import subprocess
from collections.abc import Callable

import pypdf
import pytest

from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.drawings.drawing_set import draw_panels
from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet, fitted_text, text_width
from kdkit.publish.workshop.drawings.hole_table import hole_label, hole_note, number_bores
from kdkit.publish.workshop.drawings.ordinates import chosen_values, marked_corners, spread
from kdkit.publish.workshop.drawings.panel_drawings import SCALES
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.hole_kinds import hole_kind, name_kinds
from kdkit.schedule.views import list_views

ResultsOf = Callable[[str], Results]
EXAMPLES = ("bookcase", "low-cabinet", "hall-bench", "wardrobe")
ISO_WIDTHS = {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0}


def job_of(results: Results, paper: str = "a4") -> WorkshopJob:
    return WorkshopJob(
        machine=results.catalogue.machines["router"],
        results=results,
        panels=list_views(results.resolved, results.joinery, results.plan, results.schedules),
        messages=load_messages("en"),
        paper=paper,
    )


@pytest.fixture(params=[(e, p) for e in EXAMPLES for p in ("a4", "a3", "letter")], ids=str)
def sheets(request: pytest.FixtureRequest, results_of: ResultsOf) -> tuple[DrawingSheet, ...]:
    name, paper = request.param
    return draw_panels(job_of(results_of(name), paper))


def test_no_text_touches_another_or_leaves_the_frame(sheets: tuple[DrawingSheet, ...]) -> None:
    assert len(sheets) > 5
    for sheet in sheets:
        for (one, a), (two, b) in itertools.combinations(sheet.texts, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (sheet.title, one, two)
        for text, box in sheet.texts:
            assert box[0] >= 20, (sheet.title, text)
            assert box[1] >= 10, (sheet.title, text)
            assert box[2] <= sheet.width - 10, (sheet.title, text)
            assert box[3] <= sheet.height - 10, (sheet.title, text)


def test_lines_and_letters_keep_to_the_standards(sheets: tuple[DrawingSheet, ...]) -> None:
    for sheet in sheets:
        svg = sheet.render()
        assert {float(w) for w in re.findall(r'stroke-width="([\d.]+)"', svg)} <= ISO_WIDTHS
        letters = {round(float(s) * 0.72, 2) for s in re.findall(r'font-size="([\d.]+)"', svg)}
        assert letters <= {1.8, 2.5, 3.5}
        assert len(letters) == 2
    scales = {t for sheet in sheets for t, _ in sheet.texts if re.fullmatch(r"1 : \d+", t)}
    assert scales
    assert scales <= {f"1 : {n}" for n in SCALES}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_bore_has_its_number_and_its_row(name: str, results_of: ResultsOf) -> None:
    job = job_of(results_of(name))
    sheets = draw_panels(job)
    for panel in job.panels:
        mine = [s for s in sheets if s.title.startswith(f"{panel.letter}, ")]
        numbers = number_bores(panel)
        assert sorted(numbers.values()) == list(range(1, len(numbers) + 1))
        kinds = name_kinds(job.panels)
        told = [t for s in mine for t, _ in s.texts]
        drawn = listed = told
        for bore, number in numbers.items():
            label = hole_label(number, bore, kinds)
            assert told.count(label) == 2, (panel.letter, bore)  # at the hole, in the table
            beside = [s for s in mine if any(t == label for t, _ in s.texts)]
            assert len(beside) <= 2
            note = hole_note(bore, job.messages.plain, job.machine)
            assert note in listed
            kind = [b for b in panel.view(bore.surface).bores
                    if hole_note(b, job.messages.plain, job.machine) == note]  # fmt: skip
            assert f"{kinds[hole_kind(bore)]}: {len(kind)} × {note}" in drawn


def test_a_surface_is_drawn_to_its_scale(results_of: ResultsOf) -> None:
    """Circles read out of the SVG lie where the drilling table says, from the origin mark."""
    job = job_of(results_of("bookcase"), "a3")
    panel = job.panels[0]
    view = panel.view("face")
    sheet = draw_panels(job)[0]
    (scale,) = (t for t, _ in sheet.texts if t.startswith("1 : "))
    n = int(scale.removeprefix("1 : "))
    circles = [
        (float(x), float(y), float(r))
        for x, y, r in re.findall(
            r'<circle cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', sheet.render()
        )
    ]
    origin = circles[len(view.bores)]  # drawn after the bores
    assert origin[2] == 1.5
    for bore, (x, y, r) in zip(view.bores, circles, strict=False):
        assert (x - origin[0]) * n == pytest.approx(bore.x, abs=0.02)
        down = 1 if view.y_down else -1
        assert (y - origin[1]) * n * down == pytest.approx(bore.y, abs=0.02)
        assert 2 * r * n == pytest.approx(bore.diameter, abs=0.02)
    for value in {bore.x for bore in view.bores}:
        assert any(t == f"{value:g}" for t, _ in sheet.texts)


def test_a_mirrored_pair_has_two_drawings(results_of: ResultsOf) -> None:
    job = job_of(results_of("bookcase"))
    line = next(line for line in job.results.schedules.cut if line.pair)
    one, two = (
        job.panels[[p.letter for p in job.panels].index(x)] for x in (line.letter, line.pair)
    )
    for bore, twin in zip(one.view("face").bores, two.view("face").bores, strict=True):
        assert (bore.x, bore.y) == pytest.approx((twin.x, twin.y))
    assert one.view("face").y_down is not two.view("face").y_down
    titles = [s.title for s in draw_panels(job)]
    for panel in (one, two):
        assert f"{panel.letter}, {panel.cut.title}: face" in titles


def words(pdf: pathlib.Path) -> list[list[tuple[str, tuple[float, float, float, float]]]]:
    """Return every word of every page with its box, as another program reads the file."""
    out = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout
    pages = []
    for page in out.split("<page ")[1:]:
        found = re.findall(
            r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">'
            r"(.*?)</word>",
            page,
        )
        pages.append(
            [
                (html.unescape(w), (float(a), float(b), float(c), float(d)))
                for a, b, c, d, w in found
            ]
        )
    return pages


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_words_overlap_in_the_printed_file(
    name: str, results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    publish_workshop(results_of(name), tmp_path / "w", ["drawings"])
    for page in words(tmp_path / "w" / "drawings.pdf"):
        assert len(page) > 10
        letters = [(word, capitals(word, box)) for word, box in page]
        for (one, a), (two, b) in itertools.combinations(letters, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (one, two, a, b)


def capitals(
    word: str, box: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """Return where the capitals stand in a reader's box from ascender to descender.

    The ascender is 0.905 and the descender 0.212 of the letter size, capitals 0.72: some
    18 % of the box at either side are white, across the line. Of a word as wide as high it
    cannot be told which way its line runs.
    """
    x0, y0, x1, y1 = box
    wide, high = x1 - x0, y1 - y0
    dx = 0.18 * wide if len(word) == 1 or wide < 1.25 * high else 0.0
    dy = 0.18 * high if len(word) == 1 or high < 1.25 * wide else 0.0
    return (x0 + dx, y0 + dy, x1 - dx, y1 - dy)


@pytest.mark.parametrize(("paper", "size"), [("a3", (420, 297)), ("letter", (279.4, 215.9))])
def test_paper(
    paper: str, size: tuple[float, float], results_of: ResultsOf, tmp_path: pathlib.Path
) -> None:
    publish_workshop(results_of("bookcase"), tmp_path / "w", ["drawings"], paper)
    reader = pypdf.PdfReader(tmp_path / "w" / "drawings.pdf", strict=True)
    sheets = draw_panels(job_of(results_of("bookcase"), paper))
    assert len(reader.pages) == len(sheets)
    for page in reader.pages:
        assert float(page.mediabox.width) * 25.4 / 72 == pytest.approx(size[0], abs=0.1)
        assert float(page.mediabox.height) * 25.4 / 72 == pytest.approx(size[1], abs=0.1)
    assert reader.metadata is not None
    assert "panel drawings" in str(reader.metadata.title)


def test_the_same_bytes_twice(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    for name in ("one", "two"):
        publish_workshop(results_of("bookcase"), tmp_path / name, ["drawings"])
    one, two = ((tmp_path / n / "drawings.pdf").read_bytes() for n in ("one", "two"))
    assert one == two


def test_places_are_spread_no_further_than_needed() -> None:
    assert spread([10, 50], 3, 0, 100) == (10, 50)
    assert spread([10, 10], 3, 0, 100) == pytest.approx((8.5, 11.5))
    assert spread([0, 0, 0], 3, 0, 100) == pytest.approx((0, 3, 6))
    assert spread([99, 100], 3, 0, 100) == pytest.approx((97, 100))
    assert spread([], 3, 0, 100) == ()


def test_rows_lose_their_inner_numbers_first() -> None:
    row = [100 + 32 * n for n in range(20)]
    assert chosen_values([*row, 7, 7.01], 30) == ((7, *row), True)
    assert chosen_values([*row, 7], 10) == ((7, row[0], row[-1]), False)
    squares = [n * n for n in range(40)]
    kept, whole = chosen_values(squares, 12)
    assert len(kept) <= 12
    assert (kept[0], kept[-1], whole) == (0, 39 * 39, False)


def test_long_texts_are_cut() -> None:
    assert fitted_text("Board", 2.5, 40) == "Board"
    cut = fitted_text("A board with a very long title indeed", 2.5, 40)
    assert cut.endswith("…")
    assert text_width(cut, 2.5) <= 40


def test_a_leader_goes_round_what_is_to_be_kept_clear() -> None:
    """The nearest free place would lead across the mark beside it."""
    sheet = DrawingSheet(100, 100, "test")
    sheet.keep_clear((49, 49, 51, 51))  # the mark itself
    sheet.keep_clear((52, 40, 53, 60))  # a wall on its right
    sheet.keep_clear((40, 52, 52, 53))
    box = sheet.place_text(
        (50, 50), "5", 1.8, ((53.2, 30, 99, 70), (0, 0, 99, 48)), start=1, reach=30, leader=0.0
    )
    assert box is not None
    assert box[3] <= 48
    (line,) = re.findall(r"<line [^>]*>", sheet.render())
    x0, y0, x1, y1 = (
        float(re.search(rf'{name}="([\d.]+)"', line).group(1))  # type: ignore[union-attr]
        for name in ("x1", "y1", "x2", "y2")
    )
    for n in range(101):
        x, y = x0 + (x1 - x0) * n / 100, y0 + (y1 - y0) * n / 100
        assert not (52 < x < 53 and 40 < y < 60)


def test_a_leader_crosses_rather_than_that_a_note_is_left_out() -> None:
    sheet = DrawingSheet(100, 100, "test")
    sheet.keep_clear((52, 0, 53, 100))
    box = sheet.place_text((50, 50), "5", 1.8, ((54, 0, 99, 99),), start=1, reach=30, leader=0.0)
    assert box is not None


def test_title_blocks_leave_no_board_name_out(sheets: tuple[DrawingSheet, ...]) -> None:
    for sheet in sheets:
        assert not [text for text, _ in sheet.texts if text.endswith("…")], sheet.title


def test_a_curve_gets_numbers_where_it_begins_ends_and_reaches_furthest() -> None:
    arc = [
        (300 + 300 * math.cos(math.pi * n / 40), 300 + 300 * math.sin(math.pi * n / 40))
        for n in range(41)
    ]
    ring = [(0.0, 0.0), (600.0, 0.0), *arc]
    marked = [(round(x, 6), round(y, 6)) for x, y in marked_corners(ring)]
    assert marked == [(0, 0), (600, 0), (600, 300), (300, 600), (0, 300)]
    notched = [(0.0, 0.0), (600.0, 0.0), (600.0, 300.0), (80.0, 300.0), (80.0, 200.0), (0.0, 200.0)]
    assert marked_corners(notched) == tuple(notched)
    assert marked_corners(()) == ()


@pytest.mark.parametrize(
    ("name", "most"), [("bookcase", 16), ("low-cabinet", 21), ("hall-bench", 30), ("wardrobe", 65)]
)
def test_sheets_are_few_and_hold_the_table_of_what_they_show(
    name: str, most: int, results_of: ResultsOf
) -> None:
    """``most``: the sheets while every surface and every table had one of its own."""
    job = job_of(results_of(name))
    sheets = draw_panels(job)
    assert len(sheets) <= 0.7 * most
    beside = sum(any(t == "No." for t, _ in s.texts) for s in sheets)
    alone = sum(s.title.endswith("hole table") for s in sheets)
    assert beside - alone > alone


def test_the_title_block_says_what_a_drawing_has_to(results_of: ResultsOf) -> None:
    for sheet in draw_panels(job_of(results_of("bookcase"))):
        told = [t for t, _ in sheet.texts]
        for words in ("Date", "Revision", "General tolerance", "±0.5, holes ±0.2", "Scale"):
            assert words in told
        # first angle: two circles round one centre, 1.5 and 3 wide, right of the frustum
        rings = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="(1.5|3)"', sheet.render())
        assert {r for x, y, r in rings if float(x) > sheet.width - 20} == {"1.5", "3"}


def test_no_leader_crosses_a_hole(results_of: ResultsOf) -> None:
    """A line that joins a note to its hole runs over no other one."""
    sheets = draw_panels(job_of(results_of("low-cabinet")))
    for sheet in sheets:
        svg = sheet.render()
        holes = [
            (float(x), float(y), float(r))
            for x, y, r in re.findall(
                r'<circle cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)" fill="none" '
                r'stroke-width="0.25"', svg)
        ]  # fmt: skip
        lines = [
            tuple(float(v) for v in found)
            for found in re.findall(
                r'<line x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)" '
                r'stroke-width="0.13"/>', svg)
        ]  # fmt: skip
        for x0, y0, x1, y1 in lines:
            if abs(x0 - x1) < 0.01 or abs(y0 - y1) < 0.01:
                continue  # arms of crosses, rules of tables
            met = [
                h for h in holes
                if near_line((h[0], h[1]), (x0, y0), (x1, y1)) < h[2] - 0.05
                and math.dist((x0, y0), h[:2]) > h[2] + 0.5
            ]  # fmt: skip
            assert not met, (sheet.title, (x0, y0, x1, y1))


def near_line(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    d = (b[0] - a[0], b[1] - a[1])
    share = ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] ** 2 + d[1] ** 2)
    share = min(1.0, max(0.0, share))
    return math.dist(p, (a[0] + d[0] * share, a[1] + d[1] * share))
