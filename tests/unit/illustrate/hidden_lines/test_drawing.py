from __future__ import annotations

import itertools
import math

import pytest
from shapely import Polygon, union_all

from kdkit.frames import PRODUCT, Frame, Vec2, Vec3, distance, unit
from kdkit.illustrate.bodies.body import Body, Wire
from kdkit.illustrate.bodies.parts import box_body, part_body
from kdkit.illustrate.hidden_lines.drawing import Drawing, Stroke, draw_bodies
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View, Viewpoint
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part
from tests.viewpoints import DIMETRIC, ISOMETRIC

VIEW = View(viewpoint=VIEWPOINTS["front-right"])


def sides_of(stroke: Stroke) -> list[tuple[Vec2, Vec2]]:
    points = [*stroke.points, *([stroke.points[0]] if stroke.closed else [])]
    return list(itertools.pairwise(points))


def stroke_length(drawing: Drawing, *kinds: str, body: str | None = None) -> float:
    total = 0.0
    for stroke in drawing.strokes:
        if (kinds and stroke.kind not in kinds) or (body and stroke.body != body):
            continue
        total += sum(math.dist(p, q) for p, q in sides_of(stroke))
    return total


def region_area(drawing: Drawing, body: str) -> float:
    return sum(
        Polygon(r.outer, r.holes).area for r in drawing.regions if r.body == body and not r.is_mark
    )


def on_paper(view: View, start: Vec3, end: Vec3) -> float:
    return math.dist(view.project(start)[:2], view.project(end)[:2])


def has_line(drawing: Drawing, view: View, start: Vec3, end: Vec3) -> bool:
    """Tell whether a whole product line is covered by strokes, within 0.02 mm."""
    p, q = view.project(start)[:2], view.project(end)[:2]
    for n in range(21):
        share = (n + 0.5) / 21
        x, y = p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share
        if gap_to_strokes(drawing, x, y) > 0.02:
            return False
    return True


