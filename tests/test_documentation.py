"""What the documents say is true: commands, files, the definition in the README, codes."""

from __future__ import annotations

import pathlib
import re
from typing import Any

import pytest

from kdkit.cli.group import COMMANDS
from kdkit.diagnostics import CODES
from kdkit.pipeline import Request, check

ROOT = pathlib.Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_readme_names_only_commands_that_exist() -> None:
    named = set(re.findall(r"`?kdkit ([a-z]+)\b", README)) - {"counts", "works"}
    assert named & set(COMMANDS) == set(COMMANDS)
    in_code = set(re.findall(r"`kdkit ([a-z]+)", README))
    assert in_code <= set(COMMANDS)


def test_readme_definition_has_no_problems(tmp_path: pathlib.Path) -> None:
    text, _ = re.findall(r"```yaml\n(.*?)```", README, flags=re.DOTALL)
    file = tmp_path / "readme.yaml"
    file.write_text(text, encoding="utf-8")
    outcome = check(Request(file=file), risks=False)
    assert outcome.problems == ()
    assert outcome.results is not None
    (top,) = (c for c in outcome.results.schedules.cut if "top" in c.parts)
    assert top.finished[0] == pytest.approx(564)  # as its comment says


def test_readme_mitred_box_has_no_problems(tmp_path: pathlib.Path) -> None:
    _, text = re.findall(r"```yaml\n(.*?)```", README, flags=re.DOTALL)
    file = tmp_path / "readme.yaml"
    file.write_text(text, encoding="utf-8")
    outcome = check(Request(file=file), risks=False)
    assert outcome.problems == ()
    assert outcome.results is not None
    cuts = {part: c for c in outcome.results.schedules.cut for part in c.parts}
    assert cuts["top"].short == pytest.approx((608, 280))  # as its comments say
    assert cuts["shelf"].finished == pytest.approx((618, 280))


def test_readme_python_has_no_problems(capsys: pytest.CaptureFixture[str]) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    names: dict[str, Any] = {}
    exec(compile(code, "README.md", "exec"), names)
    assert names["outcome"].problems == ()
    assert capsys.readouterr().out == "[(255.0, 60.0), (600.0, 60.0)]\n"


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_named_files_exist(text: str) -> None:
    named = set(re.findall(r"`((?:kdkit|tests|examples|styles)/[\w./-]+)`", text))
    named |= set(re.findall(r"\]\(([\w./-]+)\)", text))
    named |= set(re.findall(r'src="([^"]+)"', text))
    named -= {"examples/out/bookcase", "kdkit/styles"}
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_readme_names_what_a_build_writes(built_bookcase: tuple[object, pathlib.Path]) -> None:
    for name in sorted(p.name for p in built_bookcase[1].iterdir()):
        assert f"`{name}" in README


def test_every_problem_code_is_used_and_has_a_meaning() -> None:
    source = "\n".join(
        p.read_text(encoding="utf-8")
        for p in sorted((ROOT / "kdkit").rglob("*.py"))
        if p.name != "diagnostics.py"
    )
    assert [code for code in CODES if f'"{code}"' not in source] == []
    assert all(re.fullmatch(r"[a-z]+(-[a-z0-9]+)*", code) for code in CODES)
    assert all(CODES.values())


@pytest.mark.parametrize("script", ["examples/quickstart.sh", "tests/run.sh", ".ci/run"])
def test_scripts_may_be_run(script: str) -> None:
    assert (ROOT / script).stat().st_mode & 0o111
