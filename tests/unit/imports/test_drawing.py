"""Outlines out of drawings: shapes, units, blocks; open and hostile ones; our own read back."""

from __future__ import annotations

import io
import itertools
import math
import pathlib
from collections.abc import Callable, Sequence

import ezdxf
import pytest
from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.math import area as area_by_ezdxf
from ezdxf.path import make_path
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from kdkit.diagnostics import Problem, Severity, render_problem
from kdkit.imports.drawing import Drawn, load_outline
from kdkit.imports.outline_text import FACES, place_shape, render_outline
from kdkit.imports.shapes import MEETING, Shape
from kdkit.pipeline import Request, check
from kdkit.workshop import workshop

Draw = Callable[[Drawing], object]
BOW_TIE = [(0, 0), (300, 200), (300, 0), (0, 200)]
SQUARE = [(0, 0), (300, 0), (300, 200), (0, 200)]


def written(tmp_path: pathlib.Path, draw: Draw, unit: int = units.MM) -> pathlib.Path:
    drawing = ezdxf.new("R2010", units=unit)
    draw(drawing)
    file = tmp_path / "panel.dxf"
    drawing.saveas(file)
    return file


def read(
    file: pathlib.Path, **options: object
) -> tuple[Drawn | None, list[Problem], list[Problem]]:
    """Return the shape, the errors, the advice."""
    found, problems = load_outline(file, **options)  # type: ignore[arg-type]
    for problem in problems:
        assert problem.source is not None
        render_problem(problem)
    errors = [p for p in problems if p.severity is Severity.ERROR]
    assert (found is None) is bool(errors)
    return found, errors, [p for p in problems if p.severity is Severity.ADVICE]


def ring(drawing: Drawing, points: Sequence[Sequence[float]], layer: str = "0") -> None:
    drawing.modelspace().add_lwpolyline(
        points, format="xyb"[: len(points[0])], close=True, dxfattribs={"layer": layer}
    )


def test_a_closed_polyline_is_the_outline(tmp_path: pathlib.Path) -> None:
    found, _, _ = read(written(tmp_path, lambda d: ring(d, SQUARE)))
    assert found is not None
    assert set(found.shape.outline) == set(SQUARE)
    assert found.layers == ("0",)


@pytest.mark.parametrize("tolerance", [0.5, 0.1, 0.02])
@pytest.mark.parametrize("bulge", [1.0, -0.4, 0.15, math.tan(math.pi / 8)])
def test_a_bulge_is_followed_within_the_tolerance(
    tmp_path: pathlib.Path, bulge: float, tolerance: float
) -> None:
    points = [(0, 0, 0), (600, 0, bulge), (600, 400, 0), (0, 400, 0)]
    file = written(tmp_path, lambda d: ring(d, points))
    found, _, _ = read(file, tolerance=tolerance)
    assert found is not None
    # Source of the segment's area: r²(θ − sin θ)/2 with θ = 4·atan(bulge).
    theta = 4 * math.atan(abs(bulge))
    radius = 400 / (2 * math.sin(theta / 2))
    exact = 600 * 400 + math.copysign(radius**2 * (theta - math.sin(theta)) / 2, bulge)
    assert found.shape.area() == pytest.approx(exact, abs=tolerance * radius * theta)
    (polyline,) = ezdxf.readfile(file).modelspace()
    theirs = area_by_ezdxf(make_path(polyline).flattening(0.001))
    assert found.shape.area() == pytest.approx(theirs, abs=tolerance * radius * theta + 60)
    arcs = [e for e in polyline.virtual_entities() if e.dxftype() == "ARC"]
    for n, p in enumerate(found.shape.outline):
        q = found.shape.outline[(n + 1) % len(found.shape.outline)]
        middle = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        if math.dist(p, q) < 150 and len(arcs) == 1:
            centre = (arcs[0].dxf.center.x, arcs[0].dxf.center.y)
            assert radius - math.dist(centre, middle) <= tolerance + 1e-9
            assert math.dist(centre, p) == pytest.approx(radius)


