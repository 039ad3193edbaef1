"""The formulas in a fitting: which names they may use, and their numbers for one joint."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from kdkit.catalogue.entries import Direction, Fitting, Formula, Lean, SlotRule
from kdkit.definition import formula as language
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Vec3, add, scaled

__all__ = [
    "MEASURES",
    "BoreNumbers",
    "FittingNumbers",
    "SlotNumbers",
    "check_formulas",
    "fitting_numbers",
    "formula_value",
    "item_names",
    "with_items",
]

MEASURES = ("t_butting", "t_receiving", "sunk", "gap", "overlay", "behind")
"""What a joint measures; a fitting's options come beside it."""


@dataclass(frozen=True)
class BoreNumbers:
    """A bore rule's numbers, in the fastener frame; ``depth`` None means through."""

    at: Vec3
    diameter: float
    depth: float | None
    into: Vec3


@dataclass(frozen=True)
class SlotNumbers:
    """A slot rule's numbers, in the fastener frame; ``length`` at the surface."""

    at: Vec3
    into: Vec3
    along: Vec3
    width: float
    length: float
    depth: float
    disc: float | None


@dataclass(frozen=True)
class FittingNumbers:
    """All numbers of a fitting in one joint: bores and items in the fitting's order.

    ``items``: origins; ``outs``: the items' +z, unit vectors in the fastener frame.
    """

    bores: tuple[BoreNumbers, ...]
    slots: tuple[SlotNumbers, ...]
    items: tuple[Vec3, ...]
    outs: tuple[Vec3, ...]
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
        if isinstance(bore.into, Lean):
            yield ("bores", n, "into", "angle"), bore.into.angle
    for n, slot in enumerate(fitting.slots):
        for axis in range(3):
            yield ("slots", n, "at", axis), slot.at[axis]
        for word in ("width", "depth", "length", "disc"):
            said = getattr(slot, word)
            if said is not None:
                yield ("slots", n, word), said
    for n, item in enumerate(fitting.items):
        for axis in range(3):
            yield ("items", n, "at", axis), item.at[axis]
        if isinstance(item.out, Lean):
            yield ("items", n, "out", "angle"), item.out.angle
    for n, need in enumerate(fitting.needs):
        for word in ("value", "least", "most"):
            said = getattr(need, word)
            if said is not None:
                yield ("needs", n, word), said
    if fitting.groove_width is not None:
        yield ("groove_width",), fitting.groove_width
    if fitting.groove_depth is not None:
        yield ("groove_depth",), fitting.groove_depth


def check_formulas(fitting: Fitting, path: Path) -> tuple[Problem, ...]:
    """Return what is wrong with the formulas of a fitting that stands at ``path``."""
    known = (*MEASURES, *fitting.options)
    problems = [
        error(
            "catalogue-name",
            f"{name} is what a joint measures, no option",
            (*path, "options", name),
            help="call the option otherwise",
        )
        for name in fitting.options
        if name in MEASURES
    ]
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
        if all(name in fitting.options for name, _, _ in language.names(parsed)):
            # It comes to the same in every joint that does not set an option.
            value = language.evaluate(parsed, fitting.options)
            if isinstance(value, language.FormulaFault):
                problems.append(value.problem((*path, *inner)))
    return tuple(problems)


def item_name(said: str, options: Mapping[str, float]) -> str:
    """Return an item's name with its options in braces filled in: ``runner-{length}``.

    What is no option of the fitting stays as it is written.
    """
    for name, value in options.items():
        said = said.replace(f"{{{name}}}", f"{value:g}")
    return said


def item_names(said: str, fitting: Fitting) -> tuple[str, ...]:
    """Return every item that a name with options in braces can come to."""
    names = [name for name in fitting.options if f"{{{name}}}" in said]
    sizes = [fitting.choices.get(name, (fitting.options[name],)) for name in names]
    found = [
        item_name(said, dict(zip(names, values, strict=True)))
        for values in itertools.product(*sizes)
    ]
    return tuple(dict.fromkeys(found))


def with_items(fitting: Fitting) -> Fitting:
    """Return a fitting whose items are named as its options stand."""
    said = [rule.item for rule in fitting.items] + [a.item or "" for a in fitting.actions]
    if not any("{" in name for name in said):
        return fitting
    options = fitting.options
    return fitting.model_copy(
        update={
            "items": tuple(
                rule.model_copy(update={"item": item_name(rule.item, options)})
                for rule in fitting.items
            ),
            "actions": tuple(
                action.model_copy(update={"item": item_name(action.item, options)})
                if action.item is not None
                else action
                for action in fitting.actions
            ),
        }
    )


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


_DIRECTIONS: dict[Direction, Vec3] = {
    "+i": (1.0, 0.0, 0.0),
    "-i": (-1.0, 0.0, 0.0),
    "+j": (0.0, 1.0, 0.0),
    "-j": (0.0, -1.0, 0.0),
    "+k": (0.0, 0.0, 1.0),
    "-k": (0.0, 0.0, -1.0),
}


def _direction(said: Direction | Lean, values: Mapping[str, float]) -> Vec3:
    if not isinstance(said, Lean):
        return _DIRECTIONS[said]
    angle = math.radians(formula_value(said.angle, values))
    along, towards = _DIRECTIONS[said.along], _DIRECTIONS[said.towards]
    return add(scaled(along, math.cos(angle)), scaled(towards, math.sin(angle)))


def _slot(rule: SlotRule, values: Mapping[str, float]) -> SlotNumbers:
    x, y, z = (formula_value(c, values) for c in rule.at)
    depth = formula_value(rule.depth, values)
    disc = None if rule.disc is None else formula_value(rule.disc, values)
    if disc is not None:
        # the chord of the disc at the surface
        length = 2.0 * math.sqrt(max(0.0, depth * (disc - depth)))
    else:
        length = formula_value(rule.length if rule.length is not None else 0.0, values)
    return SlotNumbers(
        at=(x, y, z),
        into=_DIRECTIONS[rule.into],
        along=_DIRECTIONS[rule.along],
        width=formula_value(rule.width, values),
        length=length,
        depth=depth,
        disc=disc,
    )


def fitting_numbers(
    fitting: Fitting,
    *,
    t_butting: float,
    t_receiving: float,
    sunk: float = 0.0,
    gap: float = 0.0,
    overlay: float = 0.0,
    behind: float = 0.0,
) -> FittingNumbers:
    """Return the numbers of a fitting for members of these thicknesses (mm).

    The fitting's ``options`` are used as they stand in it; the rest is what the joint
    measures (see ``entries``).

    Raises:
        ArithmeticError: a formula has no number for these values.
    """
    values = {
        **fitting.options,
        "t_butting": t_butting,
        "t_receiving": t_receiving,
        "sunk": sunk,
        "gap": gap,
        "overlay": overlay,
        "behind": behind,
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
                _direction(bore.into, values),
            )
            for bore in fitting.bores
        ),
        slots=tuple(_slot(rule, values) for rule in fitting.slots),
        items=tuple(point(item.at) for item in fitting.items),
        outs=tuple(_direction(item.out, values) for item in fitting.items),
        groove_width=number(fitting.groove_width),
        groove_depth=number(fitting.groove_depth),
    )
