"""Units: another product used inside this one, with its own numbers and place."""

from __future__ import annotations

import math
import pathlib
import textwrap

import pytest

from kdkit.definition import load_definition
from kdkit.diagnostics import locate_problems
from kdkit.model import Board, OneEnd, Panel, Product, Unit, read_product, resolve
from tests.unit.model.making import HEAD, extent, problems_of, resolved

DRAWER = """\
kdkit: 1
product: Drawer
parameters: {inner: {value: 300, min: 200, max: 560}, high: 100}
variants: {low: {high: 60}}
boards: {carcass: {material: plywood-birch, thickness: 12}}
panels:
  left: {board: carcass, x: {from: 0}, y: [0, 250], z: [0, high], face: +x}
  right: {mirror: left, x: {to: inner}}
  front: {board: carcass, x: [left.x1, right.x0], y: {from: 0}, z: [0, high]}
joints:
  - {join: front, to: [left, right], fittings: [{fitting: dowel-8x35, opens: -y}]}
fixtures:
  - {fitting: handle, on: front, face: face, at: [[inner / 2, 0, high / 2]]}
order: [left, front]
"""

CABINET = """\
panels:
  side: {board: carcass, x: {from: 0}, y: [0, depth], z: [0, height]}
units:
  top: {file: drawer.yaml, at: [side.x1, 10, 400], parameters: {inner: width - 200}}
  bottom: {file: drawer.yaml, at: [side.x1, 10, 20], variant: low}
joints:
  - {join: top.left, to: side, fittings: [screw]}
order: [side, top, bottom]
"""


def test_a_unit_used_twice_with_its_own_numbers(tmp_path: pathlib.Path) -> None:
    (tmp_path / "drawer.yaml").write_text(DRAWER)
    made = resolved(tmp_path, CABINET)
    assert [p.name for p in made.parts] == [
        "bottom.front",
        "bottom.left",
        "bottom.right",
        "side",
        "top.front",
        "top.left",
        "top.right",
    ]
    assert extent(made.part("top.front")) == ((18 + 12, 18 + 388), (10, 22), (400, 500))
    assert extent(made.part("bottom.front")) == ((30, 306), (10, 22), (20, 80))
    assert made.part("top.right").mirror_of == "top.left"
    assert made.part("top.right").unit == "top"
    assert {j.name for j in made.joints} == {
        "top.left to side",
        "top.front to left",
        "top.front to right",
        "bottom.front to left",
        "bottom.front to right",
    }
    assert {(j.joined, j.to) for j in made.joints} == {
        ("top.left", "side"),
        ("top.front", "top.left"),
        ("top.front", "top.right"),
        ("bottom.front", "bottom.left"),
        ("bottom.front", "bottom.right"),
    }
    handles = {f.name: f.at for f in made.fixtures}
    assert handles == {
        "top.handle on front": ((18 + 200, 10, 450),),
        "bottom.handle on front": ((18 + 150, 10, 50),),
    }
    assert [(u.name, u.title, u.parts) for u in made.units] == [
        ("bottom", "Drawer", ("bottom.front", "bottom.left", "bottom.right")),
        ("top", "Drawer", ("top.front", "top.left", "top.right")),
    ]
    said = [(o.first, o.later) for o in made.order]
    assert said[0] == (("side",), ("top.front", "top.left", "top.right"))
    assert (("top.left",), ("top.front",)) in said


def test_boards_of_a_unit_keep_their_own_name_where_they_differ(tmp_path: pathlib.Path) -> None:
    (tmp_path / "drawer.yaml").write_text(DRAWER)
    made = resolved(tmp_path, CABINET)
    assert made.part("side").board == "carcass"
    board = made.part("top.left").board
    assert board is not None
    assert board != "carcass"
    assert made.boards[board].thickness == 12
    assert made.part("top.left").material == "plywood-birch"
    assert {p.board for p in made.parts} <= set(made.boards)


