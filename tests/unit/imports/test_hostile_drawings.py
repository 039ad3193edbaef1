"""Drawings that hold more than they seem to, or what no drawing may: told, bounded, no fault."""

from __future__ import annotations

import math
import pathlib
import re
from collections.abc import Callable

import ezdxf
import pytest
from click.testing import CliRunner, Result
from ezdxf.document import Drawing

from kdkit.cli.commands import group

SQUARE = [(0, 0), (300, 0), (300, 200), (0, 200)]


@pytest.fixture
def outline(tmp_path: pathlib.Path) -> Callable[..., Result]:
    """Return what `kdkit outline` does with a drawing that a function fills."""

    def run(fill: Callable[[Drawing], object], square: bool = True) -> Result:
        drawing = ezdxf.new("R2010", units=4)
        if square:
            drawing.modelspace().add_lwpolyline(SQUARE, close=True)
        fill(drawing)
        drawing.saveas(tmp_path / "panel.dxf")
        return outlined(tmp_path / "panel.dxf")

    return run


def outlined(file: pathlib.Path) -> Result:
    result = CliRunner().invoke(group, ["outline", str(file)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def array(rows: int, columns: int, *, dx: float = 1.0) -> Callable[[Drawing], object]:
    def fill(drawing: Drawing) -> None:
        drawing.blocks.new("B")
        placed = drawing.modelspace().add_blockref("B", (0, 0))
        placed.dxf.row_count, placed.dxf.column_count = rows, columns
        placed.dxf.row_spacing, placed.dxf.column_spacing = 1.0, dx

    return fill


def nested(drawing: Drawing) -> None:
    """32^6 = 10^9 times nothing."""
    drawing.blocks.new("B0")
    for n in range(1, 7):
        block = drawing.blocks.new(f"B{n}")
        for _ in range(32):
            block.add_blockref(f"B{n - 1}", (0, 0))
    drawing.modelspace().add_blockref("B6", (0, 0))


def holds_itself(drawing: Drawing) -> None:
    drawing.blocks.new("B").add_blockref("B", (0, 0))
    drawing.modelspace().add_blockref("B", (0, 0))


def long_polyline(drawing: Drawing) -> None:
    points = [(n % 300 / 2, n / 1000) for n in range(5001)]
    drawing.modelspace().add_lwpolyline(points)


@pytest.mark.parametrize(
    ("fill", "said"),
    [
        (array(32_767, 32_767), "a block is put 32767 × 32767 times"),
        (array(10**9, 10**9, dx=0.0), "a block is put 1e+09 × 1 times"),
        (nested, "more than 5000 things"),
        (holds_itself, "a block holds itself"),
        (long_polyline, "a polyline has 5001 corners, at most 5000 are read"),
    ],
)
def test_what_is_expanded_is_counted_before(
    outline: Callable[..., Result], fill: Callable[[Drawing], object], said: str
) -> None:
    result = outline(fill)
    assert result.exit_code == 1
    assert said in result.stderr
    assert "nothing was read" in result.stderr


def bulged(bulge: float) -> Callable[[Drawing], object]:
    points = [(0, 0, bulge), (300, 0, 0), (300, 200, 0), (0, 200, 0)]
    return lambda d: d.modelspace().add_lwpolyline(points, format="xyb", close=True)


def old_polyline(bulge: float) -> Callable[[Drawing], object]:
    points = [(0, 0, bulge), (300, 0, 0), (300, 200, 0), (0, 200, 0)]
    return lambda d: d.modelspace().add_polyline2d(points, format="xyb", close=True)


@pytest.mark.parametrize("draw", [bulged, old_polyline])
@pytest.mark.parametrize("bulge", [1e300, -1e7, math.nan, math.inf])
def test_a_bulge_that_is_no_arc_is_located(
    outline: Callable[..., Result],
    draw: Callable[[float], Callable[[Drawing], object]],
    bulge: float,
) -> None:
    result = outline(draw(bulge), square=False)
    assert result.exit_code == 1
    assert f"a side with a bulge of {bulge:g}" in result.stderr
    assert "layer '0', handle" in result.stderr


@pytest.mark.parametrize("draw", [bulged, old_polyline])
def test_a_bulge_of_next_to_nothing_is_a_straight_side(
    outline: Callable[..., Result], draw: Callable[[float], Callable[[Drawing], object]]
) -> None:
    result = outline(draw(1e-300), square=False)
    assert "outline: [[0, 0], [300, 0], [300, 200], [0, 200]]" in result.stdout


def spline(**said: object) -> Callable[[Drawing], object]:
    def fill(drawing: Drawing) -> None:
        entity = drawing.modelspace().add_spline()
        entity.control_points = said.get("points", [(0, 0), (10, 10), (20, 0), (30, 10)])
        entity.fit_points = said.get("through", [])
        entity.dxf.degree = said.get("degree", 3)
        entity.knots = said.get("knots", [0, 0, 0, 0, 1, 1, 1, 1])

    return fill


@pytest.mark.parametrize(
    ("fill", "said"),
    [
        (spline(knots=[0] * 8), "the SPLINE cannot be read"),
        (
            spline(degree=40, points=[(n, n % 2) for n in range(41)], knots=[0] * 41 + [1] * 41),
            "a spline of degree 40, at most 25",
        ),
        (
            spline(points=[], knots=[], through=[(n, n % 7) for n in range(700)]),
            "a spline through 700 points, at most 625",
        ),
        (lambda d: d.modelspace().add_arc((50, 50), 10, math.inf, 90), "the ARC cannot be read"),
        (lambda d: d.modelspace().add_circle((50, 50), 0), "a circle of 0 mm diameter"),
    ],
)
def test_a_curve_that_cannot_be_followed_is_located(
    outline: Callable[..., Result], fill: Callable[[Drawing], object], said: str
) -> None:
    result = outline(fill)
    assert result.exit_code == 1
    assert said in result.stderr
    assert "layer '0', handle" in result.stderr


def test_what_is_not_in_the_file_or_was_mended_is_told(outline: Callable[..., Result]) -> None:
    def fill(drawing: Drawing) -> None:
        drawing.add_xref_def("other.dwg", "elsewhere")
        drawing.modelspace().add_blockref("elsewhere", (0, 0))
        drawing.modelspace().add_blockref("nowhere", (0, 0))
        spline(points=[], knots=[])(drawing)
        drawing.modelspace().add_helix(2, 1, 5)

    result = outline(fill)
    assert result.exit_code == 0
    for said in (
        "1 × INSERT of what is not in the file on the layer '0'",
        "Deleted entity INSERT(#",
        "Removed SPLINE(#",
        "1 × HELIX on the layer '0'",
    ):
        assert said in result.stderr


def test_only_so_many_kinds_are_listed(outline: Callable[..., Result]) -> None:
    def fill(drawing: Drawing) -> None:
        for n in range(100):
            drawing.modelspace().add_text("x", dxfattribs={"layer": f"L{n:03d}"})

    result = outline(fill)
    assert result.exit_code == 0
    assert result.stderr.count("1 × TEXT") == 30
    assert "70 more kinds of things" in result.stderr


@pytest.mark.parametrize("kept", [0.1, 0.5, 0.8, 0.99])
def test_half_a_drawing_is_no_drawing(
    outline: Callable[..., Result], tmp_path: pathlib.Path, kept: float
) -> None:
    outline(lambda d: d.modelspace().add_circle((200, 100), 30))
    whole = (tmp_path / "panel.dxf").read_bytes()
    (tmp_path / "half.dxf").write_bytes(whole[: int(len(whole) * kept)])
    result = outlined(tmp_path / "half.dxf")
    assert result.exit_code == 1
    assert "the drawing ends in the middle" in result.stderr


def test_many_records_and_the_binary_form_are_refused(
    outline: Callable[..., Result], tmp_path: pathlib.Path
) -> None:
    blocks = "".join(f"0\nBLOCK\n2\nB{n}\n0\nENDBLK\n" for n in range(10_000))
    text = f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n0\nEOF\n"
    (tmp_path / "many.dxf").write_text(text, encoding="ascii")
    result = outlined(tmp_path / "many.dxf")
    assert result.exit_code == 1
    assert "the file has 20003 records, at most 20000 are read" in result.stderr
    drawing = ezdxf.new("R2010", units=4)
    drawing.saveas(tmp_path / "binary.dxf", fmt="bin")
    result = outlined(tmp_path / "binary.dxf")
    assert result.exit_code == 1
    assert "binary form" in result.stderr
    assert "text form" in result.stderr


def test_many_open_ends_are_told_once_each_up_to_a_number(outline: Callable[..., Result]) -> None:
    def fill(drawing: Drawing) -> None:
        for n in range(4000):
            drawing.modelspace().add_line((n, 300), (n, 300.5))

    result = outline(fill)
    assert result.exit_code == 1
    assert result.stderr.count("the outline is open at") == 20


def test_a_layer_with_a_long_name_is_cut(outline: Callable[..., Result]) -> None:
    name = "x" * 5000
    result = outline(
        lambda d: d.modelspace().add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": name}),
        square=False,
    )
    assert result.exit_code == 0
    assert max(len(line) for line in result.stdout.split("\n")) < 300


@pytest.mark.parametrize(
    "scale",
    [(0.0, 1.0), (1.0, 0.0), (1e-300, 1.0), (1e-7, 1e-7), (math.inf, 1.0), (1e300, 1.0)],
)
def test_a_block_at_a_scale_of_nothing_or_all_is_told_with_its_handle(
    tmp_path: pathlib.Path, scale: tuple[float, float]
) -> None:
    """What else is wrong is told with it: the rest of the drawing is read."""
    drawing = ezdxf.new("R2010", units=4)
    drawing.modelspace().add_lwpolyline(SQUARE, close=True)
    block = drawing.blocks.new("B")
    block.add_circle((20, 20), 5)
    sizes = {"xscale": 0.123, "yscale": 0.456}
    drawing.modelspace().add_blockref("B", (0, 0), dxfattribs={**sizes, "handle": "ABC"})
    drawing.modelspace().add_circle((50, 50), 1e9, dxfattribs={"handle": "DEF"})
    drawing.saveas(tmp_path / "panel.dxf")
    text = (tmp_path / "panel.dxf").read_text()
    for said, wanted in zip(("0.123", "0.456"), scale, strict=True):  # the library sets none of 0
        assert text.count(f"\n{said}\n") == 1
        text = text.replace(f"\n{said}\n", f"\n{wanted!r}\n")
    (tmp_path / "panel.dxf").write_text(text)
    result = outlined(tmp_path / "panel.dxf")
    assert result.exit_code == 1
    assert re.search(r"a block (is put at a scale of|cannot be put there)", result.stderr)
    assert "handle ABC" in result.stderr
    assert "handle DEF" in result.stderr
    assert "2 errors" in result.stderr


@pytest.mark.parametrize(("side", "said"), [(900_000.0, "900000 mm"), (20_001.0, "20001 mm")])
def test_no_outline_is_larger_than_any_part(
    outline: Callable[..., Result], side: float, said: str
) -> None:
    def fill(drawing: Drawing) -> None:
        ring = [(0, 0), (side, 0), (side, 200), (0, 200)]
        drawing.modelspace().add_lwpolyline(ring, close=True)

    result = outline(fill, square=False)
    assert result.exit_code == 1
    assert f"the outline is {said} long in one direction" in result.stderr
    assert result.stdout == ""
