"""What is wrong in a catalogue file, in a maker's words, with its path there."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import replace

from pydantic import ValidationError

from kdkit.catalogue.entry import Entry
from kdkit.diagnostics import Path, Problem, error
from kdkit.model.reading.faults import fault_problem, follows_from_items, without_misspelt_twice

__all__ = ["bad_value", "unknown_key", "unknown_name", "validation_problems"]

_CODES = {"unknown-key": "catalogue-key"} | dict.fromkeys(
    (
        "empty-list",
        "missing-key",
        "out-of-range",
        "too-many-parts",
        "unknown-word",
        "wrong-type",
        "wrong-value",
    ),
    "catalogue-value",
)
"""A definition's code → the one for the same fault in a catalogue; the gate's own stay."""


def validation_problems(fault: ValidationError, path: Path, model: type[Entry]) -> list[Problem]:
    """Return pydantic's errors about an entry of a model, in the words of a definition's."""
    found = [
        fault_problem(one, model, also=("like",))
        for one in fault.errors(include_url=False)
        if not follows_from_items(one)
    ]
    return [
        replace(p, code=_CODES.get(p.code, p.code), path=(*path, *p.path))
        for p in without_misspelt_twice(found)
    ]


def unknown_key(path: Path, help: str) -> Problem:
    """Return a problem with a key that nothing reads."""
    problem = error("catalogue-key", f"unknown key {str(path[-1])[:80]!r}", path, help=help)
    return replace(problem, on_key=True)


def bad_value(path: Path, message: str) -> Problem:
    """Return a problem with a value; the message goes on after the last key of its path."""
    last = path[-1] if isinstance(path[-1], str) else f"{path[-2]}, number {path[-1] + 1}"
    return error("catalogue-value", f"{last}: {message}", path)


def unknown_name(path: Path, kind: str, name: object, known: Sequence[str]) -> Problem:
    """Return a problem with a name that nothing of a kind has, and the nearest that has."""
    near = difflib.get_close_matches(str(name)[:80], known, n=1)
    if near:
        help = f"did you mean {near[0]}?"
    elif len(known) <= 12:
        help = f"known: {', '.join(each[:80] for each in known)}" if known else ""
    else:
        help = "add it to the catalogue file"
    return error(
        "catalogue-name", f"nothing is called {str(name)[:80]!r} among the {kind}", path, help=help
    )