def test_a_unit_written_in_place_may_use_the_boards_around_it(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        unit_definitions:
          box:
            product: Inner box
            panels:
              floor: {board: carcass, x: [0, 100], y: [0, 100], z: {from: 0}}
            units:
              lid: {define: lid, at: [0, 0, 50]}
          lid:
            product: Lid
            panels:
              plate: {board: carcass, x: [0, 100], y: [0, 100], z: {from: 0}}
        units:
          a: {define: box, at: [10, 20, 30]}
        """,
    )
    assert [p.name for p in made.parts] == ["a.floor", "a.lid.plate"]
    assert extent(made.part("a.lid.plate")) == ((10, 110), (20, 120), (80, 98))
    assert made.part("a.lid.plate").board == "carcass"
    assert [u.name for u in made.units] == ["a", "a.lid"]


@pytest.mark.parametrize(
    ("angle", "way", "box"),
    [
        (0, (0, -1, 0), ((100, 400), (0, 250), (0, 100))),
        (90, (1, 0, 0), ((-150, 100), (0, 300), (0, 100))),
        (180, (0, 1, 0), ((-200, 100), (-250, 0), (0, 100))),
        (30, (0.5, -math.sqrt(0.75), 0), None),
    ],
)
def test_a_turned_unit_takes_its_directions_along(
    tmp_path: pathlib.Path,
    angle: float,
    way: tuple[float, float, float],
    box: tuple[tuple[float, float], ...] | None,
) -> None:
    (tmp_path / "drawer.yaml").write_text(DRAWER)
    made = resolved(
        tmp_path,
        f"units:\n  u: {{file: drawer.yaml, at: [100, 0, 0], "
        f"turns: [{{axis: z, angle: {angle}, about: [100, 0, 0]}}]}}\n",
    )
    (opens,) = {use.opens for joint in made.joints for use in joint.fittings}
    assert opens == "-y"
    assert [joint.seen_from.way(opens) for joint in made.joints] == [pytest.approx(way)] * 2
    if box is not None:
        extents = [extent(p) for p in made.parts]
        found = tuple(
            (min(e[a][0] for e in extents), max(e[a][1] for e in extents)) for a in range(3)
        )
        assert found == box


def test_rows_go_up_with_their_unit_and_need_it_upright(tmp_path: pathlib.Path) -> None:
    text = HEAD + textwrap.dedent(
        """\
        unit_definitions:
          frame:
            product: Frame
            panels:
              side: {board: carcass, x: {from: 0}, y: [0, 300], z: [0, 600]}
            fixtures:
              - {fitting: shelf-support-5, on: side, rows: {first: 100, last: 400}}
        units:
          u: {define: frame, at: [0, 0, 80]%s}
        """
    )
    made = resolved(tmp_path, (text % "").removeprefix(HEAD))
    rows = made.fixtures[0].rows
    assert rows is not None
    assert (rows.first, rows.last) == (180, 480)
    tipped = text % ", turns: [{axis: x, angle: 90, about: [0, 0, 0]}]"
    assert [p.code for p in problems_of(tmp_path, tipped)] == ["unit-turned"]


def test_problems_in_a_unit_file_stand_in_that_file(tmp_path: pathlib.Path) -> None:
    (tmp_path / "drawer.yaml").write_text(DRAWER.replace("to: inner}", "to: iner}"))
    found = problems_of(tmp_path, HEAD + CABINET)
    assert len(found) == 1, found  # the same line, though the unit is used twice
    source = found[0].source
    assert source is not None
    assert (pathlib.Path(source.file).name, source.line, source.column) == ("drawer.yaml", 8, 33)
    assert found[0].help == "did you mean inner?"

    (tmp_path / "drawer.yaml").write_text(DRAWER.replace("product:", "prodct:"))
    codes = {
        (p.code, pathlib.Path(p.source.file).name)
        for p in problems_of(tmp_path, HEAD + CABINET)
        if p.source
    }
    assert codes == {("unknown-key", "drawer.yaml")}


def test_a_units_parameter_breaks_its_limit_where_it_is_given(tmp_path: pathlib.Path) -> None:
    (tmp_path / "drawer.yaml").write_text(DRAWER)
    found = problems_of(tmp_path, HEAD + CABINET.replace("width - 200", "width"))
    assert [(p.code, p.message) for p in found] == [
        ("parameter-limit", "inner is 600, it must be at most 560")
    ]
    source = found[0].source
    assert source is not None
    assert pathlib.Path(source.file).name == "box.yaml"
    assert source.line == 8


def test_units_that_use_each_other_are_refused(tmp_path: pathlib.Path) -> None:
    text = HEAD + textwrap.dedent(
        """\
        unit_definitions:
          a: {product: A, units: {x: {define: b}}}
          b: {product: B, units: {x: {define: a}}}
        units: {t: {define: a}}
        """
    )
    found = problems_of(tmp_path, text)
    assert [p.code for p in found] == ["unit-loop"]
    assert found[0].source is not None
    assert found[0].source.line == 7


def test_repetitions_are_bounded(tmp_path: pathlib.Path) -> None:
    """Units in units in units: 10^6 parts from 30 lines."""
    levels = "".join(
        f"  l{n + 1}:\n    product: L\n    units: {{"
        + ", ".join(f"u{m}: {{define: l{n}}}" for m in range(10))
        + "}\n"
        for n in range(5)
    )
    text = (
        HEAD
        + "unit_definitions:\n"
        + "  l0: {product: L, panels: {p: {board: carcass, x: [0, 9], y: [0, 9], z: {from: 0}}}}\n"
        + levels
        + "units: {top: {define: l5}}\n"
    )
    assert [p.code for p in problems_of(tmp_path, text)] == ["too-many-parts"]


def test_a_unit_from_python() -> None:
    drawer = Product(
        product="Drawer",
        boards={"ply": Board(material="plywood-birch", thickness=12)},
        panels={"front": Panel(board="ply", x=(0, 100), y=OneEnd(start=0), z=(0, 80))},
    )
    cabinet = Product(
        product="Cabinet",
        unit_definitions={"drawer": drawer},
        units={f"d{n}": Unit(define="drawer", at=(0, 0, 100 * n)) for n in range(3)},
    )
    made, problems = resolve(cabinet)
    assert problems == ()
    assert made is not None
    assert [p.frame.origin[2] for p in made.parts] == [0, 100, 200]
    by_file = Product(
        product="Cabinet",
        unit_files={"drawer.yaml": drawer},
        units={"d": Unit(file="drawer.yaml")},
    )
    made, problems = resolve(by_file)
    assert problems == ()
    assert made is not None
    assert made.part("d.front").thickness == 12


def test_a_unit_file_in_a_unit_file_counts_from_its_own_folder(tmp_path: pathlib.Path) -> None:
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "drawer.yaml").write_text(DRAWER)
    (tmp_path / "parts" / "chest.yaml").write_text(
        "product: Chest\nunits: {d: {file: drawer.yaml, at: [1, 2, 3]}}\n"
    )
    (tmp_path / "room.yaml").write_text("product: Room\nunits: {c: {file: parts/chest.yaml}}\n")
    definition, problems = load_definition(tmp_path / "room.yaml")
    assert definition is not None, problems
    product, problems = read_product(definition)
    assert product is not None, problems
    made, problems = resolve(product)
    assert made is not None, locate_problems(problems, definition)
    assert made.part("c.d.left").frame.origin == (13, 2, 3)
    source = definition.locate(made.part("c.d.left").path)
    assert source is not None
    assert pathlib.Path(source.file).name == "drawer.yaml"
