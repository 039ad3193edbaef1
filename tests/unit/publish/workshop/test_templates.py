"""Templates at true size: what the printed file holds is what the drilling list says."""

from __future__ import annotations

import math
import pathlib
import re
import subprocess
from collections import defaultdict

import pypdf
import pytest

from kdkit.frames import Vec2
from kdkit.pipeline import Request, check
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.handwork.template_pages import draw_templates
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.templates import OVERLAP, cut_pieces, list_templates
from tests.product_files import results_of
from tests.unit.publish.workshop.test_drawings import job_of

PT = 25.4 / 72

TALL = """\
kdkit: 1
product: Tall side
revision: C
boards:
  carcass: {material: particleboard-p2, thickness: 18}
  rail: {material: pine, thickness: 25}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 120], z: [0, 2400], face: +x}
  shelf: {board: carcass, x: [18, 500], y: [0, 110], z: {from: 70}}
  arm: {board: carcass, x: [18, 500], y: [0, 110], z: {to: 2370}}
  stretcher: {board: rail, x: [18, 500], y: {from: 40}, z: [1200, 1225]}
joints:
  - {join: [shelf, arm], to: side, fittings: [{fitting: dowel-8x35, at: [30, -30]}]}
  - {join: stretcher, to: side, fittings: [{fitting: dowel-8x35, count: 1}]}
"""
"""A panel of 2.4 m with bores at both ends and in the middle, and a rail 25 wide."""


@pytest.fixture(scope="module")
def tall(tmp_path_factory: pytest.TempPathFactory) -> tuple[object, pathlib.Path]:
    folder = tmp_path_factory.mktemp("tall")
    (folder / "tall.yaml").write_text(TALL, encoding="utf-8")
    outcome = check(Request(file=folder / "tall.yaml"))
    assert outcome.results is not None, outcome.problems
    files, problems = publish_workshop(outcome.results, folder / "w", ["templates"])
    assert files is not None, problems
    return outcome.results, folder / "w" / "templates.pdf"


def strokes(page: pypdf.PageObject) -> list[tuple[float, Vec2, Vec2]]:
    """Return every straight stroke of a page: pen width, both ends in mm from the upper left."""
    high = float(page.mediabox.height)
    contents = page.get_contents()
    assert contents is not None
    cm, saved = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), []
    width, at = 0.0, (0.0, 0.0)
    numbers: list[float] = []
    path: list[tuple[Vec2, Vec2]] = []
    found: list[tuple[float, Vec2, Vec2]] = []

    def place(x: float, y: float) -> Vec2:
        a, b, c, d, e, f = cm
        return ((a * x + c * y + e) * PT, (high - (b * x + d * y + f)) * PT)

    for word in contents.get_data().decode("latin1").split():
        try:
            numbers.append(float(word))
            continue
        except ValueError:
            pass
        if word == "q":
            saved.append((cm, width))
        elif word == "Q":
            cm, width = saved.pop()
        elif word == "cm":
            a, b, c, d, e, f = numbers[-6:]
            o = cm
            cm = (
                a * o[0] + b * o[2],
                a * o[1] + b * o[3],
                c * o[0] + d * o[2],
                c * o[1] + d * o[3],
                e * o[0] + f * o[2] + o[4],
                e * o[1] + f * o[3] + o[5],
            )
        elif word == "w":
            width = numbers[-1] * math.hypot(cm[0], cm[1]) * PT
        elif word == "m":
            at = place(*numbers[-2:])
        elif word == "l":
            path.append((at, place(*numbers[-2:])))
            at = path[-1][1]
        elif word in ("S", "s", "B"):
            found += [(width, *ends) for ends in path]
            path = []
        elif word in ("n", "f"):
            path = []
        numbers = []
    return found


def middles(lines: list[tuple[float, Vec2, Vec2]], *, slanted: bool) -> list[Vec2]:
    """Return the middles of crosses: two equal strokes square to each other over one middle."""
    halves: dict[tuple[float, float], list[tuple[Vec2, float]]] = defaultdict(list)
    for _, a, b in lines:
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 180
        halves[round(middle[0], 1), round(middle[1], 1)].append((middle, angle))
    wanted = (45.0, 135.0) if slanted else (0.0, 90.0)
    found = []
    for group in halves.values():
        angles = sorted(round(angle % 180, 1) % 180 for _, angle in group)
        if all(any(abs(a - w) < 0.5 for a in angles) for w in wanted):
            found.append(group[0][0])
    return found


Found = tuple[int, list[Vec2], dict[int, Vec2], Vec2 | None]
"""A piece as read: its number, bores, numbered marks, and where its two folds meet."""


