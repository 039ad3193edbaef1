"""Programs: their choice of cycle, what they leave out, the page of cautions."""

from __future__ import annotations

import itertools
import pathlib
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from click.testing import CliRunner

from kdkit.catalogue import load_catalogue
from kdkit.cli.commands import group
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.program_blocks import (
    left_out,
    list_setups,
    tools_of,
)
from kdkit.publish.workshop.programs.program_sheets import draw_program_sheets, program_name
from kdkit.publish.workshop.programs.program_text import words_of
from kdkit.publish.workshop.programs.programs import render_programs
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, list_views
from kdkit.units import mm_text
from tests import handmade
from tests.product_files import product_file

ResultsOf = Callable[[str], Results]

CATALOGUE, _ = load_catalogue()
assert CATALOGUE is not None
MACHINES = CATALOGUE.machines


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
    return job_of(results, (panel,)), panel


def job_of(
    results: Results, panels: tuple[PanelViews, ...], machine: str = "router", paper: str = "a4"
) -> WorkshopJob:
    return WorkshopJob(
        results=results,
        panels=panels,
        messages=load_messages("en"),
        paper=paper,
        machine=MACHINES[machine],
    )


def only_program(job: WorkshopJob, panel: PanelViews) -> str:
    """Return the one program of a panel's one set-up."""
    (setup,) = list_setups([panel], job.machine)
    (text,) = render_programs(setup, job).values()
    return text


@pytest.mark.parametrize(
    ("one", "block"),
    [
        (bore(), "G98 G81 X100 Y{y} Z-12 R3 F1000"),
        (bore(diameter=15.0, depth=13.5), "G98 G82 X100 Y{y} Z-13.5 R3 P0.5 F600"),
        (bore(diameter=3.0), "G98 G83 X100 Y{y} Z-12 R3 Q6 F500"),
        (bore(diameter=8.0, depth=18.0, through=True), "G98 G81 X100 Y{y} Z-19 R3 F1000"),
    ],
    ids=["plain", "housing", "deep", "through"],
)
def test_each_bore_has_the_cycle_it_needs(one: DrillLine, block: str) -> None:
    job, panel = panel_with(one)
    y = "-50" if panel.view("face").y_down else "50"
    assert block.format(y=y) in only_program(job, panel).splitlines()


def test_slanted_bores_and_bores_drilled_at_home_are_left_out() -> None:
    slanted = bore(x=200.0, angle_deg=15.0, towards_deg=270.0)
    job, panel = panel_with(bore(), slanted, bore(x=300.0, stage="home"))
    text = only_program(job, panel)
    assert "X200" not in text
    assert "X300" not in text
    assert "(1 slanted - bores not made here)" in text
    assert "(1 drilled at home - bores not made here)" in text
    assert "grooves" not in text
    assert left_out(panel, job.machine) == {"slanted": 1}


def test_one_block_a_kind_then_places_alone() -> None:
    job, panel = panel_with(bore(), bore(x=132.0), bore(x=164.0, y=80.0))
    lines = only_program(job, panel).splitlines()
    assert sum("G81" in line for line in lines) == 1
    assert sum(line.startswith("X") for line in lines) == 2


@pytest.mark.parametrize("name", list(MACHINES))
def test_what_the_control_must_know_is_what_the_programs_hold(name: str) -> None:
    """Read word by word by another rule than the page's: no list of words stands in the code."""
    job, panel = panel_with(bore(), bore(x=132.0, diameter=3.0), bore(x=164.0, diameter=15.0))
    job = job_of(job.results, job.panels, name)
    setups = tuple(list_setups([panel], job.machine))
    texts = [text for setup in setups for text in render_programs(setup, job).values()]
    page = draw_program_sheets(job, setups, tools_of(setups), words_of(texts))[0]
    said = " ".join(text for text, _ in page.texts)
    codes, letters = re.findall(r"must know (.*?) and the letters (.*?) as ISO", said)[0]
    blocks = re.sub(r"\([^)]*\)|%", " ", "\n".join(texts)).split()
    assert set(codes.split(", ")) == {b for b in blocks if b[0] in "GM"}
    assert set(letters.split(", ")) == {b[0] for b in blocks if b[0] not in "GM"}
    changes = MACHINES[name].changes_tools
    assert ("no tool in the spindle" in said) is not changes
    assert ("Leave the tools in the changer" in said) is changes
    assert {"M6", "G43"} & set(codes.split(", ")) == ({"M6", "G43"} if changes else set())
    deepest = 13.5 if 13.5 in {-c.floor for s in setups for _, cs in s.runs for c in cs} else 12.0
    assert re.search(rf"at least {deepest + 3:.0f} mm", said)


