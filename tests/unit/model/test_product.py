"""Parameters, joints, fixtures and order; the same product from Python; the schema."""

from __future__ import annotations

import pathlib
from typing import Any

import jsonschema
import pytest
from pydantic import ValidationError

import kdkit
from kdkit import (
    Board,
    CutOut,
    FittingUse,
    Fixture,
    HandBore,
    Joint,
    Notch,
    OneEnd,
    Panel,
    Parameter,
    Product,
    Rows,
    Turn,
)
from kdkit.definition import load_definition
from kdkit.diagnostics import Problem, render_problem
from kdkit.model import Resolved, definition_schema, read_product, resolve
from tests.unit.model.making import read, resolved

EXAMPLES = sorted((pathlib.Path(__file__).parents[3] / "examples").glob("*.yaml"))

TEXT = """\
kdkit: 1
product: Box
parameters:
  width: {value: 600, min: 400, max: 1000}
  inner: width - 2 * carcass.thickness
  rows: {value: 2, choices: [1, 2, 3]}
variants:
  wide: {width: 900, rows: 3}
boards:
  carcass: {material: particleboard-p2, thickness: 18, title: White board}
panels:
  left_side:
    board: carcass
    x: {from: 0}
    y: [0, 300]
    z: [0, 600]
    bands: {front: 1}
    notches: [{at: [back, bottom], y: 20, z: 60}]
    cutouts: [{y: 150, z: 300, diameter: 40}]
    bores: [{face: face, y: 37, z: 100, diameter: 5, depth: through, mate: shelf}]
  right_side: {mirror: left_side, x: {to: width}}
  shelf:
    board: carcass
    x: [left_side.x1, right_side.x0]
    y: [0, 280]
    z: {from: 282}
    turns: [{axis: x, angle: 5, about: [0, 0, 282]}]
  loose_shelf: {board: carcass, x: [20, 18 + inner], y: [0, 280], z: {from: 400}, loose: true}
joints:
  - join: shelf
    to: [left_side, right_side]
    fittings:
      - {fitting: cam-and-bolt, ends: 60, pitch: 200, opens: -z}
      - {fitting: dowel-8x35, at: [110, -110]}
      - wood-glue
fixtures:
  - fitting: shelf-support-5
    on: [left_side, right_side]
    rows: {first: 100, last: 500, back: null}
    carries: loose_shelf
  - {fitting: tip-restraint, on: left_side, face: top, at: [[9, 280, 600]], name: wall}
order: [left_side, shelf, right_side]
put_before: {shelf: [right_side]}
"""

BUILT = Product(
    product="Box",
    parameters={
        "width": Parameter(value=600, min=400, max=1000),
        "inner": "width - 2 * carcass.thickness",
        "rows": Parameter(value=2, choices=(1, 2, 3)),
    },
    variants={"wide": {"width": 900, "rows": 3}},
    boards={"carcass": Board(material="particleboard-p2", thickness=18, title="White board")},
    panels={
        "left_side": Panel(
            board="carcass",
            x=OneEnd(start=0),
            y=(0, 300),
            z=(0, 600),
            bands={"front": 1},
            notches=(Notch(at=("back", "bottom"), y=20, z=60),),
            cutouts=(CutOut(y=150, z=300, diameter=40),),
            bores=(HandBore(face="face", y=37, z=100, diameter=5, depth="through", mate="shelf"),),
        ),
        "right_side": Panel(mirror="left_side", x=OneEnd(to="width")),
        "shelf": Panel(
            board="carcass",
            x=("left_side.x1", "right_side.x0"),
            y=(0, 280),
            z=OneEnd(start=282),
            turns=(Turn(axis="x", angle=5, about=(0, 0, 282)),),
        ),
        "loose_shelf": Panel(
            board="carcass", x=(20, "18 + inner"), y=(0, 280), z=OneEnd(start=400), loose=True
        ),
    },
    joints=(
        Joint(
            join="shelf",
            to=("left_side", "right_side"),
            fittings=(
                FittingUse(fitting="cam-and-bolt", ends=60, pitch=200, opens="-z"),
                FittingUse(fitting="dowel-8x35", at=(110, -110)),
                FittingUse(fitting="wood-glue"),
            ),
        ),
    ),
    fixtures=(
        Fixture(
            fitting="shelf-support-5",
            on=("left_side", "right_side"),
            rows=Rows(first=100, last=500, back=None),
            carries="loose_shelf",
        ),
        Fixture(
            fitting="tip-restraint", on="left_side", face="top", at=((9, 280, 600),), name="wall"
        ),
    ),
    order=("left_side", "shelf", "right_side"),
    put_before={"shelf": ("right_side",)},
)


def done(product: Product, **asked: Any) -> Resolved:
    made, problems = resolve(product, **asked)
    assert problems == ()
    assert made is not None
    return made


def failed(product: Product, **asked: Any) -> tuple[Problem, ...]:
    made, problems = resolve(product, **asked)
    assert made is None
    return problems


def test_the_same_product_from_yaml_and_from_python(tmp_path: pathlib.Path) -> None:
    product, _ = read(tmp_path, TEXT)
    assert product == BUILT
    assert done(product) == done(BUILT)
    assert done(product, variant="wide") == done(BUILT, variant="wide")


def test_problems_of_a_built_product_have_paths_and_no_file() -> None:
    problems = failed(
        Product(product="Box", panels={"p": Panel(board="x", x=(0, 1), y=(0, 1), z=OneEnd(to=3))})
    )
    assert [(p.code, p.path, p.source) for p in problems] == [
        ("unknown-board", ("panels", "p", "board"), None)
    ]
    assert render_problem(problems[0]).startswith("panels.p.board: error: there is no board 'x'")


