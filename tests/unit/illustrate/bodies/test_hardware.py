from __future__ import annotations

import itertools
import math

import pytest

from kdkit.catalogue.entries import Item, Piece
from kdkit.frames import PRODUCT, Frame
from kdkit.illustrate.bodies.hardware import PARALLEL_GAP, item_body
from kdkit.illustrate.bodies.parts import LEAST_BORE, part_body, round_steps
from kdkit.illustrate.hidden_lines.drawing import draw_bodies
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View, Viewpoint
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.resolved import Part


def screw(**changes: object) -> Item:
    said: dict[str, object] = {
        "title": "screw",
        "mass": 2.0,
        "drive": "cross recess Z2",
        "recess_z": 0.0,
        "pieces": (
            Piece(kind="cone", z0=-2.5, z1=0, d0=4, d1=8),
            Piece(kind="cylinder", z0=-40, z1=-2.5, d0=4, surface="thread"),
            Piece(kind="cone", z0=-45, z1=-40, d0=0, d1=4),
        ),
        "sources": ("made up",),
    }
    return Item.model_validate(said | changes)


def test_every_edge_of_an_item_has_two_faces() -> None:
    body = item_body("s", screw(), PRODUCT)
    for edge in body.edges:
        for n in edge.faces:
            corners = body.faces[n].outer
            assert any(math.dist(edge.start, c) < 1e-9 for c in corners)
            assert any(math.dist(edge.end, c) < 1e-9 for c in corners)
    assert {len(edge.faces) for edge in body.edges} == {2}


def test_normals_point_out_of_the_item() -> None:
    for face in item_body("s", screw(), PRODUCT).faces:
        if abs(face.normal[2]) < 0.99:
            x = sum(p[0] for p in face.outer)
            y = sum(p[1] for p in face.outer)
            assert face.normal[0] * x + face.normal[1] * y > 0


def test_only_what_stands_out_is_left() -> None:
    dowel = Item(
        title="dowel",
        mass=1.0,
        pieces=(
            Piece(kind="cone", z0=-15, z1=-14, d0=6, d1=8),
            Piece(kind="cylinder", z0=-14, z1=14, d0=8, surface="flutes"),
            Piece(kind="cone", z0=15, z1=14, d0=6, d1=8),
        ),
        sources=("made up",),
    )
    frame = Frame((10, 20, 30), (0, 1, 0), (0, 0, 1), (1, 0, 0))
    body = item_body("d", dowel, frame, above=0.0)
    assert min(p[0] for p in body.corners()) == pytest.approx(10)
    assert max(p[0] for p in body.corners()) == pytest.approx(25)
    tip = [p for p in body.corners() if p[0] > 24.99]
    assert {round(math.dist(p, (25, 20, 30)), 6) for p in tip} == {3}
    assert item_body("s", screw(), PRODUCT, above=0.0).faces == ()


def test_a_cone_is_cut_at_its_width_there() -> None:
    cone = Item(
        title="cone",
        mass=1.0,
        pieces=(Piece(kind="cone", z0=-10, z1=10, d0=10, d1=20),),
        sources=("made up",),
    )
    body = item_body("c", cone, PRODUCT, above=0.0)
    low = [p for p in body.corners() if abs(p[2]) < 1e-9]
    assert {round(math.hypot(p[0], p[1]), 6) for p in low} == {7.5}


def test_thread_marks_are_never_denser_than_paper_can_hold() -> None:
    for scale in (1.0, 0.5, 0.1):
        marks = [m for m in item_body("s", screw(), PRODUCT, scale=scale).marks if not m.tone]
        first = {m.face for m in marks}
        heights = sorted(m.points[0][2] for m in marks if m.face == min(first, default=0))
        steps = [b - a for a, b in itertools.pairwise(heights)]
        assert all(step * scale >= PARALLEL_GAP - 1e-9 for step in steps)
    assert [m for m in item_body("s", screw(), PRODUCT, scale=1.0).marks if not m.tone]


