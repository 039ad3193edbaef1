"""What `import kdkit` gives, and that the examples in docstrings run."""

from __future__ import annotations

import doctest
import importlib
import pathlib
import pydoc
import subprocess
import sys

import pytest

import kdkit

ROOT = pathlib.Path(kdkit.__file__).parent
WITH_EXAMPLES = sorted(
    ".".join(("kdkit", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
    for path in ROOT.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_in_docstrings_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted
    assert not result.failed


def test_help_is_a_page_that_names_the_public_functions() -> None:
    page = pydoc.plain(pydoc.render_doc(kdkit))
    assert len(page.splitlines()) < 400
    for name in ("build(request", "check(request", "class Request", "class Problem"):
        assert name in page


def test_all_words_of_a_definition_are_there_and_nothing_is_imported_for_them() -> None:
    import kdkit.model

    words = set(dir(kdkit)) & set(kdkit.model.__all__)
    assert {"Product", "Panel", "Joint", "Unit", "resolve"} <= words
    assert all(getattr(kdkit, word) is getattr(kdkit.model, word) for word in words)
    code = "import sys, kdkit; print([m for m in sys.modules if m.startswith('kdkit.')])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "['kdkit.lazy']\n"


def test_types_of_the_package_are_for_its_users_too() -> None:
    assert (ROOT / "py.typed").is_file()
