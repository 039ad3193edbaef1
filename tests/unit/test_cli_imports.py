"""The commands that start from what other programs hand over."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Callable

import ezdxf
import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from kdkit.pipeline import Request, check

LIST = pathlib.Path(__file__).parent.parent.parent / "examples" / "panels.csv"
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)

    def call(*args: object) -> Result:
        return CliRunner().invoke(group, [str(a) for a in args])

    return call


def test_start_writes_a_definition_and_lists_its_questions(
    run: Run, tmp_path: pathlib.Path
) -> None:
    result = run("start", LIST)
    assert result.exit_code == 0
    first, *lines = result.stdout.strip().split("\n")
    left = [line for line in lines if "not taken over" in line]
    assert left == [
        "panels.yaml: not taken over: line 9 (# doors come with the next batch): a comment",
        "panels.yaml: not taken over: line 10 (Total | 8): a total",
    ]
    questions = lines[len(left) :]
    assert first.startswith("panels.yaml: 8 panels, ")
    text = (tmp_path / "panels.yaml").read_text(encoding="utf-8")
    for n, line in enumerate(questions, start=1):
        name, number, said = line.split(":", 2)
        assert name == "panels.yaml"
        assert said.startswith(f" QUESTION {n}: ")
        assert f"# QUESTION {n}: " in text.split("\n")[int(number) - 1]
    assert "Not taken over: line 10 (Total | 8): a total" in text
    problems = check(Request(file=tmp_path / "panels.yaml")).problems
    assert {p.code for p in problems} == {"open-question"}
    again = run("start", LIST)
    assert again.exit_code == 1
    assert "is there already" in again.stderr
    assert (tmp_path / "panels.yaml").read_text(encoding="utf-8") == text


def test_start_tells_all_problems_and_writes_nothing(run: Run, tmp_path: pathlib.Path) -> None:
    (tmp_path / "bad.csv").write_text("name;length;width\nA;x;1\nB;900;y\n", encoding="utf-8")
    result = run("start", "bad.csv", "case.yaml")
    assert result.exit_code == 1
    assert "bad.csv:2:5: error" in result.stderr
    assert "bad.csv:3:11: error" in result.stderr
    assert "nothing was written" in result.stderr
    assert not (tmp_path / "case.yaml").exists()
    assert run("start", "not-there.csv").exit_code == 2
    assert run("start", LIST, "--unit", "ell").exit_code == 2


def test_outline_prints_what_belongs_under_a_panel(run: Run, tmp_path: pathlib.Path) -> None:
    drawing = ezdxf.new(units=ezdxf.units.CM)
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (30, 0), (30, 20), (0, 20)], close=True)
    space.add_circle((10, 10), 2)
    space.add_text("Side")
    drawing.saveas(tmp_path / "side.dxf")
    result = run("outline", "side.dxf", "--face", "-y", "--at", "18,80")
    assert result.exit_code == 0
    assert "outline: [[18, 80], [318, 80], [318, 280], [18, 280]]" in result.stdout
    assert "- {x: 118, z: 180, diameter: 40}" in result.stdout
    assert "1 × TEXT" in result.stderr
    assert run("outline", "side.dxf", "--at", "18").exit_code == 2
    (tmp_path / "no.dxf").write_text("nothing", encoding="utf-8")
    failed = run("outline", "no.dxf")
    assert failed.exit_code == 1
    assert "nothing was read" in failed.stderr


@pytest.mark.parametrize(
    "command", ["start {}", "outline {}", "check {}", "verify box.yaml {}", "catalogue {} --out o"]
)
def test_a_pipe_is_refused_instead_of_waited_for(
    run: Run, tmp_path: pathlib.Path, command: str
) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert run("new", "open-case", "box.yaml").exit_code == 0
    result = run(*command.format("pipe").split())
    assert result.exit_code == 1
    assert "pipe" in result.stderr
    assert "no ordinary file" in result.stderr


@pytest.mark.parametrize(
    ("command", "option"),
    [("start list.csv", "--band"), ("outline list.csv", "--tolerance"),
     ("workshop list.csv --out o", "--kerf"), ("workshop list.csv --out o", "--trim")],
)  # fmt: skip
def test_no_option_takes_a_number_that_measures_nothing(
    run: Run, tmp_path: pathlib.Path, command: str, option: str
) -> None:
    (tmp_path / "list.csv").write_text("name,length,width,thickness\n", encoding="utf-8")
    result = run(*command.split(), option, "nan")
    assert result.exit_code == 2
    assert "'nan' is no number" in result.stderr