def test_what_is_left_out_is_told(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    results = results_of("low-cabinet")
    router = results.catalogue.machines["router"]
    drills = {n: t for n, t in router.tools.items() if t.kind != "cutter"}
    machines = {"drills": router.model_copy(update={"tools": drills})}
    results = replace(
        results, catalogue=results.catalogue.model_copy(update={"machines": machines})
    )
    _, problems = publish_workshop(results, tmp_path / "w", ["programs"], machine="drills")
    grooved = [p.letter for p in results.schedules.drilling if p.grooves]
    assert grooved
    assert {p.code for p in problems} == {"not-in-program"}
    told = " ".join(p.message for p in problems)
    assert all(
        re.search(rf"programs of {letter} leave out .*\d+ grooves? for want of a cutter", told)
        for letter in grooved
    )
    assert all(p.path for p in problems)


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
@pytest.mark.parametrize("name", ["bookcase", "hall-bench", "wardrobe"])
def test_sheets_have_a_plot_for_each_program(name: str, paper: str, results_of: ResultsOf) -> None:
    results = results_of(name)
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    job = job_of(results, panels, paper=paper)
    setups = tuple(list_setups(panels, job.machine))
    programs = [text for setup in setups for text in render_programs(setup, job).values()]
    sheets = draw_program_sheets(job, setups, tools_of(setups), words_of(programs))
    listed = len(sheets) - 1 - len(setups)
    assert listed in (1, 2)
    cautions = " ".join(t for t, _ in sheets[0].texts)
    for words in ("WARNING", "run on no machine", "in the air", "30 mm above", "qualified"):
        assert words in cautions
    lists = " ".join(t for sheet in sheets[1 : 1 + listed] for t, _ in sheet.texts)
    for panel in panels:
        told = f"{panel.letter} - " in lists
        assert told == bool(left_out(panel, job.machine)), panel.letter
    for setup, sheet in zip(setups, sheets[1 + listed :], strict=True):
        said = " ".join(t for t, _ in sheet.texts)
        for tool, _ in setup.runs:
            assert f"{program_name(setup, tool, job.machine)}.nc" in said
        for run in setup.cut_runs:
            assert f"{program_name(setup, run.tool, job.machine, run.what)}.nc" in said
        for tool, cycles in setup.runs:
            for cycle in cycles:  # a countersink's own diameter is not what it makes
                assert f"Ø{mm_text(cycle.diameter, 3)}" in said
                sunk = tool.is_.kind == "countersink"
                assert (cycle.diameter < tool.diameter) == sunk
        assert sheet.render().count("<circle") == sum(len(c) for _, c in setup.runs) + 1 + 2
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


def test_a_machine_without_canned_cycles_makes_the_same_moves() -> None:
    job, panel = panel_with(bore(diameter=3.0, depth=12.0))
    plain = job_of(job.results, job.panels, "router-plain-moves")
    lines = only_program(plain, panel).splitlines()
    first = lines.index("G0 Z30") + 1
    assert lines[first : lines.index("M30")] == [
        "G0 X100 Y-50", "G0 Z3", "G1 Z-3 F500",
        "G0 Z3", "G0 Z-2.5", "G1 Z-9 F500",
        "G0 Z3", "G0 Z-8.5", "G1 Z-12 F500",
        "G0 Z30", "M5", "G53 G0 Z0",
    ]  # fmt: skip
    assert not any(re.search(r"G8|G98", line) for line in lines)


def test_a_machine_that_changes_tools_takes_their_lengths() -> None:
    job, panel = panel_with(bore(), bore(x=132.0, diameter=8.0))
    changing = job_of(job.results, job.panels, "router-with-changer")
    (setup,) = list_setups([panel], changing.machine)
    programs = render_programs(setup, changing)
    assert list(programs) == ["A-face"]
    lines = [line for line in programs["A-face"].splitlines() if not line.startswith("(")]
    change = lines.index("T14 M6")
    assert lines[change - 3 : change] == ["M5", "G53 G0 Z0", "G49"]
    assert lines[change + 1 : change + 5] == ["S4000 M3", "G0 X132 Y-50", "G43 H14", "G0 Z30"]
    by_hand = render_programs(setup, job)
    assert list(by_hand) == ["A-face-t8", "A-face-t14"]
    assert not any("M6" in text or re.search(r"^T", text, re.M) for text in by_hand.values())


def test_a_countersink_goes_as_deep_as_its_slope_wants() -> None:
    """By hand: 90 degrees, so a recess of 9 has its point 4.5 below the surface."""
    job, panel = panel_with(bore(diameter=9.0, depth=2.2, sloped=True))
    assert "G98 G82 X100 Y-50 Z-4.5 R3 P0.5 F300" in only_program(job, panel).splitlines()


def sunk_by(said: str, tmp_path: pathlib.Path) -> tuple[str, dict[str, str], pathlib.Path]:
    """Run `workshop` for two boards with three screws of 4, by a countersink as it is said.

    Returns:
        What was told, the countersink's programs by name, and the folder of the programs.
    """
    (tmp_path / "own.yaml").write_text(
        "machines:\n  mine:\n    like: router\n    title: Ours\n    sources: [ours]\n    tools:\n"
        "      7: {diameter: 4.5, reach: 60, speed: 3000, feed: 500}\n"
        f"      41: {{kind: countersink, reach: 10, speed: 2000, feed: 300, {said}}}\n"
    )
    (tmp_path / "it.yaml").write_text(SCREWED)
    run = CliRunner(catch_exceptions=False).invoke(
        group,
        ["workshop", str(tmp_path / "it.yaml"), "--out", str(tmp_path / "w"), "--machine", "mine",
         "--files", "programs,drawings"],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    folder = tmp_path / "w" / "programs"
    return run.output, {p.stem: p.read_text() for p in folder.glob("*-t41.nc")}, folder


SCREWED = """\
kdkit: 1
product: Corner
catalogues: [own.yaml]
boards: {ply: {material: plywood-birch, thickness: 18}}
panels:
  base: {board: ply, x: [0, 320], y: [0, 210], z: {from: 0}, grain: x}
  side: {board: ply, x: {from: 0}, y: [0, 210], z: [18, 300], grain: z}
joints:
  - {join: side, to: base, fittings: [screw-4x45]}
"""


@pytest.mark.parametrize(
    ("angle", "tip", "deep"), [(90, 0, "4"), (90, 3, "2.5"), (82, 0, "4.601"), (82, 3, "2.876")]
)
def test_a_sink_of_8_by_hand(angle: float, tip: float, deep: str, tmp_path: pathlib.Path) -> None:
    """By hand: (8 - tip) / 2 over tan 45 = 1 or tan 41 = 0.869287, as tables have it."""
    told, programs, folder = sunk_by(f"diameter: 20, angle: {angle}, tip: {tip}", tmp_path)
    assert programs
    for text in programs.values():
        assert re.search(rf"^G98 G82 X\S+ Y\S+ Z-{deep} ", text, re.M)
        assert f"({angle} degrees - included angle of the countersink)" in text
        assert f"({tip} mm - diameter of the flat tip of the countersink)" in text
    (row,) = [r for r in (folder / "tools.csv").read_text().splitlines() if "countersink" in r]
    assert f",20,{angle},{tip},10," in row
    assert "countersink" not in told
    (sheet,) = folder.glob("read-first.pdf")
    assert sheet.stat().st_size > 0


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("diameter: 20", "the angle or the tip of the machine's tool not being said"),
        ("diameter: 20, angle: 90", "the angle or the tip of the machine's tool not being said"),
        ("diameter: 20, angle: 90, tip: 8", "that no tool of the machine makes"),
        ("diameter: 7, angle: 90, tip: 0", "that no tool of the machine makes"),
    ],
)
def test_a_sink_that_is_not_known_or_not_made_is_left_out_and_told(
    said: str, why: str, tmp_path: pathlib.Path
) -> None:
    told, programs, folder = sunk_by(said, tmp_path)
    assert programs == {}
    assert why in " ".join(told.split())
    assert "countersink" not in (folder / "tools.csv").read_text()
    others = "".join(p.read_text() for p in folder.glob("*.nc"))
    assert re.search(r"\(\d+ - countersinks not made here ", others)


