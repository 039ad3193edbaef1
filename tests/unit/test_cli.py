"""The command line: every command has help, examples and a place in the README."""

from __future__ import annotations

import json
import math
import os
import pathlib
import re
import subprocess
import sys
from collections.abc import Callable

import click
import pytest
from click.testing import CliRunner, Result

import kdkit.cli
from kdkit.cli import commands, definition_command, show
from kdkit.cli.commands import STARTERS, group
from kdkit.cli.group import COMMANDS
from kdkit.diagnostics import CODES, Severity, advice, error, warning
from tests.products import PACKED_RING, RING

ROOT = pathlib.Path(__file__).parent.parent.parent
BOOKCASE = ROOT / "examples" / "bookcase.yaml"

Run = Callable[..., Result]


@pytest.fixture
def run() -> Run:
    def call(*args: object) -> Result:
        return CliRunner().invoke(group, [str(a) for a in args])

    return call


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_command_has_help_examples_and_a_place_in_the_readme(name: str, run: Run) -> None:
    result = run(name, "--help")
    assert result.exit_code == 0
    assert "Examples:" in result.output
    assert f"  kdkit {name}" in result.output
    assert f"`kdkit {name}" in (ROOT / "README.md").read_text(encoding="utf-8")
    command = group.get_command(click.Context(group), name)
    assert command is not None
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, f"{name} {option.opts} says nothing"


def test_wrong_usage_leaves_with_2(run: Run, tmp_path: pathlib.Path) -> None:
    assert run("chek").exit_code == 2
    assert run("check").exit_code == 2
    assert run("check", tmp_path).exit_code == 2
    assert run("check", tmp_path / "not-there.yaml").exit_code == 2
    assert run("build", BOOKCASE).exit_code == 2
    assert run("build", BOOKCASE, "--out", tmp_path / "o", "--paper", "a5").exit_code == 2
    assert run("new", "spaceship").exit_code == 2


@pytest.mark.parametrize("setting", ["width", "width=", "=5", "width=wide", "width=nan", "w=inf"])
def test_refuses_a_setting_that_is_no_number(setting: str, run: Run) -> None:
    result = run("check", BOOKCASE, "--set", setting)
    assert result.exit_code == 2
    said = "as in width=900" if setting in ("width", "=5") else "is no number"
    assert said in result.stderr


def test_check_of_an_example_is_fine(run: Run) -> None:
    result = run("check", BOOKCASE, "--strict")
    assert result.exit_code == 0
    assert re.fullmatch(rf"{BOOKCASE}: \d+ pieces of advice\n", result.stdout)
    assert ": error: " not in result.stderr
    assert ": warning: " not in result.stderr
    assert "[dead-ends]" in result.stderr


