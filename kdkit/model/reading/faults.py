"""What pydantic finds wrong, in a maker's words, with the place in the definition."""

from __future__ import annotations

import typing
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from kdkit.definition.formula import near_names
from kdkit.definition.gate import shown
from kdkit.diagnostics import CODES, Path, Problem
from kdkit.model.says import Product

__all__ = [
    "FILLED_IN",
    "fault_path",
    "fault_problem",
    "follows_from_items",
    "nearest_key",
    "without_misspelt_twice",
]

FILLED_IN = "unit_files"
"""A field of a product that no definition writes."""

_EXPECTED = {
    "bool_type": "true or false",
    "dict_type": "a mapping: keys with values",
    "float_type": "a number",
    "int_type": "a whole number",
    "list_type": "a list",
    "model_attributes_type": "a mapping: keys with values",
    "model_type": "a mapping: keys with values",
    "string_type": "a text",
    "tuple_type": "a list: [first, second, …]",
}
_LARGEST_TUPLE = 3
_OF_CATALOGUES = ("items", "tools", "fittings", "times")
_QUOTE_COMMAS = 'a formula with a comma must stand in quotes: "min(a, b)"'


def follows_from_items(fault: ErrorDetails) -> bool:
    """Tell whether a list only counts as short because its items have faults of their own."""
    found, context = fault.get("input"), fault.get("ctx") or {}
    return (
        fault["type"] == "too_short"
        and isinstance(found, list | tuple)
        and len(found) >= int(context["min_length"])
    )


def without_misspelt_twice(problems: list[Problem]) -> list[Problem]:
    """Drop "x is missing" where a misspelt x was found in the same mapping."""
    offered = {
        (*p.path[:-1], p.help.removeprefix("did you mean ").removesuffix("?"))
        for p in problems
        if p.code == "unknown-key"
    }
    return [p for p in problems if p.code != "missing-key" or p.path not in offered]


def fault_path(fault: ErrorDetails) -> tuple[Path, bool]:
    """Return the path that an error means, and whether it means the key there."""
    loc = [step for step in fault["loc"] if not str(step).startswith("@")]
    on_key = bool(loc) and loc[-1] == "[key]"
    return tuple(step for step in loc if step != "[key]"), on_key


def nearest_key(path: Path) -> str | None:
    """Return the known key that an unknown one is most like, None if none is near."""
    near = near_names(str(path[-1]), _keys_at(path[:-1]))
    return near[0] if near else None


