"""Openings that are written as their corners."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.definition import load_definition
from kdkit.diagnostics import Problem
from kdkit.model import Resolved, read_product, resolve

PANEL = """\
product: Panel
parameters: {inset: 40}
boards: {mdf: {material: mdf, thickness: 18}}
panels:
  side:
    board: mdf
    x: {from: 0}
    y: [0, 300]
    z: [0, 600]
    cutouts:
      - %s
"""


def resolved(tmp_path: pathlib.Path, opening: str) -> tuple[Resolved | None, tuple[Problem, ...]]:
    file = tmp_path / "panel.yaml"
    file.write_text(PANEL % opening, encoding="utf-8")
    definition, problems = load_definition(file)
    assert definition is not None, problems
    product, problems = read_product(definition)
    return (None, problems) if product is None else resolve(product)


def test_an_opening_may_have_any_outline(tmp_path: pathlib.Path) -> None:
    found, problems = resolved(
        tmp_path, "{outline: [[inset, 40], [120, 40], [120, 100], [120, 160], [80, 200]]}"
    )
    assert found is not None, problems
    (part,) = found.parts
    (opening,) = part.cutouts
    in_product = {tuple(round(v, 6) for v in part.frame.point_to_outer((*p, 0))) for p in opening}
    assert in_product == {(18, 40, 40), (18, 120, 40), (18, 120, 160), (18, 80, 200)}


@pytest.mark.parametrize(
    ("opening", "code"),
    [
        ("{outline: [[40, 40], [120, 40], [80, 200]], diameter: 5}", "wrong-value"),
        ("{outline: [[40, 40], [120, 40], [80, 200]], y: 5}", "wrong-value"),
        ("{outline: [[40, 40], [120, 160], [120, 40], [40, 160]]}", "bad-outline"),
        ("{outline: [[40, 40], [120, 40], [80, 700]]}", "bad-cutout"),
        ("{outline: [[40, 40], [120, 40]]}", "wrong-type"),
        ("{outline: [[40, 40], [120, 40], [80, insett]]}", "formula-name"),
    ],
)
def test_a_wrong_opening_is_told(tmp_path: pathlib.Path, opening: str, code: str) -> None:
    found, problems = resolved(tmp_path, opening)
    assert found is None
    assert [p.code for p in problems] == [code]
