"""Glass is laid on pads and left whole."""

from __future__ import annotations

from dataclasses import replace

from kdkit.diagnostics import Problem, Severity
from kdkit.inspect import inspect_product
from kdkit.model.resolved import Part
from tests.boxes import board
from tests.cabinets import built_in, fixture, joint, resolved, try_to_place, use
from tests.fixture_samples import make_fixture_sample

SIDE = board("side", (0, 0, 0), (18, 300, 800))
PANE = board("pane", (18, 0, 400), (500, 300, 408), material="glass")


def found(parts: list[Part], *joints: object, **more: object) -> list[Problem]:
    joinery, problems, assembly = try_to_place(parts, joints, **more)  # type: ignore[arg-type]
    assert joinery is not None, problems
    product = resolved(parts, joints, **more)  # type: ignore[arg-type]
    problems = inspect_product(product, assembly, joinery, built_in())
    return [p for p in problems if p.code.startswith("glass")]


def test_a_pane_on_pads_is_only_told_of() -> None:
    sample = make_fixture_sample("glass-support-5", 18)
    (told,) = [p for p in sample.problems if p.code.startswith("glass")]
    assert told.code == "glass-care"
    assert told.severity is Severity.ADVICE
    assert told.where == "shelf"


def test_a_pane_is_not_bored() -> None:
    problems = found([SIDE, PANE], joint("pane", "side", use("dowel-6x30")))
    assert [p.severity for p in problems if p.code == "glass-cut"] == [Severity.ERROR]


def test_a_pane_takes_no_fixture_that_bores() -> None:
    problems = found([SIDE, PANE], fixtures=[fixture("knob-30", "pane", face="top")])
    assert [p.where for p in problems if p.code == "glass-cut"] == ["pane"]


def test_a_pane_takes_no_edge_band() -> None:
    problems = found([SIDE, replace(PANE, bands=(1.0, 0.0, 0.0, 0.0))])
    (cut,) = [p for p in problems if p.code == "glass-cut"]
    assert cut.path[-1] == "bands"