def test_lines_and_arcs_that_meet_are_joined_in_any_order_and_direction(
    tmp_path: pathlib.Path,
) -> None:
    def draw(drawing: Drawing) -> None:
        space = drawing.modelspace()
        space.add_line((0, 200), (0, 0))
        space.add_line((0, 200), (300, 200 + MEETING / 2))
        space.add_arc((300, 100), 100, -90, 90)
        space.add_line((300, 0), (0, 0))

    found, _, _ = read(written(tmp_path, draw))
    assert found is not None
    assert found.shape.area() == pytest.approx(300 * 200 + math.pi * 100**2 / 2, rel=0.002)


@pytest.mark.parametrize("turn", [0, 17, 90, 200])
def test_an_arc_keeps_its_furthest_points(tmp_path: pathlib.Path, turn: float) -> None:
    def draw(drawing: Drawing) -> None:
        block = drawing.blocks.new("ARCH")
        block.add_lwpolyline([(-300, 0), (300, 0, 1.0)], format="xyb", close=True)
        drawing.modelspace().add_blockref("ARCH", (0, 0), dxfattribs={"rotation": turn})

    found, _, _ = read(written(tmp_path, draw), tolerance=0.5)
    assert found is not None
    # Along each axis the half circle reaches 300, or as far as the ends of its straight side.
    a = math.radians(turn)
    ends = [(s * 300 * math.cos(a), s * 300 * math.sin(a)) for s in (-1, 1)]
    out = (math.cos(a + math.pi / 2), math.sin(a + math.pi / 2))
    on = {"+x": (300, 0), "-x": (-300, 0), "+y": (0, 300), "-y": (0, -300)}
    reached = [p for p in on.values() if p[0] * out[0] + p[1] * out[1] > -1e-9] + ends
    exact = (
        min(p[0] for p in reached),
        min(p[1] for p in reached),
        max(p[0] for p in reached),
        max(p[1] for p in reached),
    )
    assert found.shape.box == pytest.approx(exact, abs=1e-6)


def test_circles_and_rings_inside_are_openings(tmp_path: pathlib.Path) -> None:
    def draw(drawing: Drawing) -> None:
        ring(drawing, SQUARE)
        ring(drawing, [(20, 20), (60, 20), (40, 80)])
        drawing.modelspace().add_circle((200, 100), 30)
        drawing.modelspace().add_ellipse((120, 100), (25, 0), 0.5)

    found, _, _ = read(written(tmp_path, draw))
    assert found is not None
    assert found.shape.rounds == (((200.0, 100.0), 60.0),)
    assert len(found.shape.cutouts) == 2
    exact = 300 * 200 - 40 * 60 / 2 - math.pi * 30**2 - math.pi * 25 * 12.5
    assert found.shape.area() == pytest.approx(exact, abs=15)


def test_a_circle_alone_is_a_round_panel(tmp_path: pathlib.Path) -> None:
    found, _, _ = read(written(tmp_path, lambda d: d.modelspace().add_circle((0, 0), 300)))
    assert found is not None
    assert found.shape.rounds == ()
    assert found.shape.area() == pytest.approx(math.pi * 300**2, rel=0.002)


@pytest.mark.parametrize(
    ("unit", "mm"), [(units.MM, 1), (units.CM, 10), (units.M, 1000), (units.IN, 25.4)]
)
def test_the_header_s_unit_counts(tmp_path: pathlib.Path, unit: int, mm: float) -> None:
    corners = [(x / mm, y / mm) for x, y in SQUARE]
    found, _, _ = read(written(tmp_path, lambda d: ring(d, corners), unit))
    assert found is not None
    assert found.shape.area() == pytest.approx(300 * 200)


def test_a_drawing_without_a_unit_asks_for_it(tmp_path: pathlib.Path) -> None:
    file = written(tmp_path, lambda d: ring(d, [(x / 10, y / 10) for x, y in SQUARE]), 0)
    _, errors, _ = read(file)
    assert [p.code for p in errors] == ["drawing-unit"]
    assert "--unit" in errors[0].help
    found, _, _ = read(file, unit="cm")
    assert found is not None
    assert found.shape.area() == pytest.approx(300 * 200)