@pytest.mark.parametrize(
    ("drive", "corners"),
    [
        ("cross recess Z2", 12),
        ("slotted", 4),
        ("hexagon key 4", 6),
        ("hexalobular socket 20", 12),
    ],
)
def test_the_drive_shows_on_the_head(drive: str, corners: int) -> None:
    body = item_body("s", screw(drive=drive), PRODUCT)
    (recess,) = [m for m in body.marks if m.kind == "recess"]
    assert len(recess.points) == corners
    assert all(abs(p[2]) < 1e-9 and math.hypot(p[0], p[1]) < 4 for p in recess.points)
    above = draw_bodies([body], View(viewpoint=VIEWPOINTS["front-right"]))
    assert [r for r in above.regions if r.is_mark]
    below = draw_bodies([body], View(viewpoint=VIEWPOINTS["front-right-below"]))
    assert not [r for r in below.regions if r.is_mark]


def test_a_hexagon_keeps_its_edges_and_a_cylinder_does_not() -> None:
    def lines(kind: str) -> int:
        item = Item.model_validate(
            {
                "title": "x",
                "mass": 1.0,
                "pieces": [{"kind": kind, "z0": 0, "z1": 10, "d0": 10}],
                "sources": ["made up"],
            }
        )
        body = item_body("x", item, PRODUCT)
        drawing = draw_bodies([body], View(viewpoint=Viewpoint(10.0, 20.0)))
        return sum(
            abs(p[0] - q[0]) < 1e-6
            for s in drawing.strokes
            for p, q in zip(
                s.points, s.points[1:] + (s.points[:1] if s.closed else ()), strict=False
            )
        )

    assert lines("hexagon") == 4
    assert lines("cylinder") == 2


def test_round_things_get_finer_with_the_scale() -> None:
    assert round_steps(5, 0.1) == 8
    assert round_steps(5, 1.0) == 28
    assert round_steps(40, 1.0) == 48
    assert round_steps(8, 0.5) % 4 == 0


def panel() -> Part:
    return Part(
        name="p",
        title="P",
        kind="panel",
        path=(),
        frame=PRODUCT,
        outline=((0, 0), (400, 0), (400, 200), (0, 200)),
        thickness=18,
    )


def bore(**said: object) -> Bore:
    plain: dict[str, object] = {
        "part": "p",
        "surface": "face",
        "mouth": (100.0, 100.0, 0.0),
        "into": (0.0, 0.0, -1.0),
        "diameter": 8.0,
        "depth": 12.0,
        "through": False,
        "purpose": "dowel",
        "path": (),
    }
    return Bore(**{**plain, **said})  # type: ignore[arg-type]


def test_a_bore_shows_as_a_dark_mouth_on_its_surface() -> None:
    body = part_body(panel(), (), [bore()])
    (mouth,) = body.marks
    assert body.faces[mouth.face].normal == (0, 0, 1)
    assert {round(math.dist(p, (100, 100, 0)), 6) for p in mouth.points} == {4}
    edge = part_body(panel(), (), [bore(mouth=(50.0, 0.0, -9.0), into=(0.0, 1.0, 0.0))])
    (mouth,) = edge.marks
    assert edge.faces[mouth.face].normal == pytest.approx((0, -1, 0))


def test_a_through_bore_shows_on_both_surfaces_and_a_pilot_on_none() -> None:
    through = part_body(panel(), (), [bore(depth=18.0, through=True)])
    assert sorted(through.faces[m.face].normal[2] for m in through.marks) == [-1, 1]
    assert not part_body(panel(), (), [bore(diameter=LEAST_BORE - 0.5)]).marks
    assert not part_body(panel(), (), [bore(part="other")]).marks


def test_a_slanting_bore_has_an_oval_mouth() -> None:
    slant = (math.sin(math.radians(30)), 0.0, -math.cos(math.radians(30)))
    (mouth,) = part_body(panel(), (), [bore(into=slant)]).marks
    xs = [p[0] for p in mouth.points]
    ys = [p[1] for p in mouth.points]
    assert max(ys) - min(ys) == pytest.approx(8, rel=1e-6)
    assert max(xs) - min(xs) == pytest.approx(8 / math.cos(math.radians(30)), rel=1e-6)
    assert {round(p[2], 9) for p in mouth.points} == {0}


def test_a_mouth_ends_where_a_groove_takes_its_surface_away() -> None:
    groove = Groove(
        part="p",
        surface="face",
        polygon=((0, 101), (400, 101), (400, 110), (0, 110)),
        depth=8,
        path=(),
        joint="",
    )
    (mouth,) = part_body(panel(), [groove], [bore()]).marks
    assert max(p[1] for p in mouth.points) == pytest.approx(101)


