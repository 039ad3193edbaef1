"""The formulas in a fitting: which names they may use, and their numbers for one joint."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from kdkit.catalogue.entries import Fitting, Formula
from kdkit.definition import formula as language
from kdkit.diagnostics import Path, Problem
from kdkit.frames import Vec3

__all__ = [
    "MEASURES",
    "BoreNumbers",
    "FittingNumbers",
    "check_formulas",
    "fitting_numbers",
    "formula_value",
]

MEASURES = ("t_butting", "t_receiving", "sunk")
"""What a joint measures; a fitting's options come beside it."""


@dataclass(frozen=True)
class BoreNumbers:
    """A bore rule's numbers, in the fastener frame; ``depth`` None means through."""

    at: Vec3
    diameter: float
    depth: float | None


@dataclass(frozen=True)
class FittingNumbers:
    """All numbers of a fitting in one joint: bores and items in the fitting's order."""

    bores: tuple[BoreNumbers, ...]
    items: tuple[Vec3, ...]
    groove_width: float | None
    groove_depth: float | None


def _formulas(fitting: Fitting) -> Iterator[tuple[Path, Formula]]:
    """Yield every formula of a fitting with its path inside it."""
    for n, bore in enumerate(fitting.bores):
        for axis in range(3):
            yield ("bores", n, "at", axis), bore.at[axis]
        yield ("bores", n, "diameter"), bore.diameter
        if bore.depth != "through":
            yield ("bores", n, "depth"), bore.depth
    for n, item in enumerate(fitting.items):
        for axis in range(3):
            yield ("items", n, "at", axis), item.at[axis]
    if fitting.groove_width is not None:
        yield ("groove_width",), fitting.groove_width
    if fitting.groove_depth is not None:
        yield ("groove_depth",), fitting.groove_depth


def check_formulas(fitting: Fitting, path: Path) -> tuple[Problem, ...]:
    """Return what is wrong with the formulas of a fitting that stands at ``path``."""
    known = (*MEASURES, *fitting.options)
    problems = []
    for inner, text in _formulas(fitting):
        if not isinstance(text, str):
            continue
        parsed = _parsed(text)
        if isinstance(parsed, language.FormulaFault):
            problems.append(parsed.problem((*path, *inner)))
            continue
        for name, start, end in language.names(parsed):
            if name not in known:
                fault = language.name_fault(name, start, end, known)
                problems.append(fault.problem((*path, *inner)))
    return tuple(problems)


@lru_cache(maxsize=4096)
def _parsed(text: str) -> language.Formula | language.FormulaFault:
    return language.parse_formula(text)


def formula_value(formula: Formula, values: Mapping[str, float]) -> float:
    """Return the number of a checked formula.

    Raises:
        ArithmeticError: it has no number for these values (a division by zero).
    """
    if not isinstance(formula, str):
        return float(formula)
    parsed = _parsed(formula)
    if isinstance(parsed, language.FormulaFault):
        raise ArithmeticError(parsed.message)
    result = language.evaluate(parsed, values)
    if isinstance(result, language.FormulaFault):
        raise ArithmeticError(f"{formula}: {result.message}")
    return result


def fitting_numbers(
    fitting: Fitting, *, t_butting: float, t_receiving: float, sunk: float = 0.0
) -> FittingNumbers:
    """Return the numbers of a fitting for members of these thicknesses (mm).

    The fitting's ``options`` are used as they stand in it.

    Raises:
        ArithmeticError: a formula has no number for these values.
    """
    values = {
        **fitting.options,
        "t_butting": t_butting,
        "t_receiving": t_receiving,
        "sunk": sunk,
    }

    def point(at: tuple[Formula, Formula, Formula]) -> Vec3:
        x, y, z = at
        return (formula_value(x, values), formula_value(y, values), formula_value(z, values))

    def number(formula: Formula | None) -> float | None:
        return None if formula is None else formula_value(formula, values)

    return FittingNumbers(
        bores=tuple(
            BoreNumbers(
                point(bore.at),
                formula_value(bore.diameter, values),
                None if bore.depth == "through" else formula_value(bore.depth, values),
            )
            for bore in fitting.bores
        ),
        items=tuple(point(item.at) for item in fitting.items),
        groove_width=number(fitting.groove_width),
        groove_depth=number(fitting.groove_depth),
    )