def test_blocks_are_opened_also_scaled_turned_mirrored_and_in_rows(tmp_path: pathlib.Path) -> None:
    def draw(drawing: Drawing) -> None:
        hole = drawing.blocks.new("HOLE")
        hole.add_circle((0, 0), 5)
        corner = drawing.blocks.new("CORNER")
        corner.add_lwpolyline([(0, 0), (300, 0), (300, 200, 0, 0, 0)], format="xyseb")
        corner.add_line((300, 200), (0, 200))
        corner.add_line((0, 200), (0, 0))
        space = drawing.modelspace()
        space.add_blockref("CORNER", (0, 0), dxfattribs={"xscale": -2, "rotation": 90})
        space.add_blockref("HOLE", (-40, -500), dxfattribs={
            "xscale": 2, "yscale": 2, "column_count": 2, "column_spacing": -60,
            "row_count": 3, "row_spacing": 90,
        })  # fmt: skip

    found, errors, _ = read(written(tmp_path, draw))
    assert found is not None, errors
    assert found.shape.box == pytest.approx((-200, -600, 0, 0))
    assert sorted(found.shape.rounds) == [
        ((x, y), 20.0) for x in (-100.0, -40.0) for y in (-500.0, -410.0, -320.0)
    ]


def test_what_has_no_part_in_the_outline_is_told(tmp_path: pathlib.Path) -> None:
    def draw(drawing: Drawing) -> None:
        ring(drawing, SQUARE)
        drawing.modelspace().add_text("Side", dxfattribs={"layer": "TEXT"})
        drawing.layers.add("OFF").off()
        ring(drawing, [(1000, 0), (1100, 0), (1100, 50)], "OFF")

    found, _, told = read(written(tmp_path, draw))
    assert found is not None
    said = " ".join(p.message for p in told)
    assert "1 × TEXT on the layer 'TEXT'" in said
    assert "the hidden layer 'OFF'" in said


def test_layers_can_be_named(tmp_path: pathlib.Path) -> None:
    def draw(drawing: Drawing) -> None:
        ring(drawing, SQUARE, "CUT")
        ring(drawing, [(400, 0), (500, 0), (500, 90)], "OTHER")

    file = written(tmp_path, draw)
    _, errors, _ = read(file)
    assert "beside the outline" in errors[0].message
    assert "layer 'OTHER'" in errors[0].where
    found, _, _ = read(file, layers=["cut"])
    assert found is not None
    assert found.layers == ("CUT",)
    _, errors, _ = read(file, layers=["CUTS"])
    assert "no layer 'CUTS'" in errors[0].message
    assert "CUT" in errors[0].help


def lines(*points: tuple[float, float]) -> Draw:
    def draw(drawing: Drawing) -> None:
        for start, end in itertools.pairwise(points):
            drawing.modelspace().add_line(start, end, dxfattribs={"layer": "CUT"})

    return draw


def both(*draws: Draw) -> Draw:
    def draw(drawing: Drawing) -> None:
        for each in draws:
            each(drawing)

    return draw


