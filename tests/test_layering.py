"""Data flows one way: a module imports only from its own row and from rows above it."""

from __future__ import annotations

import ast
import pathlib
from collections.abc import Iterator

import pytest

PACKAGE = pathlib.Path(__file__).parent.parent / "kdkit"

ROWS = {
    "diagnostics": 1,
    "frames": 1,
    "units": 1,
    "definition": 2,
    "model": 3,
    "catalogue": 4,
    "geometry": 5,
    "joinery": 6,
    "inspect": 7,
    "plan": 8,
    "schedule": 9,
    "samples": 10,
    "illustrate": 11,
    "publish": 12,
    "imports": 12,
    "pipeline": 13,
    "cli": 14,
    "__main__": 15,
}

# Libraries that are one row's own affair.
KEPT_INSIDE = {
    "networkx": {"plan"},
    "ruamel": {"definition"},
    "weasyprint": {"publish"},
    "jinja2": {"publish"},
    "click": {"cli"},
    "build123d": {"publish"},
    "ezdxf": {"publish", "imports"},
    "rectpack": {"schedule"},
    "xlsxwriter": {"publish"},
    "openpyxl": {"imports"},
}

MODULES = sorted(p for p in PACKAGE.rglob("*.py") if p != PACKAGE / "__init__.py")


def row_name(module: pathlib.Path) -> str:
    """Return the row's name: the folder or module just inside the package."""
    return module.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_names(module: pathlib.Path) -> Iterator[str]:
    """Give every dotted name that a module imports, inside functions too."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: a relative import"
            assert node.module is not None
            for alias in node.names:
                yield f"{node.module}.{alias.name}"


def test_every_row_is_known() -> None:
    found = {row_name(module) for module in MODULES}
    assert found <= set(ROWS)
    assert set(ROWS) - found == set()


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_only_from_rows_above(module: pathlib.Path) -> None:
    own = ROWS[row_name(module)]
    for name in imported_names(module):
        parts = name.split(".")
        if parts[0] == "kdkit" and len(parts) > 1 and parts[1] in ROWS:
            assert ROWS[parts[1]] <= own, f"{module.name} imports {name} from a row below"


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_keeps_libraries_in_their_row(module: pathlib.Path) -> None:
    for name in imported_names(module):
        rows = KEPT_INSIDE.get(name.split(".")[0])
        assert rows is None or row_name(module) in rows, f"{module.name} imports {name}"


def test_sees_imports_inside_functions_and_plain_ones(tmp_path: pathlib.Path) -> None:
    module = tmp_path / "m.py"
    module.write_text("import networkx as nx\ndef f():\n    from kdkit.cli import main\n")
    assert sorted(imported_names(module)) == ["kdkit.cli.main", "networkx"]
