"""Names that are imported when they are used are the names that type checkers see."""

from __future__ import annotations

import ast
import importlib
import pathlib
import subprocess
import sys

import pytest

import kdkit
from kdkit.lazy import lazy_names

ROOT = pathlib.Path(__file__).parents[2]
LAZY = sorted(
    file.parent.relative_to(ROOT).as_posix().replace("/", ".")
    for file in (ROOT / "kdkit").rglob("__init__.py")
    if "lazy_names(" in file.read_text(encoding="utf-8")
)

WRITING = ("weasyprint", "jinja2", "ezdxf", "xlsxwriter", "openpyxl", "build123d", "fontTools")
SELDOM = ("markdown_it", "nh3")
"""What most products are checked without: it takes longer to import than they to check."""
OTHER_COMMANDS = (
    "kdkit.delivery.folder", "kdkit.plan.no_plan", "kdkit.plan.taking_apart",
    "kdkit.plan.verify", "kdkit.plan.why", "kdkit.publish.manual", "kdkit.samples",
)  # fmt: skip


@pytest.mark.parametrize("name", LAZY)
def test_what_type_checkers_see_is_what_is_given(name: str) -> None:
    package = importlib.import_module(name)
    tree = ast.parse(pathlib.Path(str(package.__file__)).read_text(encoding="utf-8"))
    (checked,) = (
        node for node in tree.body
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    )  # fmt: skip
    seen = {
        alias.name: node.module
        for node in ast.walk(checked)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert seen
    for attribute, module in seen.items():
        assert module is not None
        expected = getattr(importlib.import_module(module), attribute)
        assert getattr(package, attribute) is expected
    assert set(package.__all__) <= set(dir(package))


def test_an_unknown_name_is_an_attribute_error() -> None:
    assert len(LAZY) >= 5
    with pytest.raises(AttributeError, match=r"module 'kdkit' has no attribute 'nosuch'"):
        _ = kdkit.nosuch
    get, _ = lazy_names("kdkit", {})
    with pytest.raises(AttributeError):
        get("resolve")


def imported(*arguments: str) -> set[str]:
    """Return every module that a command imports."""
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "kdkit", *arguments],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    lines = (line for line in run.stderr.splitlines() if line.startswith("import time:"))
    return {line.rpartition("|")[2].strip() for line in lines}


def test_a_check_imports_nothing_that_writes_results() -> None:
    modules = imported("check", "examples/bookcase.yaml")
    assert "kdkit.inspect.checks" in modules
    assert modules.isdisjoint(WRITING)
    assert modules.isdisjoint(SELDOM)
    assert modules.isdisjoint(OTHER_COMMANDS)


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_imports_no_row_below_the_command_line(option: str) -> None:
    modules = {m for m in imported(option) if m.startswith("kdkit.")}
    assert "kdkit.cli.group" in modules
    assert modules <= {
        "kdkit.__main__", "kdkit.cli", "kdkit.cli.gate", "kdkit.cli.group", "kdkit.interrupts",
        "kdkit.lazy", "kdkit.visible",
    }  # fmt: skip