def fault_problem(
    fault: ErrorDetails, root: type[BaseModel] = Product, also: Sequence[str] = ()
) -> Problem:
    """Return one of pydantic's errors in a maker's words.

    Args:
        fault: the error.
        root: the model that was read.
        also: keys that may stand at its top besides its own.
    """
    path, on_key = fault_path(fault)
    kind, found = fault["type"], fault.get("input")
    context: Mapping[str, Any] = fault.get("ctx") or {}
    name = _name_at(path)
    code, message, help = "wrong-value", f"{name} does not fit here: {shown(found)}", ""
    if kind in CODES:
        code, message, help = kind, str(context["text"]), str(context["help"])
    elif kind == "extra_forbidden":
        code, on_key = "unknown-key", True
        known = [*_keys_at(path[:-1], root), *(also if len(path) == 1 else ())]
        near = near_names(name, known)
        message = f"unknown key {name[:60]!r}"
        help = f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}"
        if root is Product and len(path) == 1 and name in _OF_CATALOGUES:
            help = "it belongs into a catalogue file: `catalogues: [NAME.yaml]`"
        elif name.endswith(")"):
            help = _QUOTE_COMMAS
        elif name.isdecimal():
            help = "decimals are written with a point: 18.5"
    elif kind == "missing":
        if isinstance(path[-1], int):
            code, message = "wrong-type", f"the list is too short: item {path[-1] + 1} is missing"
        else:
            code, message = "missing-key", f"{name} is missing"
    elif kind == "literal_error":
        code = "unknown-word"
        words = _words(str(context.get("expected", "")))
        near = near_names(str(found), words)
        message = f"{shown(found)} is not possible here"
        if on_key:
            code, message = "unknown-key", f"unknown key {str(found)[:60]!r}"
        listed = ", ".join(words)
        help = f"did you mean {near[0]}? possible: {listed}" if near else f"possible: {listed}"
    elif kind == "tuple_type" and path[:1] == ("fixtures",) and path[2:-1] == ("at",):
        code, path = "wrong-type", path[:-1]
        message = "at: expected places, each a list of three: [x, y, z]"
        help = "one place stands in two pairs of brackets: [[480, -19, 300]]"
    elif kind in _EXPECTED:
        code = "wrong-type"
        message = f"{name}: expected {_EXPECTED[kind]}, found {shown(found)}"
        if found is None:
            help = "delete the key, or give it a value"
        elif kind == "bool_type":
            help = "write true or false, without quotes"
    elif kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        code = "out-of-range"
        side, limit = next(iter(context.items()))
        word = {"gt": "above", "ge": "at least", "lt": "below", "le": "at most"}[side]
        message = (
            f"{name} is {shown(found).removeprefix('the number ')}, it must be {word} {limit:g}"
        )
    elif kind == "string_too_short" or (kind == "too_short" and isinstance(found, str)):
        code, message = "missing-key", f"{name} is empty"
    elif kind == "too_short":
        code = "wrong-type"
        message = f"{name} has {context['actual_length']} items, at least {context['min_length']} "
        message += "are needed"
    elif kind == "too_long" and context["max_length"] <= _LARGEST_TUPLE:
        code = "wrong-type"
        message = f"{name} has more than {context['max_length']} items"
        help = "[from, to]" if context["max_length"] == 2 else ""
        if isinstance(found, list | tuple) and any("(" in str(item) for item in found):
            help = _QUOTE_COMMAS
    elif kind == "too_long":
        code = "too-many-parts"
        message = f"{name} has more than {context['max_length']} items"
    elif kind == "string_too_long":
        code = "text-too-long"
        message = f"{name} has more than {context['max_length']} characters"
    return Problem(code=code, message=message, path=path, help=help, on_key=on_key)


def _name_at(path: Path) -> str:
    """Return what a message calls the value at a path."""
    if len(path) > 1 and isinstance(path[-1], int):
        return (
            f"{path[-2]}, number {path[-1] + 1}"
            if isinstance(path[-2], str)
            else f"item {path[-1] + 1}"
        )
    return str(path[-1]) if path else "the definition"


def _words(expected: str) -> list[str]:
    """Return the words of "'a', 'b' or 'c'"."""
    return expected.replace("'", "").replace(" or ", ", ").split(", ")


def _keys_at(path: Path, root: type[BaseModel] = Product) -> list[str]:
    """Return the keys that the model at a path knows."""
    types: list[Any] = [root]
    for step in path:
        types = [inner for kind in types for inner in _step_into(kind, step)]
    keys: dict[str, None] = {}
    for kind in types:
        for name, field in kind.model_fields.items() if _is_model(kind) else ():
            if name != FILLED_IN:
                keys[field.alias or name] = None
    return list(keys)


def _step_into(kind: Any, step: str | int) -> list[Any]:
    if _is_model(kind):
        for name, field in kind.model_fields.items():
            if step in (name, field.alias):
                return _flat(field.annotation)
        return []
    arguments = typing.get_args(kind)
    if typing.get_origin(kind) is dict:
        return _flat(arguments[1])
    if typing.get_origin(kind) is tuple:
        return [inner for a in arguments if a is not Ellipsis for inner in _flat(a)]
    return []


def _flat(annotation: Any) -> list[Any]:
    """Return the types that an annotation stands for, unions and notes taken apart."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _flat(typing.get_args(annotation)[0])
    if origin is not None and origin not in (dict, tuple, typing.Literal):
        return [inner for a in typing.get_args(annotation) for inner in _flat(a)]
    return [annotation]


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)
