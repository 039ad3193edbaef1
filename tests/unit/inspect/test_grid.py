"""Departures from the 32 mm system: told with the nearest sizes, or not told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from kdkit.diagnostics import Problem
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedFixture, RowsSpec, SystemRowsSpec
from tests.boxes import board
from tests.cabinets import built_in, fixture, resolved

ROWS = SystemRowsSpec(path=("system_rows", 0), on=("side",))


def side(high: float, deep: float = 340.0) -> Part:
    return board("side", (0, 0, 0), (18, deep, high))


def told(
    parts: Sequence[Part], rows: SystemRowsSpec = ROWS, fixtures: Sequence[ResolvedFixture] = ()
) -> list[Problem]:
    """Return what the checks say of the grid."""
    product = replace(resolved(parts, (), fixtures), system_rows=(rows,))
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    found = inspect_product(product, assembly, joinery, built_in())
    return [p for p in found if p.code.startswith("system-")]


@pytest.mark.parametrize(
    ("high", "end", "below", "above"),
    [
        # Source: common practice, computed: a = 9.5, at most 2133.6 -> 2131.
        (2133.6, 9.5, "2131", "2163"),
        # Source: the same: 774 = 2 x 35 + 22 x 32.
        (780.0, 35.0, "774", "806"),
        (773.0, 35.0, "742", "774"),
    ],
)
def test_a_panel_that_is_not_balanced(high: float, end: float, below: str, above: str) -> None:
    (problem,) = told([side(high)], replace(ROWS, end=end))
    assert problem.code == "system-panel-height"
    assert problem.path == ("panels", "side")
    assert f"on the grid: {below} or {above}" in problem.help
    assert "source:" in problem.help


@pytest.mark.parametrize(("high", "end"), [(2131, 9.5), (774, 35), (18 + 20 * 32, 9)])
def test_a_balanced_panel(high: float, end: float) -> None:
    assert told([side(high)], replace(ROWS, end=end)) == []


def test_an_unbalanced_panel_may_be_meant() -> None:
    assert told([side(780)], replace(ROWS, end=35.0, balanced=False)) == []


def test_a_back_row_off_the_multiples() -> None:
    # Source: the rear row a multiple of 32 from the front row, common practice, no source.
    (problem,) = told([side(774)], replace(ROWS, back=40.0))
    assert problem.code == "system-back-row"
    assert "263 mm behind the front row" in problem.message
    assert "256 or 288 behind the front row, a setback of 47 or 15" in problem.help
    assert told([side(774)], replace(ROWS, back=47.0)) == []


@pytest.mark.parametrize(
    ("high", "reveal", "nearest"),
    [
        (700.0, 3.0, "669 or 701"),
        (29.5, 3.0, "29 or 61"),
        (20.0, 3.0, "on the grid: 29;"),
        (701.0, 4.0, "700 or 732"),
    ],
)
def test_a_front_off_the_multiples(high: float, reveal: float, nearest: str) -> None:
    # Source: front heights 32n − reveal, common practice, no source.
    front = board("front", (0, -18, 100), (300, 0, 100 + high))
    (problem,) = told([side(774), front], replace(ROWS, fronts=("front",), reveal=reveal))
    assert problem.code == "system-front-height"
    assert problem.path == ("panels", "front")
    assert nearest in problem.help


@pytest.mark.parametrize("n", [1, 5, 22])
def test_a_front_on_the_multiples(n: int) -> None:
    front = board("front", (0, -18, 100), (300, 0, 100 + 32 * n - 3))
    assert told([side(774), front], replace(ROWS, fronts=("front",))) == []


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("pitch", 25.0, "has 32"),
        ("bore", 6.0, "has 5"),
        ("front", 40.0, "has 37"),
        ("depth", 10.0, "usual are 12 to 13"),
        ("depth", 14.0, "usual are 12 to 13"),
    ],
)
def test_figures_that_are_not_those_of_the_system(key: str, value: float, said: str) -> None:
    rows = replace(ROWS, **{key: value})  # type: ignore[arg-type]
    (problem,) = told([side(774)], rows)
    assert (problem.code, problem.severity) == ("system-figures", "advice")
    assert problem.path == ("system_rows", 0, key)
    assert said in problem.message


def test_a_skin_under_the_rows() -> None:
    # Source: skin 3 or more: common practice, no source.
    thin = board("side", (0, 0, 0), (15, 340, 774))
    product = replace(resolved([thin]), system_rows=(ROWS,))
    assembly, _ = assemble(product)
    assert assembly is not None
    joinery, _ = place_fittings(product, assembly, built_in())
    assert joinery is not None
    found = inspect_product(product, assembly, joinery, built_in())
    assert "bore-skin-thin" in [p.code for p in found]


def own_rows(**said: float) -> ResolvedFixture:
    spec = RowsSpec(front=37, back=None, first=131, last=300, pitch=32)
    return fixture("shelf-support-5", "side", rows=replace(spec, **said))  # type: ignore[arg-type]


def test_shelf_supports_between_the_bores() -> None:
    (problem,) = told([side(774)], replace(ROWS, end=35.0), [own_rows(first=140)])
    assert problem.code == "system-bore-off"
    assert "9 mm over one height of the grid and 23 mm under the next" in problem.message
    assert "5 more like it" in problem.where


def test_shelf_supports_beside_the_rows() -> None:
    (problem,) = told([side(774)], replace(ROWS, end=35.0), [own_rows(front=60)])
    assert problem.code == "system-bore-off"
    assert "60 mm behind the front edge" in problem.message
    assert "37 or 69" in problem.help


@pytest.mark.parametrize("setback", [37.0, 69.0])
def test_shelf_supports_on_the_grid(setback: float) -> None:
    assert told([side(774)], replace(ROWS, end=35.0), [own_rows(front=setback)]) == []