def test_a_flat_pocket_ends_at_the_rim_of_its_bottom() -> None:
    """At 15 degrees the oval would reach 4.75 / sin 15° ahead; the bottom's rim comes first."""
    lean = math.radians(15)
    into = (0.0, -math.cos(lean), -math.sin(lean))
    (mouth,) = part_body(panel(), (), [bore(into=into, diameter=9.5, depth=13.5)]).marks
    reach = 100 - min(p[1] for p in mouth.points)
    assert reach == pytest.approx(13.5 / math.cos(lean), rel=1e-6)
    assert 4.75 / math.sin(lean) > reach
    (whole,) = part_body(panel(), (), [bore(into=into, diameter=9.5, depth=40.0)]).marks
    assert 100 - min(p[1] for p in whole.points) == pytest.approx(4.75 / math.sin(lean), rel=1e-6)


def slot(**said: object) -> Slot:
    plain: dict[str, object] = {
        "part": "p",
        "surface": "edge:0",
        "mouth": (100.0, 0.0, -9.0),
        "into": (0.0, 1.0, 0.0),
        "along": (1.0, 0.0, 0.0),
        "width": 4.0,
        "length": 66.0,
        "depth": 12.5,
        "disc": 100.0,
        "purpose": "biscuit slot",
        "path": (),
    }
    return Slot(**{**plain, **said})  # type: ignore[arg-type]


def test_a_slot_shows_as_a_dark_mouth() -> None:
    body = part_body(panel(), (), (), [slot(), slot(part="other")])
    (mouth,) = body.marks
    assert body.faces[mouth.face].normal == pytest.approx((0, -1, 0))
    assert {(round(p[0], 6), round(p[2], 6)) for p in mouth.points} == {
        (67, -11), (133, -11), (133, -7), (67, -7),
    }  # fmt: skip
    (mortise,) = part_body(panel(), (), (), [slot(width=6.0, length=26.0, disc=None)]).marks
    xs = [p[0] for p in mortise.points]
    assert (min(xs), max(xs)) == pytest.approx((87, 113), abs=0.01)
    assert len(mortise.points) > 8


def biscuit() -> Item:
    return Item.model_validate(
        {
            "title": "biscuit",
            "mass": 2.0,
            "pieces": (Piece(kind="lens", z0=-11.5, z1=11.5, d0=56, d1=4),),
            "sources": ("made up",),
        }
    )


@pytest.mark.parametrize("above", [None, -0.5, 3.0])
def test_a_biscuit_is_a_closed_lens(above: float | None) -> None:
    body = item_body("b", biscuit(), PRODUCT, above=above)
    low = min(p[2] for p in body.corners())
    assert low == pytest.approx(-11.5 if above is None else above, abs=1e-6)
    assert max(p[2] for p in body.corners()) == pytest.approx(11.5)
    sides: dict[tuple[tuple[float, ...], ...], int] = {}
    for face in body.faces:
        middle = [sum(c) / len(face.outer) for c in zip(*face.outer, strict=True)]
        inside = (0.0, 0.0, (low + 11.5) / 2)
        assert sum((m - o) * n for m, o, n in zip(middle, inside, face.normal, strict=True)) > 0
        for p, q in zip(face.outer, (*face.outer[1:], face.outer[0]), strict=True):
            key = tuple(sorted((tuple(round(c, 6) for c in p), tuple(round(c, 6) for c in q))))
            sides[key] = sides.get(key, 0) + 1
    assert set(sides.values()) == {2}
    assert len(body.edges) == len(sides)


def test_a_piece_beside_the_axis_is_drawn_there() -> None:
    bracket = Item.model_validate(
        {
            "title": "bracket",
            "mass": 20.0,
            "pieces": (
                Piece(kind="box", z0=0, z1=2, d0=20, d1=40, at=(0, 20)),
                Piece(kind="box", z0=2, z1=40, d0=20, d1=2, at=(0, 1)),
            ),
            "sources": ("made up",),
        }
    )
    corners = set(item_body("b", bracket, PRODUCT).corners())
    assert {(10, 0, 0), (10, 40, 0), (-10, 0, 40), (10, 2, 40)} <= corners
    assert not any(p[1] > 2 and p[2] > 2 for p in corners)