def read_pieces(pdf: pathlib.Path) -> dict[str, list[Found]]:
    """Return what another program finds: the pieces by their heading, mm on the page."""
    reader = pypdf.PdfReader(pdf)
    out = subprocess.run(
        ["pdftotext", "-bbox-layout", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout
    pieces: dict[str, list[Found]] = defaultdict(list)
    for page, text in zip(reader.pages, out.split("<page ")[1:], strict=True):
        lines = [
            (float(y), " ".join(re.findall(r">([^<]+)</word>", body)), float(x))
            for x, y, body in re.findall(
                r'<line xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>(.*?)</line>', text, re.DOTALL
            )
        ]
        heads = sorted(
            (y * PT, match[1], int(match[2]))
            for y, words, _ in lines
            if (match := re.fullmatch(r"(.+): piece (\d+) of \d+", words))
        )
        drawn = strokes(page)
        bores = middles([s for s in drawn if abs(s[0] - 0.13) < 0.02], slanted=False)
        marks = middles([s for s in drawn if abs(s[0] - 0.18) < 0.02], slanted=True)
        folds = [s for s in drawn if abs(s[0] - 0.35) < 0.02]
        named: dict[int, tuple[Vec2, float]] = {}
        for y, words, x in lines:
            for number in re.findall(r"(\d+): x", words):
                near = min(marks, key=lambda m: abs(m[0] - x * PT - 8) + abs(m[1] - y * PT))
                named[int(number)] = (near, y * PT)
        for n, (top, name, number) in enumerate(heads):
            low = heads[n + 1][0] if n + 1 < len(heads) else math.inf
            mine = [(a, b) for _, a, b in folds if top < min(a[1], b[1]) < low]
            xs = {a[0] for a, b in mine if abs(a[0] - b[0]) < 0.01}
            ys = {a[1] for a, b in mine if abs(a[1] - b[1]) < 0.01}
            pieces[name].append(
                (
                    number,
                    [b for b in bores if top < b[1] < low],
                    {k: m for k, (m, y) in named.items() if top < y < low},
                    (xs.pop(), ys.pop()) if xs and ys else None,
                )
            )
    return pieces


def test_printed_places_are_those_of_the_drilling_list(
    tall: tuple[object, pathlib.Path],
) -> None:
    """Over 2.4 m of pieces, joined by their marks as read out of the file, to 0.05 mm."""
    results, pdf = tall
    job = job_of(results)  # type: ignore[arg-type]
    (panel,) = (p for p in job.panels if p.cut.finished[0] == 2400)
    view = panel.view("face")
    assert max(b.x for b in view.bores) - min(b.x for b in view.bores) > 2200
    (name,) = (n for n in read_pieces(pdf) if n.startswith(f"{panel.letter} ") and "face" in n)
    pieces = sorted(read_pieces(pdf)[name])
    assert len(pieces) > 9
    at = pieces[0][2]
    found: list[Vec2] = []
    offset = (0.0, 0.0)
    known = dict(at)
    for number, bores, marks, _ in pieces:
        if number > 1:
            shared = sorted(set(marks) & set(known))
            assert len(shared) == 2
            shifts = [(known[k][0] - marks[k][0], known[k][1] - marks[k][1]) for k in shared]
            assert shifts[0] == pytest.approx(shifts[1], abs=0.02)
            offset = shifts[0]
        known = {k: (m[0] + offset[0], m[1] + offset[1]) for k, m in marks.items()}
        found += [(b[0] + offset[0], b[1] + offset[1]) for b in bores]
    corner = pieces[0][3]
    assert corner is not None
    sign = 1 if view.y_down else -1
    placed = {(p[0] - corner[0], sign * (p[1] - corner[1])) for p in found}
    for bore in view.bores:
        assert min(math.dist((bore.x, bore.y), p) for p in placed) < 0.05, bore
    for p in placed:
        assert min(math.dist((b.x, b.y), p) for b in view.bores) < 0.05, p


def test_a_strip_is_as_wide_as_its_board_and_its_rulers_are_true(
    tall: tuple[object, pathlib.Path],
) -> None:
    results, pdf = tall
    page = pypdf.PdfReader(pdf).pages[0]
    drawn = strokes(page)
    long = [math.dist(a, b) for width, a, b in drawn if abs(width - 0.25) < 0.02]
    assert sum(abs(length - 100) < 0.01 for length in long) == 2
    widths = {
        round(template.view.box[3] - template.view.box[1], 3)
        for template in list_templates(job_of(results).panels)  # type: ignore[arg-type]
        if template.view.is_edge
    }
    assert widths == {18.0, 25.0}


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
@pytest.mark.parametrize("room", [(262.0, 148.0), (385.0, 235.0)])
def test_every_bore_is_whole_on_a_piece_and_pieces_join(name: str, room: Vec2) -> None:
    job = job_of(results_of(name))
    templates = list_templates(job.panels)
    users: dict[tuple[str, str], list[DrillLine]] = defaultdict(list)
    for template in templates:
        for user in template.users:
            users[user.letter, user.surface] += template.view.bores
        pieces = cut_pieces(template, room)
        assert {b for piece in pieces for b in piece.bores} == set(template.view.bores)
        assert [piece.number for piece in pieces] == list(range(1, len(pieces) + 1))
        for piece in pieces:
            x0, y0, x1, y1 = piece.box
            assert x1 - x0 <= room[0] + 1e-9
            assert y1 - y0 <= room[1] + 1e-9
            for bore in piece.bores:
                x, y = template.view.seen((bore.x, bore.y))
                r = bore.diameter / 2
                assert bore.diameter + 6 > OVERLAP or (
                    x0 <= x - r and x + r <= x1 and y0 <= y - r and y + r <= y1
                )
        for number in {mark.number for piece in pieces for mark in piece.marks}:
            assert sum(number in {m.number for m in p.marks} for p in pieces) == 2
    for panel in job.panels:
        for view in panel.views:
            mine = [(b.x, b.y, b.diameter, b.depth) for b in users[panel.letter, view.surface]]
            wanted = [(b.x, b.y, b.diameter, b.depth) for b in view.bores]
            assert len(mine) == len(wanted)
            for one, two in zip(sorted(mine), sorted(wanted), strict=True):
                assert one == pytest.approx(two, abs=0.01)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_is_written_over_anything(paper: str) -> None:
    sheets = draw_templates(job_of(results_of("hall-bench"), paper))
    for sheet in sheets:
        for n, (one, a) in enumerate(sheet.texts):
            assert a[0] >= 9.9, one
            assert a[2] <= sheet.width - 9.9, one
            assert a[3] <= sheet.height - 4, one
            for two, b in sheet.texts[:n]:
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
                assert apart, (sheet.title, one, two)
