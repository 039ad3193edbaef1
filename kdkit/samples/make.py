"""A sample taken through the stages: parts placed, fittings drilled, inspected."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.catalogue import Catalogue
from kdkit.diagnostics import Problem
from kdkit.geometry import Assembly, assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import Joinery, place_fittings
from kdkit.model import Product, Resolved, resolve

__all__ = ["Sample", "place_product"]


@dataclass(frozen=True, kw_only=True)
class Sample:
    """A small product with its fittings in their places, and what the checks say of it."""

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue
    problems: tuple[Problem, ...]


def place_product(
    product: Product, catalogue: Catalogue
) -> tuple[Sample | None, tuple[Problem, ...]]:
    """Take a product through sizes, contacts, fittings and checks.

    Returns:
        the sample and all problems; no sample when a stage before the checks reports errors.
    """
    resolved, problems = resolve(product)
    if resolved is None:
        return None, problems
    assembly, found = assemble(resolved)
    problems += found
    if assembly is None:
        return None, problems
    joinery, found = place_fittings(resolved, assembly, catalogue)
    problems += found
    if joinery is None:
        return None, problems
    problems += inspect_product(resolved, assembly, joinery, catalogue)
    sample = Sample(
        resolved=resolved,
        assembly=assembly,
        joinery=joinery,
        catalogue=catalogue,
        problems=problems,
    )
    return sample, problems
