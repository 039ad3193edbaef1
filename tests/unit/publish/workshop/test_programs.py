"""Programs: their choice of cycle, what they leave out, the page of cautions."""

from __future__ import annotations

import itertools
import pathlib
from collections.abc import Callable
from dataclasses import replace

import pytest

from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.program_blocks import left_out, list_setups, list_tools
from kdkit.publish.workshop.programs.program_sheets import draw_program_sheets
from kdkit.publish.workshop.programs.programs import render_program
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, list_views
from tests import handmade

ResultsOf = Callable[[str], Results]


def bore(**more: object) -> DrillLine:
    settings: dict[str, object] = {
        "surface": "face", "x": 100.0, "y": 50.0, "diameter": 5.0, "depth": 12.0,
        "through": False, "purpose": "bore", "stage": "workshop", "fastener": None, "spare": False,
    }  # fmt: skip
    return DrillLine(**{**settings, **more})  # type: ignore[arg-type]


def panel_with(*bores: DrillLine) -> tuple[WorkshopJob, PanelViews]:
    results = handmade.results()
    panel = list_views(results.resolved, results.joinery, results.plan, results.schedules)[0]
    view = replace(panel.view("face"), bores=bores, grooves=())
    panel = replace(panel, views=(view,))
    job = WorkshopJob(results=results, panels=(panel,), messages=load_messages("en"), paper="a4")
    return job, panel


@pytest.mark.parametrize(
    ("one", "block"),
    [
        (bore(), "G98 G81 X100 Y{y} Z-12 R3 F1000"),
        (bore(diameter=15.0, depth=13.5), "G98 G82 X100 Y{y} Z-13.5 R3 P0.5 F600"),
        (bore(diameter=3.0), "G98 G83 X100 Y{y} Z-12 R3 Q6 F1000"),
        (bore(diameter=8.0, depth=18.0, through=True), "G98 G81 X100 Y{y} Z-19 R3 F1000"),
    ],
    ids=["plain", "housing", "deep", "through"],
)
def test_each_bore_has_the_cycle_it_needs(one: DrillLine, block: str) -> None:
    job, panel = panel_with(one)
    (setup,) = list_setups([panel], list_tools([panel]))
    y = "-50" if panel.view("face").y_down else "50"
    assert block.format(y=y) in render_program(setup, job).splitlines()


def test_slanted_bores_and_bores_drilled_at_home_are_left_out() -> None:
    slanted = bore(x=200.0, angle_deg=15.0, towards_deg=270.0)
    job, panel = panel_with(bore(), slanted, bore(x=300.0, stage="home"))
    (setup,) = list_setups([panel], list_tools([panel]))
    text = render_program(setup, job)
    assert "X200" not in text
    assert "X300" not in text
    assert "(1 slanted - bores not made here)" in text
    assert "(1 drilled at home - bores not made here)" in text
    assert "grooves" not in text
    assert left_out(panel) == (1, 0, 0, 0)


def test_one_block_a_kind_then_places_alone() -> None:
    job, panel = panel_with(bore(), bore(x=132.0), bore(x=164.0, y=80.0))
    (setup,) = list_setups([panel], list_tools([panel]))
    lines = render_program(setup, job).splitlines()
    assert sum("G81" in line for line in lines) == 1
    assert sum(line.startswith("X") for line in lines) == 2


def test_what_is_left_out_is_told(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    results = results_of("low-cabinet")
    _, problems = publish_workshop(results, tmp_path / "w", ["programs"])
    grooved = [p.letter for p in results.schedules.drilling if p.grooves]
    assert grooved
    assert [p.code for p in problems] == ["not-in-program"] * len(grooved)
    assert all(p.path for p in problems)


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
@pytest.mark.parametrize("name", ["bookcase", "hall-bench", "wardrobe"])
def test_sheets_have_a_plot_for_each_program(name: str, paper: str, results_of: ResultsOf) -> None:
    results = results_of(name)
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    job = WorkshopJob(results=results, panels=panels, messages=load_messages("en"), paper=paper)
    tools = list_tools(panels)
    setups = tuple(list_setups(panels, tools))
    sheets = draw_program_sheets(job, setups, tools)
    assert len(sheets) == 2 + len(setups)
    cautions = " ".join(t for t, _ in sheets[0].texts)
    for words in ("WARNING", "run on no machine", "in the air", "30 mm above", "qualified"):
        assert words in cautions
    for setup, sheet in zip(setups, sheets[2:], strict=True):
        assert any(f"{setup.name}.nc" in t for t, _ in sheet.texts)
        assert sheet.render().count("<circle") == sum(len(c) for _, c in setup.runs) + 1
    for sheet in sheets:
        for (one, a), (two, b) in itertools.combinations(sheet.texts, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (sheet.title, one, two)
        for text, box in sheet.texts:
            assert box[2] <= sheet.width - 10, text
            assert box[3] <= sheet.height - 10, text


def test_the_same_bytes_twice(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    for name in ("one", "two"):
        publish_workshop(results_of("bookcase"), tmp_path / name, ["programs"])
    files = sorted(p for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert len(files) > 5
    for file in files:
        twin = tmp_path / "two" / file.relative_to(tmp_path / "one")
        assert file.read_bytes() == twin.read_bytes(), file.name
