"""From what a run asks to a product with its sizes, and the catalogue it takes from.

Where a definition can be read only in part, the rest is looked through as well, so that
one round tells all that is wrong with it.
"""

from __future__ import annotations

import pathlib
from collections.abc import Sequence

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.definition import Definition, load_definition
from kdkit.diagnostics import Problem
from kdkit.joinery.names import check_catalogue_names
from kdkit.model import Product, Resolved, resolve
from kdkit.model.reading.reading import Reading, read_definition
from kdkit.model.resolving.resolve import resolve_rest
from kdkit.run import Run, RunEnded


def open_product(run: Run) -> tuple[Resolved, Catalogue]:
    """Follow one definition from its text to its sizes; open its catalogue."""
    request = run.request
    product, catalogues = request.product, request.catalogues
    if product is None:
        if request.file is None:
            raise ValueError("a request needs a file or a product")
        definition = run.stage("reading the definition", load_definition, request.file)
        run.definition = definition
        run.progress("reading the product")
        catalogues = _own_catalogues(definition)
        if run.claim is not None:
            run.judge(run.claim.refuse_inputs((*catalogues, *_own_units(definition))))
        reading = read_definition(definition)
        run.problems.extend(reading.problems)
        if reading.product is None:
            _look_further(run, reading, catalogues)
            raise RunEnded
        product = reading.product
    if request.batch is not None:
        product = product.model_copy(update={"batch": request.batch})
    run.progress("working out the sizes")
    resolved, problems = resolve(product, variant=request.variant, parameters=request.parameters)
    run.problems.extend(problems)
    if resolved is None:
        run.problems.extend(_check_names(product, catalogues))
        raise RunEnded
    return resolved, run.stage("opening the catalogue", load_catalogue, catalogues)


def _look_further(run: Run, reading: Reading, catalogues: Sequence[pathlib.Path]) -> None:
    """Also tell what is wrong with the names and formulas of what could be read."""
    if reading.rest is None:
        return
    request = run.request
    problems = resolve_rest(reading.rest, variant=request.variant, parameters=request.parameters)
    problems += _check_names(reading.rest, catalogues)
    run.problems.extend(reading.place(problems))


def _check_names(product: Product, catalogues: Sequence[pathlib.Path]) -> tuple[Problem, ...]:
    """Look up what a product names of the catalogue, though its parts cannot be placed."""
    catalogue, problems = load_catalogue(catalogues)
    if catalogue is None:
        return tuple(problems)
    return check_catalogue_names(product, catalogue)


def _own_units(definition: Definition) -> tuple[pathlib.Path, ...]:
    """Return the unit files that a definition uses, and those that they use."""
    return tuple(
        file
        for unit in definition.units.values()
        for file in (unit.folder / pathlib.PurePath(unit.file).name, *_own_units(unit))
    )


def _own_catalogues(definition: Definition) -> tuple[pathlib.Path, ...]:
    """Return the maker's catalogue files, those of unit files first, each once."""
    of_units = [f for unit in definition.units.values() for f in _own_catalogues(unit)]
    return tuple(dict.fromkeys([*of_units, *definition.catalogues]))
