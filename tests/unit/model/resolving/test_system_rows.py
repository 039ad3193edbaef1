"""System rows as a maker says them: names and numbers, and what is wrong with them."""

from __future__ import annotations

import pathlib
import textwrap

import pytest

from kdkit import Board, OneEnd, Panel, Product, SystemRows, resolve
from kdkit.model import definition_schema
from tests.unit.model.making import HEAD, problems_of, resolved

SIDES = """\
panels:
  left: {board: carcass, x: {from: 0}, y: [0, depth], z: [0, "on_grid(height, 9.5)"]}
  right: {mirror: left, x: {to: width}}
"""


def test_what_is_left_out_is_that_of_the_system(tmp_path: pathlib.Path) -> None:
    made = resolved(tmp_path, SIDES + "system_rows: [{on: [left, right]}]\n")
    (rows,) = made.system_rows
    assert rows.on == ("left", "right")
    assert (rows.pitch, rows.bore, rows.depth, rows.front) == (32, 5, 13, 37)
    assert (rows.back, rows.has_back, rows.end, rows.balanced, rows.full) == (
        None,
        True,
        None,
        True,
        True,
    )


def test_lengths_are_formulas_and_words_are_kept(tmp_path: pathlib.Path) -> None:
    text = """\
    system_rows:
      - {on: left, faces: face, depth: through, inset: carcass.thickness, back: null, end: 9.5}
      - {on: right, back: depth / 6, drill: used, balanced: false, fronts: left, reveal: 4}
    """
    first, second = resolved(tmp_path, SIDES + textwrap.dedent(text)).system_rows
    assert (first.faces, first.depth, first.inset, first.end) == ("face", None, 18, 9.5)
    assert (first.back, first.has_back) == (None, False)
    assert (second.back, second.has_back, second.full, second.balanced) == (50, True, False, False)
    assert (second.fronts, second.reveal) == (("left",), 4)


def test_a_height_follows_from_the_grid(tmp_path: pathlib.Path) -> None:
    # Source: common practice, computed: a = 9.5; 595 = 2 x 9.5 + 18 x 32.
    made = resolved(tmp_path, SIDES)
    assert max(made.part("left").outline)[0] == pytest.approx(19 + 18 * 32)


def test_the_same_from_python() -> None:
    product = Product(
        product="Side",
        boards={"carcass": Board(material="particleboard-p2", thickness=18)},
        panels={"side": Panel(board="carcass", x=OneEnd(start=0), y=(0, 300), z=(0, 595))},
        system_rows=(SystemRows(on="side", end=9.5, back=None),),
    )
    made, problems = resolve(product)
    assert made is not None, problems
    (rows,) = made.system_rows
    assert (rows.on, rows.end, rows.has_back) == (("side",), 9.5, False)


def test_rows_of_a_unit_are_named_after_it(tmp_path: pathlib.Path) -> None:
    text = textwrap.dedent(
        """\
        unit_definitions:
          case:
            product: Case
            panels: {side: {board: carcass, x: {from: 0}, y: [0, 300], z: [0, 600]}}
            system_rows: [{on: side, fronts: side}]
        units:
          u: {define: case, at: [0, 0, 80]%s}
        """
    )
    (rows,) = resolved(tmp_path, text % "").system_rows
    assert (rows.on, rows.fronts) == (("u.side",), ("u.side",))
    tipped = text % ", turns: [{axis: x, angle: 90, about: [0, 0, 0]}]"
    assert [p.code for p in problems_of(tmp_path, HEAD + tipped)] == ["unit-turned"]


@pytest.mark.parametrize(
    ("said", "code", "at"),
    [
        ("system_rows: [{}]", "missing-key", ("system_rows", 0, "on")),
        ("system_rows: [{on: lefft}]", "unknown-part", ("system_rows", 0, "on")),
        ("system_rows: [{on: left, fronts: door}]", "unknown-part", ("system_rows", 0, "fronts")),
        ("system_rows: [{on: left, pitch: 2}]", "out-of-range", ("system_rows", 0, "pitch")),
        ("system_rows: [{on: left, depth: -3}]", "negative-size", ("system_rows", 0, "depth")),
        ("system_rows: [{on: left, end: 9 -}]", "formula-syntax", ("system_rows", 0, "end")),
        ("system_rows: [{on: left, rear: 3}]", "unknown-key", ("system_rows", 0, "rear")),
        ("system_rows: [{on: left, drill: all}]", "unknown-word", ("system_rows", 0, "drill")),
        ("system_rows: [{on: left}, {on: left}]", "wrong-value", ("system_rows", 1, "on")),
        (
            "system_rows: [{on: left, faces: face}, {on: left, faces: face}]",
            "wrong-value",
            ("system_rows", 1, "on"),
        ),
        (
            "fixtures: [{fitting: f, on: left, rows: {last: 50}}]",
            "missing-key",
            ("fixtures", 0, "rows"),
        ),
        (
            "fixtures: [{fitting: f, on: left, rows: {system: true, pitch: 25}}]",
            "wrong-value",
            ("fixtures", 0, "rows", "pitch"),
        ),
    ],
)
def test_a_fault_has_its_place(
    tmp_path: pathlib.Path, said: str, code: str, at: tuple[object, ...]
) -> None:
    (problem,) = problems_of(tmp_path, f"{HEAD}{SIDES}{said}\n")
    assert (problem.code, problem.path) == (code, at)
    assert problem.source is not None


def test_two_sides_of_one_panel_may_differ(tmp_path: pathlib.Path) -> None:
    text = "system_rows: [{on: left, faces: face}, {on: left, faces: back, pitch: 64}]\n"
    assert len(resolved(tmp_path, SIDES + text).system_rows) == 2


def test_the_schema_knows_them() -> None:
    known = definition_schema()["$defs"]
    assert {"on", "faces", "pitch", "end", "balanced"} <= set(known["SystemRows"]["properties"])
    assert known["SystemRows"]["required"] == ["on"]
    assert "system" in known["Rows"]["properties"]