def test_parameters_variants_and_formulas() -> None:
    assert done(BUILT).parameters == {"inner": 564, "rows": 2, "width": 600}
    wide = done(BUILT, variant="wide")
    assert (wide.variant, wide.parameters) == ("wide", {"inner": 864, "rows": 3, "width": 900})
    both = done(BUILT, variant="wide", parameters={"width": 700})
    assert both.parameters == {"inner": 664, "rows": 3, "width": 700}


@pytest.mark.parametrize(
    ("asked", "code", "path"),
    [
        ({"variant": "wid"}, "unknown-variant", ("variants",)),
        ({"parameters": {"widht": 5}}, "unknown-parameter", ("parameters",)),
        ({"parameters": {"width": 1001}}, "parameter-limit", ("parameters", "width")),
        ({"parameters": {"width": 399}}, "parameter-limit", ("parameters", "width")),
        ({"parameters": {"rows": 2.5}}, "parameter-limit", ("parameters", "rows")),
        ({"parameters": {"inner": 500}}, "parameter-limit", ("parameters", "inner")),
    ],
)
def test_what_is_asked_for_is_checked(
    asked: dict[str, Any], code: str, path: tuple[str, ...]
) -> None:
    assert [(p.code, p.path) for p in failed(BUILT, **asked)] == [(code, path)]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_no_number_from_outside_is_endless(value: float) -> None:
    assert [p.code for p in failed(BUILT, parameters={"width": value})] == ["number-not-finite"]


def test_joints_are_multiplied_out_with_stable_names() -> None:
    made = done(BUILT)
    assert [(j.name, j.joined, j.to) for j in made.joints] == [
        ("shelf to left_side", "shelf", "left_side"),
        ("shelf to right_side", "shelf", "right_side"),
    ]
    cams, dowels, glue = made.joints[0].fittings
    assert (cams.ends, cams.pitch, cams.opens, cams.at) == (60, 200, "-z", None)
    assert dowels.at == (110, -110)
    assert (glue.fitting, glue.path) == ("wood-glue", ("joints", 0, "fittings", 2))


def test_two_joints_of_one_pair_have_two_names(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          a: {board: carcass, x: {from: 0}, y: [0, 300], z: [0, 600]}
          b: {board: carcass, x: [18, 600], y: [0, 300], z: {from: 0}}
        joints:
          - {join: b, to: a, fittings: [glue]}
          - {join: b, to: a, fittings: [screw], name: later}
          - {join: b, to: a, fittings: [dowel]}
        """,
    )
    assert [j.name for j in made.joints] == ["b to a", "later", "b to a 2"]


def test_fixtures_and_order() -> None:
    made = done(BUILT)
    rows, wall = made.fixtures
    assert rows.name == "shelf-support-5 on left_side, right_side"
    assert rows.rows is not None
    assert (rows.rows.front, rows.rows.back, rows.rows.pitch) == (37, None, 32)
    assert rows.carries == ("loose_shelf",)
    assert (wall.name, wall.face, wall.at) == ("wall", "top", ((9, 280, 600),))
    assert [(o.first, o.later) for o in made.order] == [
        (("left_side",), ("shelf",)),
        (("shelf",), ("right_side",)),
        (("shelf",), ("right_side",)),
    ]
    assert made.part("loose_shelf").loose
    assert not made.part("shelf").loose


def test_every_word_of_the_definition_is_exported() -> None:
    for name in kdkit.__all__:
        assert getattr(kdkit, name) is not None


# ------------------------------------------------------------------ JSON Schema


def validator() -> jsonschema.Draft202012Validator:
    schema = definition_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_schema_accepts_the_examples(example: pathlib.Path) -> None:
    definition, problems = load_definition(example)
    assert definition is not None, problems
    assert [e.message for e in validator().iter_errors(definition.data)] == []
    assert read_product(definition)[0] is not None


def test_schema_accepts_what_the_program_accepts(tmp_path: pathlib.Path) -> None:
    _, definition = read(tmp_path, TEXT)
    assert [e.message for e in validator().iter_errors(definition.data)] == []


@pytest.mark.parametrize(
    "change",
    [
        {"prodct": 1},
        {"kdkit": 2},
        {"product": 5},
        {"panels": {"p": {"x": [1]}}},
        {"panels": {"p": {"x": {"form": 1}}}},
        {"panels": {"p": {"face": "right"}}},
        {"boards": {"b": {"material": "m", "thickness": 0}}},
        {"boards": {"b": {"thickness": 5}}},
        {"joints": [{"join": "a", "to": "b", "fittings": []}]},
        {"joints": [{"join": "a", "to": "b", "fittings": [{"count": 1}]}]},
        {"unit_files": {}},
    ],
)
def test_schema_refuses_what_the_program_refuses(change: dict[str, Any]) -> None:
    assert not validator().is_valid({"product": "Box", **change})


def test_schema_describes_each_key_in_words() -> None:
    panel = definition_schema()["$defs"]["Panel"]["properties"]
    assert "datum" in panel["face"]["description"]
    assert "corners" in panel["outline"]["description"]


def test_two_keys_that_read_the_same_are_refused_in_python_too() -> None:
    with pytest.raises(ValidationError, match="the key 'a' stands twice"):
        Product.model_validate({"product": "Box", "bags": {"a": ["x"], "a ": ["y"]}})