WRONG = {
    "open": (lines((0, 0), (300, 0), (300, 200), (0, 200)), 2, "open at", "close it"),
    "a gap": (
        lines((0, 0), (300, 0), (300, 200), (0, 200), (0, 0.6)),
        2,
        "0.60 mm away",
        "move the two ends together",
    ),
    "a branch": (
        both(lines(*SQUARE, (0, 0)), lines((300, 200), (400, 300))),  # type: ignore[arg-type]
        2,
        "3 lines meet at (300.00, 200.00)",
        "drawn twice",
    ),
    "drawn twice": (
        both(lines(*SQUARE, (0, 0)), lines((0, 0), (300, 0))),  # type: ignore[arg-type]
        2,
        "3 lines meet",
        "drawn twice",
    ),
    "crossed": (lambda d: ring(d, BOW_TIE, "CUT"), 1, "crosses", ""),
    "flat": (lambda d: ring(d, [(0, 0), (300, 0), (600, 0)], "CUT"), 1, "encloses nothing", ""),
    "across": (
        both(lambda d: ring(d, SQUARE), lambda d: ring(d, [(250, 9), (350, 9), (350, 50)], "CUT")),
        1,
        "crosses the outline",
        "--layer",
    ),
    "in an opening": (
        both(
            lambda d: ring(d, SQUARE),
            lambda d: ring(d, [(20, 20), (90, 20), (90, 90), (20, 90)], "CUT"),
            lambda d: d.modelspace().add_circle((50, 50), 9, dxfattribs={"layer": "CUT"}),
        ),
        1,
        "in another opening",
        "",
    ),
    "not flat": (
        lambda d: d.modelspace().add_line((0, 0, 0), (9, 0, 5), dxfattribs={"layer": "CUT"}),
        2,
        "does not lie flat",
        "",
    ),
    "far away": (
        lambda d: d.modelspace().add_line((0, 0), (1e12, 0), dxfattribs={"layer": "CUT"}),
        2,
        "further away",
        "",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("draw", "most", "says", "helps"), WRONG.values(), ids=WRONG.keys())
def test_a_wrong_outline_is_told_with_layer_and_handle(
    tmp_path: pathlib.Path, draw: Draw, most: int, says: str, helps: str
) -> None:
    _, errors, _ = read(written(tmp_path, draw))
    assert {p.code for p in errors} == {"drawing-outline"}
    assert 1 <= len(errors) <= most + 1
    problem = next(p for p in errors if says in p.message)
    assert helps in problem.help
    assert "layer 'CUT', handle " in problem.where
    assert not problem.where.endswith("?")


def test_nothing_to_read_is_told(tmp_path: pathlib.Path) -> None:
    _, errors, _ = read(written(tmp_path, lambda d: d.modelspace().add_text("Side")))
    assert [p.message for p in errors] == ["there is no outline in what was read"]


def nested(depth: int, each: int) -> Draw:
    """Blocks in blocks, ``each`` of them in every one."""

    def draw(drawing: Drawing) -> None:
        drawing.blocks.new("B0").add_circle((0, 0), 1)
        for n in range(1, depth):
            block = drawing.blocks.new(f"B{n}")
            for m in range(each):
                block.add_blockref(f"B{n - 1}", (m, 0))
        drawing.modelspace().add_blockref(f"B{depth - 1}", (0, 0))

    return draw


def in_itself(drawing: Drawing) -> None:
    block = drawing.blocks.new("SELF")
    block.add_blockref("SELF", (1, 0))
    drawing.modelspace().add_blockref("SELF", (0, 0))


def million_copies(drawing: Drawing) -> None:
    drawing.blocks.new("HOLE").add_circle((0, 0), 1)
    drawing.modelspace().add_blockref(
        "HOLE",
        (0, 0),
        dxfattribs={
            "row_count": 32_000,
            "column_count": 32_000,
            "row_spacing": 3,
            "column_spacing": 3,
        },
    )


def wild_spline(drawing: Drawing) -> None:
    drawing.modelspace().add_spline([(n % 7 * 1e5, n % 3 * 1e5) for n in range(900)])


HOSTILE: dict[str, Draw] = {
    "blocks in blocks": nested(7, 12),
    "too deep": nested(30, 1),
    "a block in itself": in_itself,
    "a million copies": million_copies,
    "a wild spline": wild_spline,
    "many things": lambda d: [d.modelspace().add_circle((n, 0), 0.2) for n in range(6000)],
    "a huge circle": lambda d: d.modelspace().add_circle((0, 0), 1e300),
}


@pytest.mark.parametrize("draw", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_drawing_is_refused(tmp_path: pathlib.Path, draw: Draw) -> None:
    _, errors, _ = read(written(tmp_path, draw))
    assert errors
    assert {p.code for p in errors} <= {"drawing-not-read", "drawing-outline"}


@pytest.mark.parametrize(
    "content",
    [b"", b"\x00" * 100, b"name;length\n", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n", b"PK\x03\x04"],
)
def test_what_is_no_drawing_is_refused(tmp_path: pathlib.Path, content: bytes) -> None:
    file = tmp_path / "panel.dxf"
    file.write_bytes(content)
    _, errors, _ = read(file)
    assert {p.code for p in errors} <= {"drawing-not-read", "drawing-outline", "drawing-unit"}


def test_a_huge_file_is_refused(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "panel.dxf"
    file.write_bytes(b"0\nSECTION\n" * 400_000)
    _, errors, _ = read(file)
    assert [p.code for p in errors] == ["file-too-large"]


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None
)
@given(cut=st.integers(0, 6000), junk=st.binary(max_size=20))
def test_a_damaged_drawing_is_read_or_refused(
    cut: int, junk: bytes, tmp_path: pathlib.Path
) -> None:
    drawing = ezdxf.new("R12")
    ring_of = drawing.modelspace().add_polyline2d(SQUARE, close=True)
    assert ring_of is not None
    out = io.StringIO()
    drawing.write(out)
    raw = out.getvalue().encode()
    at = len(raw) - cut
    file = tmp_path / "panel.dxf"
    file.write_bytes(raw[:at] + junk + raw[at + len(junk) :])
    read(file, unit="mm")


DEFINITION = """\
kdkit: 1
product: Arched case
boards: {mdf: {material: mdf, thickness: 18}}
panels:
  left_side:
    board: mdf
    x: {from: 0}
    outline: [[0, 0], [300, 0], [300, 700], [180, 900], [0, 900]]
    face: +x
    grain: z
    notches:
      - {at: [back, bottom], y: 40, z: 80}
    cutouts:
      - {y: 200, z: 300, diameter: 60}
      - {y: [40, 140], z: [500, 620], corner_radius: 20}
      - {outline: [[60, 60], [120, 60], [100, 130]]}
  right_side: {mirror: left_side, x: {to: 600}}
  shelf:
    board: mdf
    x: [left_side.x1, right_side.x0]
    y: [0, 180]
    z: {from: 400}
    face: -z
    notches: [{at: [front, left], x: 50, y: 25}]
joints:
  - {join: shelf, to: [left_side, right_side], fittings: [{fitting: dowel-8x35, at: [60, -60]}]}
"""


def as_polygon(shape: Shape) -> Polygon:
    rounds = [
        [(c[0] + d / 2 * math.cos(a / 50), c[1] + d / 2 * math.sin(a / 50)) for a in range(314)]
        for c, d in shape.rounds
    ]
    return Polygon(shape.outline, [*shape.cutouts, *rounds])


def test_our_own_drawings_read_back_give_the_same_panels(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "case.yaml"
    file.write_text(DEFINITION, encoding="utf-8")
    outcome = workshop(Request(file=file), tmp_path / "w", outputs=("dxf",))
    assert outcome.complete, [p.message for p in outcome.problems]
    assert outcome.results is not None
    parts = {part.name: part for part in outcome.results.resolved.parts}
    for line in outcome.results.schedules.cut:
        part = parts[line.parts[0]]
        face = {"left_side": "+x", "right_side": "-x", "shelf": "-z"}[part.name]
        found, errors, told = read(tmp_path / "w" / "dxf" / f"panel-{line.letter}.dxf")
        assert found is not None, errors
        assert "only the layers of the face" in told[0].message
        theirs = Shape(
            part.outline, part.cutouts, tuple((r.centre, r.diameter) for r in part.round_cutouts)
        )
        assert found.shape.area() == pytest.approx(theirs.area(), abs=0.1)
        # Pasted into a definition it gives the part again, whichever way it was drawn.
        same = []
        for turn in range(4):
            shape = place_shape(found.shape, face=face, quarter_turns=turn)
            text = render_outline(found, shape, face=face, tolerance=0.1)
            axis = face[1]
            grain = "z" if axis == "x" else "x"
            again = tmp_path / "again.yaml"
            again.write_text(
                "product: Panel\nboards: {mdf: {material: mdf, thickness: 18}}\npanels:\n"
                f"  panel:\n    board: mdf\n    grain: {grain}\n    {axis}: {{from: 0}}\n{text}",
                encoding="utf-8",
            )
            made = check(Request(file=again), risks=False).results
            assert made is not None
            (panel,) = made.resolved.parts
            read_back = Shape(
                panel.outline,
                panel.cutouts,
                tuple((r.centre, r.diameter) for r in panel.round_cutouts),
            )
            difference = as_polygon(read_back).symmetric_difference(as_polygon(theirs))
            same.append(difference.area < 1.0)
        assert any(same), part.name


@pytest.mark.parametrize("face", FACES)
def test_a_shape_is_placed_as_its_face_is_seen(face: str) -> None:
    drawn = Shape(((0.0, 0.0), (300.0, 0.0), (0.0, 200.0)), rounds=(((50.0, 60.0), 20.0),))
    placed = place_shape(drawn, face=face, at=(10.0, 20.0))
    assert placed.box == (10.0, 20.0, 310.0, 220.0)
    corner = (310.0, 20.0) if face in ("-x", "+y", "-z") else (10.0, 20.0)
    assert corner in placed.outline
    assert math.dist(placed.rounds[0][0], corner) == pytest.approx(math.dist((50, 60), (0, 0)))
    assert placed.area() == pytest.approx(drawn.area())
