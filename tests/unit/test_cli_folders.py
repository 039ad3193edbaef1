"""Where results may go, through the command line: every refusal before any work."""

from __future__ import annotations

import csv
import json
import os
import pathlib
import shutil
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from kdkit.delivery import LIST, claim_folder, listed
from kdkit.run import Run
from tests.products import RING

BOX = """\
kdkit: 1
product: Angle
parameters: {width: 300}
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 200], z: [0, 200], face: +x}
  floor: {board: carcass, x: [side.x1, width], y: [0, 200], z: {from: 0}, face: +z}
joints:
  - {join: floor, to: side, fittings: [{fitting: dowel-8x35}, {fitting: cam-and-bolt, ends: 64}]}
safety: {wall_restraint: none}
"""
OUT = {
    "build": ("build", "box.yaml"),
    "workshop": ("workshop", "box.yaml"),
    "plan": ("plan", "box.yaml"),
    "apart": ("apart", "box.yaml", "--to-carry"),
    "catalogue": ("catalogue", "--no-pdf"),
    "pack": ("pack", "box.yaml"),
    "run": ("run", "week.yaml"),
}


def run(*args: str) -> Result:
    return CliRunner().invoke(group, args)


@pytest.fixture(autouse=True)
def here(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """Stand in a folder with the definition in it."""
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    (work / "box.yaml").write_text(BOX, encoding="utf-8")
    week = "run: Week\nproducts: [{file: box.yaml, quantity: 1}]\n"
    (work / "week.yaml").write_text(week, encoding="utf-8")
    return work


@pytest.fixture
def no_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no stage of a run begin but the look at the folder."""
    real = Run.stage

    def only_the_folder(self: Run, title: str, work: Any, *args: Any, **kwargs: Any) -> Any:
        assert work is claim_folder, title
        return real(self, title, work, *args, **kwargs)

    monkeypatch.setattr(Run, "stage", only_the_folder)


def everything(folder: pathlib.Path) -> dict[str, bytes | None]:
    return {
        str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
        for p in folder.rglob("*")
    }


def written(folder: pathlib.Path, command: str, text: str = "{}") -> None:
    """Make a small folder as a command would leave it."""
    folder.mkdir()
    (folder / "plan.json").write_text(text)
    fd = listed.open_folder(str(folder))
    (folder / LIST).write_bytes(listed.make_list(fd, command)[0])
    os.close(fd)


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("command", OUT)
@pytest.mark.parametrize(
    ("place", "code"),
    [
        (".", "output-place"),
        ("..", "output-place"),
        ("/", "output-place"),
        ("../work", "output-place"),
        ("repository", "output-place"),
        ("repository/.git", "output-place"),
        ("nowhere", "output-not-a-folder"),
        ("box.yaml/out", "output-not-a-folder"),
        ("changed", "output-changed"),
        ("added", "output-not-ours"),
        ("linked", "output-not-ours"),
        ("another", "output-of-another"),
        ("before", "output-not-ours"),
        ("/proc/out", "output-not-written"),
    ],
)
def test_each_command_refuses_a_place_before_any_work(
    command: str, place: str, code: str, here: pathlib.Path
) -> None:
    (here / "repository" / ".git").mkdir(parents=True)
    (here / "nowhere").symlink_to("gone")
    for name in ("changed", "added"):
        written(here / name, command)
    (here / "linked").symlink_to("added")
    (here / "changed" / "plan.json").write_text("[]")
    (here / "added" / "notes.txt").write_text("mine")
    written(here / "another", "build" if command != "build" else "plan")
    (here / "before").mkdir()
    (here / "before" / "plan.json").write_text("{}")
    before = everything(here.parent)
    result = run(*OUT[command], "--out", place)
    assert result.exit_code == 1, result.output
    assert result.stderr.startswith(f"--out {place}: error: ")
    assert f"[{code}]\n  help: " in result.stderr
    assert "box.yaml:" not in result.stderr.replace("box.yaml: 1 error", "")
    assert everything(here.parent) == before


@pytest.mark.usefixtures("no_work")
def test_the_definitions_folder_is_refused_from_elsewhere(
    here: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything(here)
    monkeypatch.chdir("/")
    result = run("build", str(here / "box.yaml"), "--out", str(here))
    assert result.exit_code == 1
    assert "[output-place]" in result.stderr
    assert f"it holds {here / 'box.yaml'}, which this run reads" in result.stderr
    assert everything(here) == before


def test_a_folder_with_a_catalogue_or_unit_file_of_the_definition_is_refused(
    here: pathlib.Path,
) -> None:
    # Only a file that kdkit lists can be in a folder that may be replaced.
    for words in ("catalogues: [own.yaml]\n", "units: {a: {file: own.yaml}}\n"):
        shutil.rmtree(here / "out", ignore_errors=True)
        written(here / "out", "build", BOX)
        (here / "own.yaml").unlink(missing_ok=True)
        (here / "own.yaml").symlink_to("out/plan.json")
        (here / "box.yaml").write_text(BOX + words, encoding="utf-8")
        before = everything(here)
        result = run("build", "box.yaml", "--out", "out")
        assert result.exit_code == 1
        assert "it holds own.yaml, which this run reads [output-place]" in result.stderr
        assert everything(here) == before
    (here / "box.yaml").write_text(BOX, encoding="utf-8")
    result = run("catalogue", "out/plan.json", "--no-pdf", "--out", "out")
    assert "it holds out/plan.json, which this run reads [output-place]" in result.stderr


def test_a_refusal_is_data_of_the_option(here: pathlib.Path) -> None:
    result = run("plan", "box.yaml", "--out", ".", "--json")
    (problem,) = json.loads(result.stdout)["problems"]
    assert problem["asked"] == "--out ."
    assert (problem["code"], problem["line"]) == ("output-place", None)


def test_a_run_tells_in_one_line_what_it_cleared(here: pathlib.Path) -> None:
    work = here / ".out.kdkit-work"
    (work / "new" / "figures").mkdir(parents=True)
    (work / "new" / "figures" / "half.svg").write_text("<sv")
    made = (work / "new").stat()
    (work / "lock").write_text(
        "working folder of kdkit; it may be deleted when no kdkit runs\n"
        f"new {made.st_dev} {made.st_ino}\n"
    )
    result = run("workshop", "box.yaml", "--out", "out", "--files", "xlsx")
    assert result.exit_code == 0
    told = [line for line in result.stderr.strip().splitlines() if not line.endswith(" …")]
    assert told == [
        f"--out out: advice: what an earlier run into {here / 'out'} left when it was broken off "
        "was cleared away [output-cleared]"
    ]
    assert {p.name for p in here.iterdir()} == {"box.yaml", "week.yaml", "out"}


def test_a_live_run_is_left_alone(here: pathlib.Path) -> None:
    claim, _ = claim_folder(here / "out", "build")
    assert claim is not None
    with claim:
        before = everything(here)
        result = run("workshop", "box.yaml", "--out", "out", "--files", "xlsx")
        assert result.exit_code == 1
        assert "another run is writing to" in result.stderr
        assert everything(here) == before


def test_without_a_plan_a_build_leaves_its_earlier_output(here: pathlib.Path) -> None:
    (here / "ring.yaml").write_text(RING, encoding="utf-8")
    written(here / "out", "build")
    before = everything(here)
    result = run("build", "ring.yaml", "--out", "out")
    assert result.exit_code == 1
    assert everything(here) == before
    result = run("build", "ring.yaml", "--out", "a/b/c")
    assert result.exit_code == 1
    assert everything(here) == before
    result = run("plan", "ring.yaml", "--out", "why")
    assert result.exit_code == 1
    assert json.loads((here / "why" / LIST).read_text())["command"] == "plan"
    again = run("plan", "ring.yaml", "--out", "why")
    assert again.stdout == result.stdout


@pytest.mark.parametrize("command", [("new", "cabinet"), ("start", "list.csv")])
def test_a_new_file_is_never_written_over_anything(
    command: tuple[str, ...], here: pathlib.Path
) -> None:
    (here / "list.csv").write_text("name,quantity,length,width,thickness\nside,2,400,300,18\n")
    (here / "mine.yaml").write_text("mine")
    (here / "nowhere.yaml").symlink_to("gone.yaml")
    before = everything(here)
    for name, code in {
        "mine.yaml": "output-there",
        "nowhere.yaml": "output-there",
        "no/such/folder.yaml": "output-not-written",
        "mine.yaml/x.yaml": "output-not-written",
        "/proc/x.yaml": "output-not-written",
    }.items():
        result = run(*command, name)
        assert result.exit_code == 1, name
        assert f"[{code}]\n  help: " in result.stderr
        assert result.stdout == ""
    assert everything(here) == before
    result = run(*command, "fresh.yaml")
    assert result.exit_code == 0
    assert result.stdout.startswith("fresh.yaml")
    assert (here / "fresh.yaml").read_bytes().endswith(b"\n")
    assert set(everything(here)) == {*before, "fresh.yaml"}


def test_the_committed_page_of_joints_may_be_replaced() -> None:
    page = pathlib.Path(__file__).parents[2] / "examples" / "joints"
    claim, problems = claim_folder(page, "catalogue")
    assert problems == ()
    assert claim is not None
    claim.release()


SHELF = """\
kdkit: 1
product: {title}
revision: "7"
batch: spring
variants: {{wide: {{width: 420}}}}
parameters: {{width: 400}}
boards: {{b: {{material: plywood-birch, thickness: 18}}}}
panels:
  side: {{board: b, x: {{from: 0}}, y: [0, 200], z: [0, 300]}}
  shelf: {{board: b, x: [side.x1, width], y: [0, 200], z: {{from: 100}}}}
joints:
  - {{join: shelf, to: side, fittings: [glued]}}
"""


def test_the_results_of_another_product_are_not_replaced_in_silence(
    tmp_path: pathlib.Path,
) -> None:
    """The last that is read names what is gone; the same product says nothing."""
    out, source = tmp_path / "out", tmp_path / "shelf.yaml"

    def made(title: str, *more: str) -> str:
        source.write_text(SHELF.format(title=title), encoding="utf-8")
        result = CliRunner().invoke(
            group, ["workshop", str(source), "--out", str(out), "--files", "order", *more]
        )
        assert result.exit_code == 0, result.output
        return result.output

    assert "output-replaced" not in made("Key shelf")
    assert "output-replaced" not in made("Key shelf")
    told = made("Coat rack").rstrip().split("\n")
    assert any("held the results of Key shelf; those of Coat rack" in line for line in told[-2:])
    told = made("Coat rack", "--variant", "wide").rstrip().split("\n")
    assert any("of Coat rack; those of Coat rack, wide are there now" in line for line in told[-2:])


def test_every_table_says_what_it_is_of(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "shelf.yaml"
    source.write_text(SHELF.format(title="Key shelf"), encoding="utf-8")
    for command, more in (("build", []), ("workshop", ["--files", "order,dxf,programs"])):
        out = tmp_path / command
        result = CliRunner().invoke(
            group, [command, str(source), "--out", str(out), "--variant", "wide", *more]
        )
        assert result.exit_code == 0, result.output
        tables = sorted(out.rglob("*.csv"))
        assert tables
        for table in tables:
            with table.open(encoding="utf-8-sig", newline="") as file:
                head, *rows = csv.reader(file, strict=True)
            assert head[-4:] == ["Product", "Revision", "Batch", "Variant"], table
            for row in rows:
                assert row[-4:] == ["Key shelf", "7", "spring", "wide"], table
                assert len(row) == len(head)
