"""The pipeline over the examples, their variants, and products that cannot be."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.definition import load_definition
from kdkit.diagnostics import Severity
from kdkit.model import Parameter, read_product
from kdkit.pipeline import Request, check

ROOT = pathlib.Path(__file__).parent.parent.parent
EXAMPLES = sorted((ROOT / "examples").glob("*.yaml"))
STARTERS = sorted((ROOT / "kdkit" / "cli" / "starters").glob("*.yaml"))

# Three slabs that meet in a corner, each dowelled into the next at right angles: the
# dowels of each hold it against the ways that the other two leave open.
RING = """\
kdkit: 1
product: Ring
boards: {slab: {material: particleboard-p2, thickness: 18}}
panels:
  base: {board: slab, x: [18, 300], y: [0, 300], z: {from: 0}}
  wall: {board: slab, x: {from: 0}, y: [0, 282], z: [0, 300]}
  rear: {board: slab, x: [0, 300], y: {to: 300}, z: [18, 300]}
joints:
  - {join: base, to: wall, fittings: [{fitting: dowel-8x35}]}
  - {join: wall, to: rear, fittings: [{fitting: dowel-8x35}]}
  - {join: rear, to: base, fittings: [{fitting: dowel-8x35}]}
safety: {wall_restraint: none}
"""


def requests() -> Iterator[Request]:
    """Give every example and starter: as it is, each variant, each parameter's ends."""
    for file in (*EXAMPLES, *STARTERS):
        yield Request(file=file)
        definition, _ = load_definition(file)
        assert definition is not None
        product, _ = read_product(definition)
        assert product is not None
        for variant in product.variants:
            yield Request(file=file, variant=variant)
        for name, parameter in product.parameters.items():
            if isinstance(parameter, Parameter):
                for end in (parameter.min, parameter.max):
                    if end is not None:
                        yield Request(file=file, parameters={name: end})


def said(request: Request) -> str:
    """Return a name for a test case."""
    settings = [f"{name}={value:g}" for name, value in request.parameters.items()]
    return "-".join([request.file.stem, *filter(None, [request.variant]), *settings])


RISKS = ("dead-ends", "kind-rules", "panel-fits-wrongly")
"""What people may get wrong is told of the best of products, too."""

EXPLAINED = {"wardrobe": {"lift-heavy", "tips-with-drawers", "clothing-storage", "bag-split"}}
"""Advice that is meant; the head of the file says so."""


def test_there_are_four_examples() -> None:
    assert [p.stem for p in EXAMPLES] == ["bookcase", "hall-bench", "low-cabinet", "wardrobe"]


@pytest.mark.parametrize("request_", list(requests()), ids=said)
def test_examples_and_starters_have_no_problems(request_: Request) -> None:
    outcome = check(request_)
    at_an_end = bool(request_.parameters)
    meant = EXPLAINED.get(request_.file.stem, set())
    found = [p for p in outcome.problems if p.code not in {*RISKS, *meant}]
    levels = {p.severity for p in found}
    some = {Severity.ADVICE, Severity.WARNING} if at_an_end else set()
    assert levels <= some, outcome.problems
    assert outcome.complete
    assert outcome.results is not None
    placed = {part.name for part in outcome.results.resolved.parts}
    assert {part for step in outcome.results.plan.steps for part in step.new} == placed


def test_progress_names_each_stage_once_in_order() -> None:
    told: list[str] = []
    check(Request(file=EXAMPLES[0]), told.append)
    assert told[0] == "reading the definition"
    assert told[-2:] == ["counting and cutting", "looking for what can go wrong"]
    assert len(set(told)) == len(told)


def test_a_ring_of_dowels_is_impossible_and_says_why(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "ring.yaml"
    file.write_text(RING, encoding="utf-8")
    outcome = check(Request(file=file))
    assert not outcome.complete
    assert outcome.results is None
    assert outcome.impossible is not None
    assert sorted(outcome.impossible.parts) == ["base", "rear", "wall"]
    for _, loop in outcome.impossible.loops:
        assert all(a.by == b.part for a, b in zip(loop, loop[1:] + loop[:1], strict=True))
    run = CliRunner().invoke(group, ["plan", str(file)])
    assert run.exit_code == 1
    assert "Step 1" not in run.output
    assert "cannot go without" in run.stderr
    assert run.stdout == ""
