"""The catalogue that comes with kdkit, in a form that is read at once.

Reading its YAML takes longer than checking a small product. What stands in it is therefore
kept as JSON, too, and used only while the YAML files are what it was made from. A test holds
the two to each other, and renews it.
"""

from __future__ import annotations

import functools
import hashlib
import json
import pathlib
from typing import Any

from kdkit.definition.source import Definition, load_document
from kdkit.definition.tree import Node, Place
from kdkit.diagnostics import Problem

__all__ = ["built_in_files", "load_shipped", "write_shipped"]

_DATA = pathlib.Path(__file__).parent / "data"
_READ = _DATA / "as-read.json"
_NOWHERE = Place(0, 0, 0, 0)


def built_in_files() -> tuple[pathlib.Path, ...]:
    """Return the catalogue files that come with kdkit, in the order they are read."""
    return tuple(sorted(_DATA.glob("*.yaml")))


def load_shipped(path: pathlib.Path) -> tuple[Definition | None, tuple[Problem, ...]]:
    """Read a file of the catalogue; one that was read before has no places of its values.

    Whoever finds a problem with it reads it with ``load_document``.
    """
    kept = _kept().get(path.name) if path.parent == _DATA else None
    if kept is None or kept["sha256"] != _sum(path):
        return load_document(path)
    root = Node(place=_NOWHERE)
    data = kept["data"]
    return Definition(file=str(path), folder=path.parent, data=data, root=root, lines=()), ()


def write_shipped() -> pathlib.Path:
    """Read the YAML files and keep what stands in them; return where."""
    kept = {}
    for path in built_in_files():
        document, problems = load_document(path)
        if document is None:
            raise ValueError(f"{path.name}: {problems}")
        kept[path.name] = {"sha256": _sum(path), "data": document.data}
    _READ.write_text(json.dumps(kept, ensure_ascii=False, indent=1) + "\n", "utf-8", newline="")
    return _READ


def _sum(path: pathlib.Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@functools.cache
def _kept() -> dict[str, Any]:
    try:
        kept = json.loads(_READ.read_bytes())
    except (OSError, ValueError):  # then the YAML files are read
        return {}
    return kept if isinstance(kept, dict) else {}
