"""Short ways to a resolved product for the tests of the model."""

from __future__ import annotations

import pathlib
import textwrap

from kdkit.definition import Definition, load_definition
from kdkit.diagnostics import Problem, locate_problems
from kdkit.model import Product, Resolved, read_product, resolve
from kdkit.model.resolved import Part

HEAD = """\
kdkit: 1
product: Box
parameters: {width: 600, height: 600, depth: 300}
boards: {carcass: {material: particleboard-p2, thickness: 18}}
"""


def read(folder: pathlib.Path, text: str) -> tuple[Product, Definition]:
    """Return a sound definition's product."""
    path = folder / "box.yaml"
    path.write_text(textwrap.dedent(text), encoding="utf-8")
    definition, problems = load_definition(path)
    assert definition is not None, problems
    product, problems = read_product(definition)
    assert product is not None, problems
    assert problems == ()
    return product, definition


def resolved(folder: pathlib.Path, text: str, *, head: str = HEAD, **parameters: float) -> Resolved:
    """Return a sound definition with numbers; ``head`` comes before the text."""
    product, _ = read(folder, head + textwrap.dedent(text))
    made, problems = resolve(product, parameters=parameters)
    assert problems == ()
    assert made is not None
    return made


def problems_of(folder: pathlib.Path, text: str) -> tuple[Problem, ...]:
    """Return every problem of a definition, located."""
    path = folder / "box.yaml"
    path.write_text(text, encoding="utf-8")
    definition, problems = load_definition(path)
    if definition is None:
        return problems
    product, problems = read_product(definition)
    if product is None:
        return problems
    made, problems = resolve(product)
    assert (made is None) == bool(problems)
    return locate_problems(problems, definition)


def extent(part: Part) -> tuple[tuple[float, float], ...]:
    """Return the part's extent on each product axis, from its corners alone."""
    corners = [
        part.frame.point_to_outer((x, y, z))
        for x, y in part.outline
        for z in (-part.thickness, 0.0)
    ]
    return tuple((min(c[a] for c in corners), max(c[a] for c in corners)) for a in range(3))
