"""Settings, stops and steps without a machine: the drilling list, told for a fence and a stop."""

from __future__ import annotations

import csv
import itertools
import pathlib
import random
from collections import Counter

import pypdf
import pytest
from click.testing import CliRunner

from kdkit.cli.group import group
from kdkit.geometry.surfaces import part_box
from kdkit.publish.workshop.handwork.by_hand import draw_by_hand
from kdkit.publish.workshop.handwork.posture import on_table
from kdkit.schedule.fence_rows import _chain, count_changes, fence_rows, fewest_changes
from kdkit.schedule.jig_rows import jig_rows
from kdkit.schedule.stops import drill_stops, saw_stops
from tests.product_files import product_file, results_of
from tests.unit.publish.workshop.test_drawings import job_of

EXAMPLES = ("bookcase", "low-cabinet", "hall-bench", "wardrobe")


@pytest.mark.parametrize("name", EXAMPLES)
def test_rows_make_every_bore_of_the_list_once(name: str) -> None:
    """Fence, stop and side up, as somebody sets them, give the places of the drilling list."""
    for panel in job_of(results_of(name)).panels:
        rows = fence_rows(panel)
        wanted = Counter(b for view in panel.views for b in view.bores)
        assert Counter(b for row in rows for b in row.bores) == wanted
        for row in rows:
            for position, bore in zip(row.positions, row.bores, strict=True):
                x, y = (row.distance, position) if row.fence == "x" else (position, row.distance)
                assert (x, y) == pytest.approx((bore.x, bore.y), abs=0.006)
                # On the table the bit stands before the fence, and beside the stop.
                side, away = on_table(row, (bore.x, bore.y))
                corner = on_table(row, (0.0, 0.0))
                assert corner[1] - away == pytest.approx(row.distance, abs=0.006)
                right = corner[0] - side
                assert right == pytest.approx(position if row.stop == "right" else -position)


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_is_set_twice_without_need(name: str) -> None:
    for panel in job_of(results_of(name)).panels:
        rows = fence_rows(panel)
        ordered = fewest_changes(rows)
        assert Counter(map(id, ordered)) == Counter(map(id, rows))
        bits, depths, fences = count_changes(ordered)
        assert bits == len({row.setting[:2] for row in rows})
        assert depths == len({row.setting[:3] for row in rows})
        assert fences <= count_changes(sorted(rows, key=lambda r: r.setting))[2]


def test_fences_are_chained_as_well_as_any_order_can() -> None:
    draw = random.Random(7)
    for _ in range(60):
        sets = [
            sorted(draw.sample(range(5), draw.randint(1, 3))) for _ in range(draw.randint(1, 4))
        ]
        found = _chain(sets)  # type: ignore[arg-type]
        assert [sorted(one) for one in found] == sets

        def changes(orders: object) -> int:
            flat = [v for one in orders for v in one]  # type: ignore[attr-defined]
            return 1 + sum(a != b for a, b in itertools.pairwise(flat))

        best = min(
            changes(o) for o in itertools.product(*(itertools.permutations(s) for s in sets))
        )
        assert changes(found) == best, sets


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet"])
def test_the_line_of_a_mate_is_where_its_face_comes(name: str) -> None:
    """So a board of another thickness still comes flush: both members from one face."""
    results = results_of(name)
    job = job_of(results)
    resolved = results.resolved
    axes = {"left": 0, "right": 0, "front": 1, "back": 1, "bottom": 2, "top": 2}
    checked = 0
    for told in jig_rows(job.panels, resolved, results.joinery):
        if told.line is None:
            continue
        axis = axes[told.line_from]
        box = part_box(resolved.part(told.row.panel.cut.parts[0]))
        far = told.line_from in ("right", "back", "top")
        place = box[axis + 3] - told.line if far else box[axis] + told.line
        mates = next(p.cut.parts for p in job.panels if p.letter == told.mate)
        planes = [resolved.part(mate).frame.origin[axis] for mate in mates]
        assert any(place == pytest.approx(plane) for plane in planes), told
        checked += 1
    assert checked > 5


def test_members_of_a_joint_share_one_distance_and_one_end() -> None:
    results = results_of("bookcase")
    rows = jig_rows(job_of(results).panels, results.resolved, results.joinery)
    dowels = [told for told in rows if told.row.bores[0].purpose == "dowel"]
    assert {round(told.distance, 3) for told in dowels} == {9.0}
    assert {told.row.view.is_edge for told in dowels} == {True, False}
    for told in dowels:
        assert told.end == ("bottom" if "C" in (told.mate, told.row.panel.letter) else "front")


def test_every_size_is_one_stop_of_the_saw() -> None:
    cut = results_of("wardrobe").schedules.cut
    stops = saw_stops(cut)
    for kind, axis in (("width", 1), ("length", 0)):
        mine = [stop for stop in stops if stop.kind == kind]
        assert [s.size for s in mine] == sorted({round(c.cut[axis], 2) for c in cut}, reverse=True)
        assert sum(stop.count for stop in mine) == sum(line.quantity for line in cut)


def test_no_text_touches_another() -> None:
    for name in ("bookcase", "hall-bench"):
        for sheet in draw_by_hand(job_of(results_of(name))):
            for (one, a), (two, b) in itertools.combinations(sheet.texts, 2):
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
                assert apart, (one, two)
            for text, box in sheet.texts:
                assert box[2] <= sheet.width - 8, text
                assert box[3] <= sheet.height - 8, text


def test_a_workshop_without_a_machine_gets_its_papers(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "w"
    command = ["workshop", str(product_file("hall-bench")), "--out", str(out), "--files", "by-hand"]
    result = CliRunner().invoke(group, command)
    assert result.exit_code == 0, result.output
    names = {p.name for p in out.iterdir()}
    assert names >= {"by-hand.pdf", "jig-settings.csv", "stops.csv"}
    pages = [page.extract_text() for page in pypdf.PdfReader(out / "by-hand.pdf").pages]
    text = " ".join(" ".join(pages).split())
    for words in (
        "depth stop 14.9",
        "Against the fence: bottom edge. Fence to middle of bit: 65.",
        "This side up: back edge.",
        "right through",
        "Lay a waste board under the part.",
        "countersink, to Ø8",
    ):
        assert words in text, words
    rows = list(csv.DictReader((out / "stops.csv").read_text("utf-8-sig").splitlines()))
    bores = sum(
        len(panel.bores) * panel.quantity for panel in results_of("hall-bench").schedules.drilling
    )
    job = job_of(results_of("hall-bench"))
    assert (
        sum(len(row.bores) * row.panel.cut.quantity for p in job.panels for row in fence_rows(p))
        == bores
    )
    assert sum(int(row["Quantity"]) for row in rows) == bores
    stops = drill_stops(r for p in job.panels for r in fence_rows(p))
    places = {(s.rows[0].setting, s.side, s.position) for s in stops}
    assert len(places) == len(stops)