def gap_to_strokes(drawing: Drawing, x: float, y: float) -> float:
    best = math.inf
    for stroke in drawing.strokes:
        for (ax, ay), (bx, by) in sides_of(stroke):
            along = (bx - ax) ** 2 + (by - ay) ** 2
            t = 0.0 if along == 0 else ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / along
            t = min(1.0, max(0.0, t))
            best = min(best, math.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
    return best


@pytest.mark.parametrize("viewpoint", [*VIEWPOINTS.values(), ISOMETRIC, DIMETRIC])
def test_a_cube_shows_three_faces_and_nine_edges(viewpoint: Viewpoint) -> None:
    view = View(viewpoint=viewpoint)
    drawing = draw_bodies([box_body("cube", (0, 0, 0), (100, 100, 100))], view)
    assert len(drawing.regions) == 3
    assert len({r.tint for r in drawing.regions}) == 3
    x, y, z = (on_paper(view, (0, 0, 0), e) for e in ((100, 0, 0), (0, 100, 0), (0, 0, 100)))
    # Six of the nine edges form the outline, the other three meet at the near corner.
    assert stroke_length(drawing, "outline") == pytest.approx(2 * (x + y + z), abs=1e-6)
    assert stroke_length(drawing, "edge") == pytest.approx(x + y + z, abs=1e-6)
    assert stroke_length(drawing) == pytest.approx(3 * (x + y + z), abs=1e-6)
    assert drawing.shown == {"cube": 1.0}


def test_the_isometric_view_shortens_all_axes_alike() -> None:
    view = View(viewpoint=ISOMETRIC)
    lengths = [on_paper(view, (0, 0, 0), e) for e in ((1, 0, 0), (0, 1, 0), (0, 0, 1))]
    assert lengths == pytest.approx([math.sqrt(2 / 3)] * 3)


def test_a_box_in_front_hides_exactly_what_it_covers() -> None:
    behind = box_body("behind", (0, 50, 0), (100, 60, 100))
    front = box_body("front", (30, 0, 20), (70, 10, 80))
    drawing = draw_bodies([behind, front], VIEW)
    alone = draw_bodies([behind], VIEW)
    silhouette = union_all([Polygon(r.outer) for r in draw_bodies([front], VIEW).regions])
    covered = sum(Polygon(r.outer).intersection(silhouette).area for r in alone.regions)
    assert covered > 100
    assert region_area(drawing, "behind") == pytest.approx(
        region_area(alone, "behind") - covered, rel=1e-7
    )
    assert region_area(drawing, "front") == pytest.approx(silhouette.area, rel=1e-9)
    assert stroke_length(drawing, body="front") == pytest.approx(
        stroke_length(draw_bodies([front], VIEW)), rel=1e-9
    )
    assert drawing.shown["behind"] < 1.0


def test_what_is_behind_altogether_is_gone() -> None:
    wall = box_body("wall", (0, 0, 0), (500, 18, 500))
    small = box_body("small", (200, 40, 200), (220, 60, 220))
    drawing = draw_bodies([wall, small], VIEW)
    assert region_area(drawing, "small") == 0
    assert stroke_length(drawing, body="small") == 0
    assert drawing.shown["small"] == 0


def test_flush_boxes_show_one_contact_line_and_hide_nothing() -> None:
    left = box_body("left", (0, 0, 0), (100, 50, 20))
    right = box_body("right", (100, 0, 0), (200, 50, 20))
    drawing = draw_bodies([left, right], VIEW)
    both = draw_bodies([box_body("both", (0, 0, 0), (200, 50, 20))], VIEW)
    # The two faces of the joint show on top and in front: y and z of a corner.
    joint = on_paper(VIEW, (0, 0, 0), (0, 50, 0)) + on_paper(VIEW, (0, 0, 0), (0, 0, 20))
    assert stroke_length(drawing, "contact") == pytest.approx(joint, abs=1e-6)
    assert stroke_length(drawing, "outline") == pytest.approx(stroke_length(both, "outline"))
    assert region_area(drawing, "left") + region_area(drawing, "right") == pytest.approx(
        region_area(both, "both"), rel=1e-9
    )


def test_a_shelf_between_sides_draws_its_contact_once() -> None:
    side = box_body("side", (0, 0, 0), (18, 300, 600))
    shelf = box_body("shelf", (18, 0, 300), (500, 300, 318), role="new")
    drawing = draw_bodies([side, shelf], VIEW)
    assert has_line(drawing, VIEW, (18, 0, 318), (18, 300, 318))
    every = sum(stroke_length(draw_bodies([body], VIEW)) for body in (side, shelf))
    assert stroke_length(drawing) < every
    # The shelf's outline along the side belongs to the new part.
    contacts = {s.role for s in drawing.strokes if s.kind == "contact"}
    assert contacts == {"new"}


def test_bodies_that_cut_into_each_other_are_parted_where_they_do() -> None:
    plate = box_body("plate", (0, 0, 0), (100, 100, 20))
    post = box_body("post", (40, 40, -50), (60, 60, 80))
    drawing = draw_bodies([plate, post], VIEW)
    # The post's front and right side meet the plate's top along two lines.
    assert has_line(drawing, VIEW, (40, 40, 20), (60, 40, 20))
    assert has_line(drawing, VIEW, (60, 40, 20), (60, 60, 20))
    # Nothing of the post is drawn below the plate's top in front of the plate.
    below = VIEW.project((60, 40, 10))
    assert gap_to_strokes(drawing, below[0], below[1]) > 1
    above = box_body("above", (40, 40, 20), (60, 60, 80))
    under = box_body("under", (40, 40, -50), (60, 60, 0))
    apart = draw_bodies([plate, above, under], VIEW)
    assert region_area(drawing, "post") == pytest.approx(
        region_area(apart, "above") + region_area(apart, "under"), rel=1e-6
    )


def test_lines_that_fall_together_on_paper_are_drawn_once() -> None:
    view = View(viewpoint=Viewpoint(0.0, 0.0))  # straight from the front
    near = box_body("near", (0, 0, 0), (100, 10, 100))
    far = box_body("far", (0, 50, 0), (100, 60, 100))
    drawing = draw_bodies([near, far], view)
    assert stroke_length(drawing) == pytest.approx(400)
    assert {s.body for s in drawing.strokes} == {"near"}


def test_a_line_along_the_border_of_what_covers_it_stays() -> None:
    view = View(viewpoint=Viewpoint(0.0, 0.0))
    near = box_body("near", (0, 0, 0), (100, 10, 50))
    far = box_body("far", (0, 50, 0), (100, 60, 100))
    drawing = draw_bodies([near, far], view)
    for z in (0, 50, 100):
        assert has_line(drawing, view, (0, 0, z), (100, 0, z))
    for x in (0, 100):
        assert has_line(drawing, view, (x, 0, 0), (x, 0, 100))
    assert stroke_length(drawing) == pytest.approx(500)


def test_an_edge_behind_the_joint_of_two_faces_is_hidden() -> None:
    # Seen straight on, the far box's left edge lies behind the joint of the near two.
    view = View(viewpoint=Viewpoint(0.0, 0.0))
    near = [
        box_body("one", (0, 0, 0), (50, 10, 100)),
        box_body("two", (50, 0, 0), (100, 10, 100)),
    ]
    far = box_body("far", (50, 50, 20), (90, 60, 80))
    drawing = draw_bodies([*near, far], view)
    assert stroke_length(drawing, body="far") == 0
    assert stroke_length(drawing, "contact") == pytest.approx(100)


def test_edge_on_faces_are_no_trouble() -> None:
    view = View(viewpoint=Viewpoint(90.0, 0.0))  # from the right: front, top edge-on
    drawing = draw_bodies(
        [
            box_body("panel", (0, 0, 0), (18, 300, 600)),
            box_body("shelf", (18, 0, 300), (500, 300, 318)),
        ],
        view,
    )
    assert {r.body for r in drawing.regions} == {"panel", "shelf"}
    assert stroke_length(drawing) == pytest.approx(2 * (300 + 600) + 2 * 300)
    assert region_area(drawing, "panel") == pytest.approx(300 * 600 - 300 * 18)


def notched() -> Part:
    return Part(
        name="side",
        title="Side",
        kind="panel",
        path=(),
        frame=PRODUCT,
        outline=((0, 0), (400, 0), (400, 200), (60, 200), (60, 170), (0, 170)),
        thickness=18,
        cutouts=(((100, 60), (160, 60), (160, 100), (100, 100)),),
    )


def test_a_notched_panel_shows_its_notch_and_what_is_behind_its_opening() -> None:
    body = part_body(notched())
    assert len(body.faces) == 2 + 6 + 4
    assert len(body.edges) == 3 * 6 + 3 * 4
    drawing = draw_bodies([body], VIEW)
    top = next(r for r in drawing.regions if r.tint == "top")
    assert len(top.outer) == 6
    assert len(top.holes) == 1
    for start, end in ((60, 170), (60, 200)), ((0, 170), (60, 170)), ((100, 60), (160, 60)):
        assert has_line(drawing, VIEW, (*start, 0), (*end, 0))
    # A strip behind the panel is seen through the opening.
    strip = box_body("strip", (0, 90, -200), (400, 110, -180))
    high = View(viewpoint=Viewpoint(0.0, 89.0))
    through = draw_bodies([body, strip], high)
    assert region_area(through, "strip") > 0.8 * 60 * 10


def test_a_groove_has_a_floor_and_walls_and_notches_the_edge() -> None:
    part = Part(
        name="p",
        title="P",
        kind="panel",
        path=(),
        frame=PRODUCT,
        outline=((0, 0), (400, 0), (400, 200), (0, 200)),
        thickness=18,
    )
    groove = Groove(
        part="p",
        surface="face",
        polygon=((0, 180), (400, 180), (400, 184), (0, 184)),
        depth=8,
        path=(),
        joint="",
    )
    body = part_body(part, [groove])
    tops = [f for f in body.faces if f.normal == (0, 0, 1)]
    assert len(tops) == 3  # two strips of face and the floor
    assert sorted({round(p[2], 6) for f in tops for p in f.outer}) == [-8, 0]
    right = next(f for f in body.faces if f.normal == pytest.approx((1, 0, 0)))
    assert len(right.outer) == 8  # a rectangle with a notch in its upper side
    corners = {(round(p[1], 6), round(p[2], 6)) for p in right.outer}
    assert {(180, 0), (180, -8), (184, -8), (184, 0)} <= corners
    assert volume(body) == pytest.approx(400 * 200 * 18 - 400 * 4 * 8)


def test_crossing_and_stopped_grooves_keep_the_solid_closed() -> None:
    def groove(depth: float, *polygon: tuple[float, float], surface: str = "face") -> Groove:
        return Groove(part="side", surface=surface, polygon=polygon, depth=depth, path=(), joint="")

    grooves = [
        groove(8, (200, 120), (380, 120), (380, 130), (200, 130)),
        groove(4, (320, -1), (340, -1), (340, 201), (320, 201)),
        groove(5, (0, 20), (400, 20), (400, 30), (0, 30), surface="back"),
    ]
    body = part_body(notched(), grooves)
    outline = 400 * 200 - 60 * 30 - 60 * 40
    removed = 180 * 10 * 8 + (200 - 10) * 20 * 4 + 400 * 10 * 5
    assert volume(body) == pytest.approx(outline * 18 - removed)
    assert all(len(edge.faces) == 2 for edge in body.edges)


def volume(body: Body) -> float:
    """Return the volume by the divergence theorem: Σ area · distance of plane / 3."""
    total = 0.0
    for face in body.faces:
        area = loop_area(face.outer) - sum(loop_area(h) for h in face.holes)
        total += area * sum(a * b for a, b in zip(face.normal, face.outer[0], strict=True)) / 3
    return total


def loop_area(loop: tuple[Vec3, ...]) -> float:
    total = [0.0, 0.0, 0.0]
    for p, q in zip(loop, loop[1:] + loop[:1], strict=True):
        total[0] += p[1] * q[2] - p[2] * q[1]
        total[1] += p[2] * q[0] - p[0] * q[2]
        total[2] += p[0] * q[1] - p[1] * q[0]
    return distance((0, 0, 0), (total[0], total[1], total[2])) / 2


def test_a_rod_has_only_its_silhouette_along() -> None:
    ring = tuple(
        (20 + 20 * math.cos(2 * math.pi * n / 24), 20 + 20 * math.sin(2 * math.pi * n / 24))
        for n in range(24)
    )
    frame = Frame((0, 0, 500), (1, 0, 0), (0, 1, 0), (0, 0, 1))
    rod = Part(
        name="rod",
        title="Rod",
        kind="bought",
        path=(),
        frame=frame,
        outline=ring,
        thickness=500,
        smooth=True,
    )
    drawing = draw_bodies([part_body(rod)], VIEW)
    upright = on_paper(VIEW, (0, 0, 0), (0, 0, 500))
    along = [
        abs(p[1] - q[1]) for s in drawing.strokes for p, q in sides_of(s) if abs(p[0] - q[0]) < 1e-6
    ]
    assert sum(along) == pytest.approx(2 * upright, rel=0.01)
    assert len(drawing.regions) == 2  # the top and one tint all round


def test_a_wire_is_hidden_by_bodies() -> None:
    wall = box_body("wall", (0, 0, 0), (100, 10, 100))
    wire = Wire(name="guide", points=((50, -100, 50), (50, 100, 50)))
    drawing = draw_bodies([wall], VIEW, [wire])
    seen = stroke_length(drawing, "guide")
    before = on_paper(VIEW, (50, -100, 50), (50, 0, 50))
    whole = on_paper(VIEW, (50, -100, 50), (50, 100, 50))
    assert before - 0.01 <= seen < whole
    assert has_line(drawing, VIEW, (50, -100, 50), (50, 0, 50))


def test_scale_and_place_on_paper_change_nothing_else() -> None:
    bodies = [
        box_body("one", (0, 0, 0), (100, 20, 50)),
        box_body("two", (30, -60, 0), (60, -30, 90)),
    ]
    plain = draw_bodies(bodies, VIEW)
    placed = draw_bodies(bodies, VIEW.at_scale(0.1).placed((70, 90)))
    assert len(plain.strokes) == len(placed.strokes)
    for a, b in zip(plain.strokes, placed.strokes, strict=True):
        assert [(70 + 0.1 * x, 90 + 0.1 * y) for x, y in a.points] == [
            pytest.approx(p) for p in b.points
        ]


def test_an_empty_scene_is_an_empty_drawing() -> None:
    drawing = draw_bodies([], VIEW)
    assert drawing.regions == ()
    assert drawing.strokes == ()
    assert drawing.bounds() == (0, 0, 0, 0)
    lone = draw_bodies([], VIEW, [Wire(name="w", points=((0, 0, 0), (10, 0, 0)))])
    assert stroke_length(lone) == pytest.approx(on_paper(VIEW, (0, 0, 0), (10, 0, 0)))


def test_a_sloping_panel_is_a_normal_case() -> None:
    slope = unit((0.0, 1.0, 0.4))
    frame = Frame((0, 0, 0), (1, 0, 0), slope, (0.0, -slope[2], slope[1]))
    part = Part(
        name="tilted",
        title="Tilted",
        kind="panel",
        path=(),
        frame=frame,
        outline=((0, 0), (300, 0), (300, 200), (0, 200)),
        thickness=18,
    )
    drawing = draw_bodies([part_body(part)], VIEW)
    assert len(drawing.regions) == 3
    assert stroke_length(drawing) == pytest.approx(
        3
        * (
            on_paper(VIEW, (0, 0, 0), (300, 0, 0))
            + on_paper(VIEW, (0, 0, 0), (0, 200 * slope[1], 200 * slope[2]))
            + on_paper(VIEW, (0, 0, 0), (0, -18 * slope[2], 18 * slope[1]))
        )
    )
