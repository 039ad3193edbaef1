"""Families: one written entry for all sizes of a thing.

An entry with ``sizes`` stands for one entry a row. Its name and its texts hold what a row
says in braces, ``screw-{d}x{length}``; a value that begins with ``=`` is a formula over the
row's numbers, ``=-length + 1.4 * d``, and becomes a number. Braces that no row knows stay:
they may be an option's (``runner-{length}``).

    >>> dict(members("peg-{d}", {"sizes": [{"d": 6}, {"d": 8}], "pitch": "=4 * d"}).entries)
    {'peg-6': {'pitch': 24.0}, 'peg-8': {'pitch': 32.0}}
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from kdkit.catalogue.faults import bad_value
from kdkit.definition import formula as language
from kdkit.definition.gate import Refused, check_number
from kdkit.diagnostics import Path, Problem, error

__all__ = ["Members", "members"]

_ROWS = "sizes"
_MOST = 200
_FORMULA = "="


@dataclass(frozen=True)
class Members:
    """The entries of a family by their names, and what is wrong with it (paths inside it)."""

    entries: Mapping[str, Mapping[str, Any]]
    problems: tuple[Problem, ...] = ()


def members(name: str, data: Mapping[str, Any]) -> Members:
    """Return what an entry stands for: itself, or one entry for each row of ``sizes``."""
    if _ROWS not in data:
        return Members({name: data})
    rows = data[_ROWS]
    if not isinstance(rows, list) or not rows or len(rows) > _MOST:
        return Members({}, (bad_value((_ROWS,), f"must be a list of 1 to {_MOST} rows"),))
    entries: dict[str, Mapping[str, Any]] = {}
    problems: list[Problem] = []
    for number, row in enumerate(rows):
        place: Path = (_ROWS, number)
        if not isinstance(row, Mapping) or not all(_is_size(v) for v in row.values()):
            problems.append(bad_value(place, "must be names with numbers or texts"))
            continue
        refused = _refused(row, place)
        if refused:
            problems += refused
            continue
        own = _filled(name, row)
        if own in entries:
            problems.append(bad_value(place, f"gives {own!r} a second time"))
            continue
        written = {key: value for key, value in data.items() if key != _ROWS}
        entries[own] = {key: _said(value, row, (key,), problems) for key, value in written.items()}
    return Members(entries, tuple(problems))


def _refused(row: Mapping[str, Any], place: Path) -> list[Problem]:
    """Return what is wrong with a row's numbers, which formulas reckon with."""
    problems = []
    for word, value in row.items():
        if not isinstance(value, str):
            try:
                check_number(value)
            except Refused as fault:
                problems.append(error(fault.code, fault.message, (*place, word), help=fault.help))
    return problems


def _is_size(value: object) -> bool:
    return isinstance(value, (int, float, str)) and not isinstance(value, bool)


def _filled(text: str, row: Mapping[str, Any]) -> str:
    for word, value in row.items():
        text = text.replace(f"{{{word}}}", value if isinstance(value, str) else f"{value:g}")
    return text


def _said(value: Any, row: Mapping[str, Any], path: Path, problems: list[Problem]) -> Any:
    """Return a value as a row has it; what is wrong with its formulas goes into ``problems``."""
    if isinstance(value, Mapping):
        return {k: _said(v, row, (*path, k), problems) for k, v in value.items()}
    if isinstance(value, list):
        return [_said(v, row, (*path, n), problems) for n, v in enumerate(value)]
    if not isinstance(value, str):
        return value
    if not value.startswith(_FORMULA):
        return _filled(value, row)
    parsed = language.parse_formula(value.removeprefix(_FORMULA))
    if isinstance(parsed, language.FormulaFault):
        return _wrong(parsed, path, problems)
    numbers = {k: float(v) for k, v in row.items() if not isinstance(v, str)}
    for name, start, end in language.names(parsed):
        if name not in numbers:
            fault = language.name_fault(name, start, end, tuple(numbers))
            return _wrong(fault, path, problems)
    number = language.evaluate(parsed, numbers)
    if isinstance(number, language.FormulaFault):
        return _wrong(number, path, problems)
    return round(number, 6)


def _wrong(fault: language.FormulaFault, path: Path, problems: list[Problem]) -> float:
    """Note what is wrong with a formula, behind its sign; return a number to go on with."""
    behind = len(_FORMULA)
    moved = replace(fault, start=fault.start + behind, end=fault.end + behind)
    problems.append(moved.problem(path))
    return 0.0
