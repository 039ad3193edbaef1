"""What is wrong in a catalogue file, in a maker's words, with its path there."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from kdkit.catalogue.entries import Entry
from kdkit.diagnostics import Path, Problem, error

__all__ = ["bad_value", "unknown_key", "unknown_name", "validation_problems"]

_MUST_BE = {
    "bool": "must be true or false",
    "dict": "must be keys with values",
    "float": "must be a number",
    "int": "must be a whole number",
    "list": "must be a list",
    "model": "must be keys with values",
    "string_type": "must be a text",
    "tuple": "must be a list",
}
"""By the beginning of pydantic's name of an error."""


def validation_problems(fault: ValidationError, path: Path, model: type[Entry]) -> list[Problem]:
    """Return pydantic's errors about an entry of a model in a maker's words."""
    problems = []
    for one in fault.errors(include_url=False, include_context=False, include_input=False):
        inner = tuple(s for s in one["loc"] if not _is_type_name(s))
        here = (*path, *inner)
        if one["type"] == "extra_forbidden":
            known = _known_keys(model, inner)
            near = difflib.get_close_matches(str(inner[-1]), known, n=1)
            help = f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}"
            problems.append(unknown_key(here, help))
        elif one["type"] == "missing":
            problems.append(bad_value(here[:-1], f"{here[-1]} is missing"))
        else:
            problems.append(bad_value(here, _in_plain_words(one["type"], one["msg"])))
    return problems


def _in_plain_words(kind: str, message: str) -> str:
    """Return what pydantic says of a value as a maker would say it."""
    if kind == "literal_error":
        return "must be " + message.removeprefix("Input should be ").replace("'", "")
    known = [words for start, words in _MUST_BE.items() if kind.startswith(start)]
    return known[0] if known else message[:1].lower() + message[1:]


def _is_type_name(step: str | int) -> bool:
    """Tell a member of a union in pydantic's location from a key of ours."""
    return isinstance(step, str) and (
        step in ("float", "str", "int", "Lean") or step.startswith(("literal[", "constrained"))
    )


def _known_keys(entry: type[Entry], inner: Path) -> list[str]:
    """Return the keys that may stand where an unknown one was written."""
    model: Any = entry
    for step in inner[:-1]:
        if isinstance(step, int):
            continue
        inside = _inner_model(model.model_fields[step].annotation)
        if inside is None:
            return []
        model = inside
    return sorted([*model.model_fields, *(["like"] if len(inner) == 1 else [])])


def _inner_model(annotation: Any) -> type[Entry] | None:
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _inner_model(part)
        if found is not None:
            return found
    return None


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
