"""Parameters: values asked for, checked against what the product allows."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.definition.formula import near_names
from kdkit.definition.gate import Refused, check_number
from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths

__all__ = ["declare_parameters"]

_SLACK = 1e-6
_MOST_LISTED = 20


def declare_parameters(
    product: says.Product,
    asked: Mapping[str, float],
    variant: str | None,
    lengths: Lengths,
    *,
    base: Path,
    asked_at: Path,
    variant_at: Path,
) -> None:
    """Give every parameter its value: asked for, else the variant's, else its own.

    Args:
        product: whose parameters; those that were left out are there, but have no value.
        asked: values from outside (the command line, the unit's place).
        variant: a named set of values, or None.
        lengths: receives the values, or what failed.
        base: path of the product in the definition.
        asked_at, variant_at: where they were written, for the problems.
    """
    problems, left_out = lengths.problems, product.left_out
    lengths.parameters = tuple(product.parameters)
    named: Mapping[str, float] = {}
    for name in left_out.names("parameters"):
        lengths.set_failed(name)
    if variant is not None and left_out.has("variants", variant):
        pass
    elif variant is not None and variant not in product.variants:
        near = near_names(variant, product.variants)
        known = ", ".join(product.variants) or "none"
        problems.append(
            error(
                "unknown-variant",
                f"there is no variant {variant[:60]!r}",
                variant_at or ("variants",),
                help=f"did you mean {near[0]}?" if near else f"variants: {known}",
            )
        )
    elif variant is not None:
        named = product.variants[variant]
    for other in product.variants:
        for name in product.variants[other]:
            if left_out.has("parameters", name):
                continue
            _check_known(name, product, (*base, "variants", other, name), problems)
            _check_free(name, product, (*base, "variants", other, name), problems)
    for name in asked:
        if left_out.has("parameters", name):
            continue
        at = _asked_place(name, product, asked_at)
        _check_known(name, product, at, problems)
        _check_free(name, product, at, problems)
    for name, said in product.parameters.items():
        if left_out.has("parameters", name):
            continue
        own = (*base, "parameters", name)
        if isinstance(said, str):
            lengths.set_length(name, said, own)
            continue
        limits = said if isinstance(said, says.Parameter) else says.Parameter(value=said)
        if not _limits_are_sound(name, limits, own, problems):
            lengths.set_failed(name)
            continue
        at = (*own, "value") if isinstance(said, says.Parameter) else own
        before = len(problems)
        _check_value(name, limits.value, limits, at, problems)
        for each, values in product.variants.items():
            if name in values:
                _check_value(name, values[name], limits, (*base, "variants", each, name), problems)
        value = named.get(name, limits.value)
        if name in asked:
            value = asked[name]
            _check_value(name, value, limits, _asked_place(name, product, asked_at), problems)
        if len(problems) > before:
            lengths.set_failed(name)
        else:
            lengths.set_value(name, value)


def _asked_place(name: str, product: says.Product, asked_at: Path) -> Path:
    """Return where a value was asked for; from outside the file, the parameter itself."""
    if asked_at:
        return (*asked_at, name)
    return ("parameters", name) if name in product.parameters else ("parameters",)


def _check_known(name: str, product: says.Product, at: Path, problems: list[Problem]) -> None:
    if name in product.parameters:
        return
    near = near_names(name, product.parameters)
    known = ", ".join(product.parameters) or "none"
    problems.append(
        Problem(
            code="unknown-parameter",
            message=f"there is no parameter {name[:60]!r}",
            path=at,
            help=f"did you mean {near[0]}?" if near else f"parameters: {known}",
            on_key=True,
        )
    )


def _check_free(name: str, product: says.Product, at: Path, problems: list[Problem]) -> None:
    said = product.parameters.get(name)
    if isinstance(said, str):
        problems.append(
            error(
                "parameter-limit",
                f"{name} follows from a formula, it cannot be set",
                at,
                help=f"change what it follows from: {said}",
            )
        )


def _limits_are_sound(name: str, said: says.Parameter, at: Path, problems: list[Problem]) -> bool:
    if said.min is not None and said.max is not None and said.min > said.max:
        problems.append(
            error(
                "parameter-limit",
                f"{name}: min {said.min:g} is larger than max {said.max:g}",
                (*at, "min"),
            )
        )
        return False
    if said.choices is not None and not said.choices:
        problems.append(error("empty-list", f"{name} has no choices", (*at, "choices")))
        return False
    return True


def _check_value(
    name: str, value: float, said: says.Parameter, at: Path, problems: list[Problem]
) -> None:
    try:
        value = check_number(value)
    except Refused as fault:
        problems.append(error(fault.code, f"{name}: {fault.message}", at, help=fault.help))
        return
    if said.min is not None and value < said.min - _SLACK:
        why = f"at least {said.min:g}"
    elif said.max is not None and value > said.max + _SLACK:
        why = f"at most {said.max:g}"
    elif said.choices and all(abs(value - choice) > _SLACK for choice in said.choices):
        listed = [f"{choice:g}" for choice in said.choices[:_MOST_LISTED]]
        more = len(said.choices) - len(listed)
        why = "one of " + ", ".join(listed) + (f" and {more} more" if more else "")
    elif said.step is not None:
        start = said.value if said.min is None else said.min
        steps = (value - start) / said.step
        if abs(steps - round(steps)) * said.step <= _SLACK:
            return
        why = f"{start:g} plus whole steps of {said.step:g}"
    else:
        return
    problems.append(
        error(
            "parameter-limit",
            f"{name} is {value:g}, it must be {why}",
            at,
            help=f"give such a value, or change the limits under `parameters: {name}`",
        )
    )
