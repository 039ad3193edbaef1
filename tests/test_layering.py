"""Data flows one way: a module imports only from its own row and from rows above it."""

from __future__ import annotations

import ast
import graphlib
import pathlib
from collections.abc import Iterator

import pytest

PACKAGE = pathlib.Path(__file__).parent.parent / "kdkit"

ROWS = {
    "areas": 1,
    "diagnostics": 1,
    "frames": 1,
    "interrupts": 1,
    "visible": 1,
    "lazy": 1,
    "units": 1,
    "definition": 2,
    "model": 3,
    "catalogue": 4,
    "geometry": 5,
    "parts": 5,
    "joinery": 6,
    "inspect": 7,
    "plan": 8,
    "schedule": 9,
    "samples": 10,
    "illustrate": 11,
    "archive": 12,
    "delivery": 12,
    "publish": 12,
    "imports": 12,
    "production": 12,
    "run": 13,
    "opening": 13,
    "pipeline": 13,
    "workshop": 13,
    "packing": 13,
    "producing": 13,
    "issuing": 13,
    "reprinting": 13,
    "sending": 13,
    "joint_choice": 13,
    "plan_questions": 13,
    "desk": 14,
    "cli": 15,
    "__main__": 16,
}

# Inside a large row the packages keep an order of their own.
INNER_ROWS = {
    "model": {
        "left_out": 1,
        "limits": 1,
        "words": 1,
        "says": 2,
        "resolved": 3,
        "schema": 3,
        "reading": 4,
        "lengths": 5,
        "panels": 6,
        "resolving": 7,
    },
    "plan": {
        "plan": 1,
        "motion": 2,
        "blocking": 3,
        "choice": 4,
        "order": 5,
        "operations": 6,
        "taking_apart": 7,
        "make": 8,
        "why": 9,
        "verify": 10,
        "no_plan": 11,
    },
    "illustrate": {
        "paper": 1,
        "bodies": 2,
        "hidden_lines": 3,
        "staging": 4,
        "annotation": 5,
        "composition": 6,
        "figures": 7,
        "in_the_round": 8,
        "no_plan": 9,
    },
    "publish": {
        "results": 1,
        "wording": 2,
        "typesetting": 3,
        "manual": 4,
        "files": 5,
        "apart_manual": 6,
        "catalogue_page": 7,
        "no_plan": 7,
        "workshop": 7,
        "packing": 8,
        "production": 9,
    },
}

# Libraries that are one row's own affair.
KEPT_INSIDE = {
    "networkx": {"plan"},
    "sqlalchemy": {"archive"},
    "alembic": {"archive"},
    "ruamel": {"definition"},
    "weasyprint": {"publish"},
    "fontTools": {"illustrate"},
    "jinja2": {"publish", "desk"},
    "flask": {"desk"},
    "waitress": {"desk"},
    "werkzeug": {"desk"},
    "click": {"cli"},
    "build123d": {"publish"},
    "ezdxf": {"publish", "imports"},
    "rectpack": {"schedule"},
    "xlsxwriter": {"publish"},
    "segno": {"publish"},
    "openpyxl": {"imports"},
    "scipy": {"inspect", "schedule"},
}

MODULES = sorted(p for p in PACKAGE.rglob("*.py") if p != PACKAGE / "__init__.py")

INNER_MODULES = [
    m
    for m in MODULES
    for row in INNER_ROWS
    if m.is_relative_to(PACKAGE / row) and m != PACKAGE / row / "__init__.py"
]


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


def inner_row(module: pathlib.Path) -> str:
    """Return the package or module just inside a row."""
    return module.relative_to(PACKAGE).parts[1].removesuffix(".py")


def inner_imports(module: pathlib.Path) -> Iterator[str]:
    """Give the package or module of the module's own row in each import from that row."""
    for name in imported_names(module):
        if name.startswith(f"kdkit.{row_name(module)}."):
            yield name.split(".")[2]


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


def test_what_a_part_is_comes_before_its_facts() -> None:
    """The two share a row: parts are placed first, and then weighed and compared."""
    for module in MODULES:
        if row_name(module) == "geometry":
            imports = [name for name in imported_names(module) if name.startswith("kdkit.parts")]
            assert not imports, f"{module.name} imports {imports}"


@pytest.mark.parametrize("row", INNER_ROWS)
def test_every_package_of_a_large_row_is_known(row: str) -> None:
    found = {inner_row(module) for module in INNER_MODULES if row_name(module) == row}
    assert found == set(INNER_ROWS[row])


@pytest.mark.parametrize("module", INNER_MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_only_from_packages_above_in_its_row(module: pathlib.Path) -> None:
    rows = INNER_ROWS[row_name(module)]
    for name in inner_imports(module):
        assert name in rows, f"{module.name} imports {name}"
        assert rows[name] <= rows[inner_row(module)], f"{module.name} imports {name} from below"


def test_pictures_of_a_no_need_none_of_a_plan() -> None:
    used = {
        name
        for m in INNER_MODULES
        if row_name(m) == "illustrate" and inner_row(m) == "no_plan"
        for name in inner_imports(m)
    }
    assert not used & {"composition", "figures"}


def test_check_of_a_certificate_shares_nothing_with_the_planner() -> None:
    shared = {
        name
        for m in INNER_MODULES
        if row_name(m) == "plan" and inner_row(m) == "verify"
        for name in inner_imports(m)
    } - {"verify"}
    assert shared == {"plan"}


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_keeps_libraries_in_their_row(module: pathlib.Path) -> None:
    for name in imported_names(module):
        rows = KEPT_INSIDE.get(name.split(".")[0])
        assert rows is None or row_name(module) in rows, f"{module.name} imports {name}"


def test_no_modules_import_each_other_in_a_circle() -> None:
    named = {
        ".".join(("kdkit", *m.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(
            ".__init__"
        ): m
        for m in MODULES
    }
    graph = {
        name: {
            found
            for imported in imported_names(module)
            for found in [imported if imported in named else imported.rpartition(".")[0]]
            if found in named
        }
        for name, module in named.items()
    }
    assert sum(map(len, graph.values())) > len(graph)
    tuple(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError


def test_sees_imports_inside_functions_and_plain_ones(tmp_path: pathlib.Path) -> None:
    module = tmp_path / "m.py"
    module.write_text("import networkx as nx\ndef f():\n    from kdkit.cli import main\n")
    assert sorted(imported_names(module)) == ["kdkit.cli.main", "networkx"]