OWN = """\
machines:
  small:
    like: router
    title: Our small one
    travel: [700, 500]
    stands: 250
    tools: {7: {diameter: 8, reach: 20, speed: 3000, feed: 500}}
    sources: [our own]
"""


def test_what_the_makers_machine_cannot_do_is_told_and_left_out(tmp_path: pathlib.Path) -> None:
    (tmp_path / "own.yaml").write_text(OWN)
    text = (product_file("bookcase")).read_text(encoding="utf-8")
    (tmp_path / "it.yaml").write_text(f"{text}\ncatalogues: [own.yaml]\n", encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(
        group,
        ["workshop", str(tmp_path / "it.yaml"), "--out", str(tmp_path / "w"), "--files",
         "programs", "--machine", "small"],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    for words in (
        r"bores, the panel being larger than the machine",
        r"bores on edges for which it would stand taller than the machine holds",
        r"bores? for which the machine has no tool that reaches \(Ø\S+ × ",
    ):
        assert re.search(words, run.output), (words, run.output)
    files = [p.name for p in (tmp_path / "w" / "programs").glob("*.nc")]
    assert all(name.endswith("-t7.nc") for name in files)


@pytest.mark.parametrize(
    ("heights", "said"),
    [
        ("safe_height: 20, near_height: 30", "near_height: 30 mm is above safe_height, 20 mm"),
        ("safe_height: 2", "safe_height: 2 mm is below near_height, 3 mm"),
    ],
)
def test_feeding_begins_no_higher_than_the_tool_travels(
    heights: str, said: str, tmp_path: pathlib.Path
) -> None:
    own = OWN.replace(
        "    tools:", "".join(f"    {h}\n" for h in heights.split(", ")) + "    tools:"
    )
    (tmp_path / "own.yaml").write_text(own)
    text = (product_file("bookcase")).read_text(encoding="utf-8")
    (tmp_path / "it.yaml").write_text(f"{text}\ncatalogues: [own.yaml]\n", encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(tmp_path / "it.yaml")])
    assert run.exit_code == 1
    lines = own.splitlines()
    number = next(n for n, row in enumerate(lines, 1) if said.partition(":")[0] in row)
    assert f"own.yaml:{number}:" in run.output, run.output
    assert said in run.output


def test_a_machine_that_is_not_there_is_told(tmp_path: pathlib.Path) -> None:
    arguments = ["workshop", str(product_file("bookcase")), "--out", str(tmp_path / "w")]
    run = CliRunner().invoke(group, [*arguments, "--machine", "rooter"])
    assert run.exit_code == 1
    assert "--machine rooter: error: the catalogue has no machine 'rooter'" in run.output
    assert "did you mean router?" in run.output
    assert not (tmp_path / "w").exists()


def test_each_machine_that_comes_with_kdkit_drills_what_its_fittings_need() -> None:
    for machine in MACHINES.values():
        for key, fitting in CATALOGUE.fittings.items():
            for rule in fitting.bores:
                if isinstance(rule.diameter, float | int) and rule.stage == "workshop":
                    sunk = rule.sloped
                    assert machine.tool_for(rule.diameter, countersink=sunk), (key, rule)


def test_a_countersink_whose_point_would_come_out_is_left_out() -> None:
    """By hand: a recess of 40 has its point 20 deep, in a panel of 18 with 1 below it."""
    job, panel = panel_with(bore(diameter=40.0, depth=2.0, sloped=True), bore(x=300.0))
    wide = {41: job.machine.tools[41].model_copy(update={"diameter": 60.0, "reach": 40.0})}
    tools = {**job.machine.tools, **wide}
    job = replace(job, machine=job.machine.model_copy(update={"tools": tools}))
    assert left_out(panel, job.machine) == {"sinks": 1}
    assert "X100" not in only_program(job, panel)