@pytest.mark.parametrize(("after", "told"), [(-1.0, True), (math.inf, False)])
def test_progress_is_told_of_a_run_that_takes_long(
    after: float, told: bool, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(definition_command, "QUIET_SECONDS", after)
    said = run("check", BOOKCASE).stderr
    assert ("reading the definition …\n" in said) is told
    assert (" …\n" in said) is told


def test_a_warning_is_a_problem_only_when_it_is_strict(run: Run, tmp_path: pathlib.Path) -> None:
    file = tmp_path / "case.yaml"
    assert run("new", "open-case", file).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert text.count("at: [22, -22]") == 1
    file.write_text(text.replace("at: [22, -22]", "at: [12, -12]"), encoding="utf-8")
    assert run("check", file).exit_code == 0
    result = run("check", file, "--strict", "--json")
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert data["fine"] is False
    told = [p["code"] for p in data["problems"] if p["severity"] != "advice"]
    assert told == ["end-distance-small"]
    assert data["problems"][0]["line"] > 1


def test_plan_answers_why_one_part_comes_before_another(run: Run) -> None:
    result = run("plan", BOOKCASE, "--why", "plinth", "back")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "plinth comes before back." in result.stdout
    assert "In this plan it must:" in result.stdout
    data = json.loads(run("plan", BOOKCASE, "--why", "plinth", "back", "--json").stdout)
    assert data["why"]["chain"][-1]["after"] == "mate/back"
    unknown = run("plan", BOOKCASE, "--why", "plinth", "roof")
    assert unknown.exit_code == 1
    assert "there is no part or operation roof" in unknown.stderr


def test_check_as_json_gives_problems_as_data_on_stdout(run: Run) -> None:
    fine = run("check", BOOKCASE, "--json")
    told = json.loads(fine.stdout)
    assert (told["file"], told["fine"]) == (str(BOOKCASE), True)
    assert {problem["severity"] for problem in told["problems"]} == {"advice"}
    bad = run("check", BOOKCASE, "--json", "--set", "width=9000")
    assert bad.exit_code == 1
    data = json.loads(bad.stdout)
    assert data["fine"] is False
    assert data["problems"][0]["severity"] == "error"
    assert "9000" in data["problems"][0]["message"]


def test_check_reports_an_unknown_variant_and_parameter(run: Run) -> None:
    for args in (["--variant", "colossal"], ["--set", "widht=500"]):
        result = run("check", BOOKCASE, *args)
        assert result.exit_code == 1
        assert "error:" in result.stderr
        assert "help:" in result.stderr


def test_plan_shows_steps_and_reasons(run: Run) -> None:
    result = run("plan", BOOKCASE)
    assert result.exit_code == 0
    assert "Step 1 (" in result.stdout
    assert "Why this order" in result.stdout
    assert " before " in result.stdout
    data = json.loads(run("plan", BOOKCASE, "--json").stdout)
    assert len(data["steps"]) == result.stdout.count("\nStep ")


def test_schema_describes_the_examples(run: Run) -> None:
    import jsonschema
    from ruamel.yaml import YAML

    schema = json.loads(run("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    for example in sorted((ROOT / "examples").glob("*.yaml")):
        data = YAML(typ="safe").load(example.read_text(encoding="utf-8"))
        jsonschema.validate(data, schema)


def test_workshop_writes_what_is_named(run: Run, tmp_path: pathlib.Path) -> None:
    folder = tmp_path / "shop"
    result = run("workshop", BOOKCASE, "--out", folder, "--files", "xlsx")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.split() == [str(folder / "tables.xlsx"), str(folder / "workshop.json")]
    index = json.loads((folder / "workshop.json").read_text(encoding="utf-8"))
    assert index["files"] == {"xlsx": ["tables.xlsx"]}
    again = run("workshop", BOOKCASE, "--out", folder, "--files", "xlsx")
    assert again.exit_code == 0


def test_workshop_orders_for_the_saw_that_is_named(run: Run, tmp_path: pathlib.Path) -> None:
    used = []
    for trim in (0, 60):
        folder = tmp_path / str(trim)
        result = run("workshop", BOOKCASE, "--out", folder, "--files", "order", "--trim", trim)
        assert result.exit_code == 0
        used.append((folder / "order.pdf").read_bytes())
    assert used[0] != used[1]
    wrong = run("workshop", BOOKCASE, "--out", tmp_path / "w", "--kerf", "-1")
    assert wrong.exit_code == 2


def test_workshop_refuses_what_it_does_not_know(run: Run, tmp_path: pathlib.Path) -> None:
    result = run("workshop", BOOKCASE, "--out", tmp_path / "s", "--files", "dxf,hologram")
    assert result.exit_code == 2
    assert "hologram" in result.stderr
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "letter.txt").write_text("mine")
    result = run("workshop", BOOKCASE, "--out", kept, "--files", "xlsx")
    assert result.exit_code == 1
    assert "output-not-ours" in result.stderr
    bad = run("workshop", BOOKCASE, "--out", tmp_path / "s", "--set", "width=9000")
    assert bad.exit_code == 1
    assert not (tmp_path / "s").exists()


@pytest.mark.parametrize("kind", sorted(STARTERS))
def test_new_writes_a_definition_without_problems(
    kind: str, run: Run, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "mine.yaml"
    assert run("new", kind, file).stdout == f"{file}\n"
    result = run("check", file, "--strict", "--json")
    assert result.exit_code == 0
    codes = {problem["code"] for problem in json.loads(result.stdout)["problems"]}
    assert codes <= {"dead-ends", "kind-rules", "panel-fits-wrongly"}
    assert "# " in file.read_text(encoding="utf-8")


def test_new_never_overwrites(
    run: Run, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("new", "frame").exit_code == 0
    (tmp_path / "frame.yaml").write_text("mine")
    result = run("new", "frame")
    assert result.exit_code == 1
    assert "already" in result.stderr
    assert (tmp_path / "frame.yaml").read_text() == "mine"


def test_a_fault_in_kdkit_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("of\nall things")

    monkeypatch.setattr(commands, "check", fail)
    assert kdkit.cli.run(["check", str(BOOKCASE)]) == 1
    said = capsys.readouterr().err
    assert said.startswith("kdkit: fault in kdkit: ZeroDivisionError: of all things")
    assert said.count("\n") == 1
    assert kdkit.cli.run(["check", str(BOOKCASE), "--debug"]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_a_lack_of_memory_is_told_with_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: object, **__: object) -> None:
        try:
            raise MemoryError
        except MemoryError as fault:
            raise ImportError("a library's own words") from fault

    monkeypatch.setattr(commands, "check", fail)
    assert kdkit.cli.run(["check", str(BOOKCASE)]) == 1
    said = capsys.readouterr().err
    assert said.startswith("error: kdkit ran out of memory; nothing was written\n  help: ")


def test_a_disk_that_refuses_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", "/somewhere/new.yaml")

    monkeypatch.setattr(commands, "check", refuse)
    assert kdkit.cli.run(["check", str(BOOKCASE)]) == 1
    assert capsys.readouterr().err == "error: Permission denied: /somewhere/new.yaml\n"


def test_a_missing_system_library_is_said(tmp_path: pathlib.Path) -> None:
    (tmp_path / "weasyprint.py").write_text(
        "raise OSError(\"cannot load library 'libpango-1.0-0': no such file\")\n"
    )
    run = subprocess.run(
        [sys.executable, "-m", "kdkit", "build", str(BOOKCASE), "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        check=False,
    )
    assert run.returncode == 1
    assert not (tmp_path / "out").exists()
    assert run.stderr[run.stderr.index("error: ") :].startswith(
        "error: cannot load library 'libpango-1.0-0'"
    )
    assert "help: " in run.stderr
    assert "Traceback" not in run.stderr


def test_a_reader_that_leaves_early_is_no_fault() -> None:
    reading, writing = os.pipe()
    process = subprocess.Popen(
        [sys.executable, "-m", "kdkit", "schema"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    os.close(reading)
    os.close(writing)
    _, said = process.communicate(timeout=60)
    assert said == ""
    assert process.returncode == 1


def test_terminal_controls_in_a_definition_stay_text() -> None:
    assert show.printable("a\x1b[2Jb\nc\x07 × ü") == "a\\x1b[2Jb\nc\\x07 × ü"


def test_tally_counts_by_severity() -> None:
    code = "file-not-read"
    problems = [error(code, "a"), error(code, "b"), warning(code, "c"), advice(code, "d")]
    assert show.tally(problems) == "2 errors, 1 warning, 1 piece of advice"
    assert show.tally([]) == "no problems"


def test_problem_data_has_a_place_and_words() -> None:
    data = show.problem_data(error("file-not-read", "m", ("panels", "a", 0), help="h"))
    assert data["path"] == ["panels", "a", 0]
    assert data["severity"] == Severity.ERROR
    assert data["line"] is None


def test_direction_words_for_slanted_ways() -> None:
    assert show.direction_words((0.0, 0.0, -1.0)) == "downwards"
    assert show.direction_words((0.6, 0.0, 0.8)) == "along (0.600, 0.000, 0.800)"


@pytest.mark.parametrize("text", [RING, PACKED_RING], ids=["single parts", "packed as one"])
def test_plan_of_an_impossible_product_writes_a_proof_that_verify_confirms(
    run: Run, tmp_path: pathlib.Path, text: str
) -> None:
    file, folder = tmp_path / "ring.yaml", tmp_path / "why"
    file.write_text(text, encoding="utf-8")
    for command in (["check", file], ["build", file, "--out", tmp_path / "built"]):
        refused = run(*command)
        assert refused.exit_code == 1
        assert "[no-assembly-order]" in refused.stderr
    planned = run("plan", file, "--out", folder)
    assert planned.exit_code == 1
    assert "Step 1" not in planned.output
    assert "What would change it" in planned.stderr
    assert [pathlib.Path(line).name for line in planned.stdout.splitlines()] == [
        "impossible.html",
        "impossible.json",
        "impossible.svg",
        "impossible.txt",
    ]
    proof = folder / "impossible.json"
    verified = run("verify", file, proof)
    assert verified.exit_code == 0
    assert "the proof holds; there is no order by two hands, one straight move" in verified.stdout
    said = json.loads(proof.read_text(encoding="utf-8"))
    other_reasons = json.loads(json.dumps(said["loops"]))
    other_reasons[2]["blocks"][1]["reason"] = "it is too heavy"
    for change, fault in (
        ({"motion_class": "two hands, any moves"}, "motion_class: this check knows no such class"),
        ({"parameters": {"width": 3}}, "parameters.width: the product has no such parameter"),
        ({"variant": "wide"}, "variant: the proof is about wide, asked is no variant"),
        ({"product": "Another"}, "product: the proof is about Another"),
        ({"loops": other_reasons}, "loops[2].blocks[1].reason: it is not why"),
    ):
        forged = tmp_path / "forged.json"
        forged.write_text(json.dumps({**said, **change}), encoding="utf-8")
        rejected = run("verify", file, forged)
        assert rejected.exit_code == 1
        assert fault in rejected.stdout
    screwed = "screw-4x45".join(text.rsplit("dowel-8x30", 1))
    file.write_text(screwed, encoding="utf-8")
    refuted = run("verify", file, proof)
    assert refuted.exit_code == 1
    assert "can move along" in refuted.stdout
    assert run("verify", file, file).exit_code == 1
    as_data = json.loads(run("plan", file, "--json").stdout)
    assert "steps" in as_data


def test_plan_json_of_an_impossible_product_has_loops_and_cures(
    run: Run, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "ring.yaml"
    file.write_text(RING, encoding="utf-8")
    data = json.loads(run("plan", file, "--json").stdout)
    assert data["fine"] is False
    assert data["no_plan"]["verdict"] == "impossible"
    assert len(data["no_plan"]["loops"]) == 6
    assert data["no_plan"]["cures"]["found"]


def test_plan_out_writes_nothing_when_there_is_a_plan(run: Run, tmp_path: pathlib.Path) -> None:
    folder = tmp_path / "why"
    done = run("plan", BOOKCASE, "--out", folder)
    assert done.exit_code == 0
    assert not folder.exists()
    assert "Step 1" in done.stdout


def test_a_code_is_explained(run: Run) -> None:
    result = run("explain", "[fitting-gap]", "yaml-tab")
    assert result.exit_code == 0
    assert result.output.splitlines() == [
        f"fitting-gap  {CODES['fitting-gap']}",
        f"yaml-tab     {CODES['yaml-tab']}",
    ]
    assert len(run("explain").output.splitlines()) == len(CODES)


def test_unknown_codes_are_told_with_the_nearest(run: Run) -> None:
    result = run("explain", "fiting-gap", "\x1b[2J")
    assert result.exit_code == 2
    assert "no message has the code fiting-gap, the nearest is fitting-gap; no" in result.stderr
    assert "\x1b" not in result.stderr
