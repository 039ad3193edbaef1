"""Panels in their places: frames, outlines, notches, openings, bands, turns, mirrors."""

from __future__ import annotations

import math
import pathlib

import pytest

from kdkit.frames import AXES, dot
from kdkit.model.resolved import Part
from tests.unit.model.making import extent, resolved


def area(part: Part) -> float:
    """Return the outline's signed area: positive when counter-clockwise."""
    points = part.outline
    return (
        sum(
            a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True)
        )
        / 2
    )


def one(folder: pathlib.Path, said: str) -> Part:
    return resolved(folder, f"panels:\n  p: {said}\n").part("p")


PLACES = {
    "x": "{board: carcass, x: {from: 100}, y: [20, 320], z: [50, 650]%s}",
    "y": "{board: carcass, x: [20, 320], y: {from: 100}, z: [50, 650]%s}",
    "z": "{board: carcass, x: [20, 320], y: [50, 650], z: {from: 100}%s}",
}


@pytest.mark.parametrize("axis", "xyz")
@pytest.mark.parametrize("sign", "+-")
@pytest.mark.parametrize("grain", "xyz")
def test_frame_of_every_way_a_panel_can_face(
    tmp_path: pathlib.Path, axis: str, sign: str, grain: str
) -> None:
    if grain == axis:
        return
    part = one(tmp_path, PLACES[axis] % f", face: {sign}{axis}, grain: {grain}")
    spans = {"x": (20.0, 320.0), "y": (50.0, 650.0), "z": (50.0, 650.0)}
    if axis == "x":
        spans["y"] = (20.0, 320.0)
    spans[axis] = (100.0, 118.0)
    assert extent(part) == tuple(spans[a] for a in "xyz")
    assert part.frame.k == AXES[sign + axis]
    assert part.frame.i == AXES["+" + grain]
    assert min(p[0] for p in part.outline) == 0
    assert min(p[1] for p in part.outline) == 0
    assert part.outline[0] == (0, 0)
    assert area(part) > 0
    assert part.thickness == 18


@pytest.mark.parametrize(("axis", "face"), [("x", "+x"), ("y", "-y"), ("z", "+z")])
def test_face_and_grain_when_nothing_is_said(tmp_path: pathlib.Path, axis: str, face: str) -> None:
    part = one(tmp_path, PLACES[axis] % "")
    assert part.frame.k == AXES[face]
    assert max(p[0] for p in part.outline) == 600


def test_thickness_counts_from_either_end(tmp_path: pathlib.Path) -> None:
    part = one(tmp_path, "{board: carcass, x: {to: width}, y: [0, 300], z: [0, 600]}")
    assert extent(part)[0] == (582, 600)
    part = one(
        tmp_path, "{board: carcass, x: {from: 0, to: 18}, y: [0, 300], z: [0, 600], face: +x}"
    )
    assert extent(part)[0] == (0, 18)


def test_sides_of_segments_and_bands(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: [0, 300], z: {from: 0}, bands: {front: 2, left: 1}}",
    )
    assert dict(zip(part.edge_sides, part.bands, strict=True)) == {
        "front": 2,
        "right": 0,
        "back": 0,
        "left": 1,
    }
    # Each side looks where its name says.
    for n, side in enumerate(part.edge_sides):
        a, b = part.outline[n], part.outline[(n + 1) % 4]
        outward = part.frame.vector_to_outer((b[1] - a[1], a[0] - b[0], 0.0))
        expected = {"front": "-y", "right": "+x", "back": "+y", "left": "-x"}[side]
        assert dot(outward, AXES[expected]) > 0


def test_band_all_means_every_outer_edge(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: [0, 300], z: {from: 0}, bands: {all: 1, back: 0},"
        " notches: [{at: [front, left], x: 50, y: 60}]}",
    )
    banded = dict(zip(part.edge_sides, part.bands, strict=True))
    assert banded == {"front": 1, "right": 1, "back": 0, "left": 1, "": 0}


def test_corner_notch(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: {from: 0}, y: [0, 300], z: [0, 600],"
        " notches: [{at: [front, bottom], y: 40, z: 80}]}",
    )
    assert area(part) == 600 * 300 - 40 * 80
    assert part.edge_sides.count("") == 2
    corners = {part.frame.point_to_outer((*p, 0.0))[1:] for p in part.outline}
    assert corners == {(40, 0), (300, 0), (300, 600), (0, 600), (0, 80), (40, 80)}


def test_notch_out_of_an_edge_and_formulas_in_it(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, width], y: [0, 300], z: {from: 0},"
        " notches: [{at: [back], x: [width / 2 - 30, width / 2 + 30], y: 25}]}",
    )
    assert area(part) == 600 * 300 - 60 * 25
    assert len(part.outline) == 8
    assert part.edge_sides.count("back") == 2
    assert part.edge_sides.count("") == 3


def test_outline_in_place_of_spans(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          side:
            board: carcass
            x: {from: 0}
            outline: [[0, 0], [depth, 0], [depth, height], [100, height], [0, 400]]
            bands: {front: 1, top: 2}
          shelf: {board: carcass, x: [0, 100], y: [side.y0, side.y1], z: {from: side.z1}}
        """,
    )
    side = made.part("side")
    assert area(side) == 600 * 300 - 100 * 200 / 2
    assert extent(made.part("shelf"))[1:] == ((0, 300), (600, 618))
    banded = dict(zip(side.edge_sides, side.bands, strict=True))
    # The slanted edge has no side; it looks more to the front than up and is banded so.
    assert banded == {"front": 1, "top": 2, "back": 0, "bottom": 0, "": 1}


def test_openings(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: {from: 0}, z: [0, 300], face: +y, cutouts: ["
        "{x: [100, 200], z: [50, 80]}, {x: 400, z: 150, diameter: 60},"
        " {x: [480, 560], z: [50, 110], corner_radius: 10}]}",
    )
    square, rounded = part.cutouts
    product = sorted(
        tuple(round(c, 9) for c in part.frame.point_to_outer((*p, 0.0))) for p in square
    )
    assert [(c[0], c[2]) for c in product] == [(100, 50), (100, 80), (200, 50), (200, 80)]
    hole = part.round_cutouts[0]
    centre = part.frame.point_to_outer((*hole.centre, 0.0))
    assert (centre, hole.diameter) == ((400, 18, 150), 60)
    xs = [p[0] for p in rounded]
    assert max(xs) - min(xs) == pytest.approx(80)
    assert len(rounded) > 20


def test_a_turn_is_applied_after_the_extents(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: [0, 300], z: {from: 100},"
        " turns: [{axis: x, angle: 30, about: [0, 0, 100]}]}",
    )
    # The back edge is lifted: right-handed about x, y turns towards z.
    back_low = part.frame.point_to_outer((0.0, 300.0, -18.0))
    assert back_low == pytest.approx((0, 300 * math.cos(math.radians(30)), 100 + 150))
    assert part.edge_sides == ("front", "right", "back", "left")


def test_turns_follow_each_other_and_quarter_turns_are_exact(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: [0, 300], z: {from: 0}, turns: ["
        "{axis: z, angle: 90, about: [0, 0, 0]}, {axis: y, angle: -90, about: [0, 0, 0]}]}",
    )
    assert part.frame.k in (AXES["-x"],)
    assert extent(part) == ((-18, 0), (0, 600), (-300, 0))


def test_mirror_is_the_true_mirror_image(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          left:
            board: carcass
            x: {from: 0}
            y: [0, depth]
            z: [0, height]
            face: +x
            bands: {front: 1}
            notches: [{at: [back, bottom], y: 20, z: 60}]
            cutouts: [{y: 150, z: 300, diameter: 40}, {y: [40, 90], z: [400, 500]}]
            bores: [{face: face, y: 37, z: 100, diameter: 5, depth: 12}]
            turns: [{axis: y, angle: 10, about: [0, 0, 0]}, {axis: x, angle: 5, about: [0, 9, 0]}]
          right: {mirror: left, x: {to: width}}
        """,
    )
    left, right = made.part("left"), made.part("right")
    assert right.mirror_of == "left"

    def mirrored(points: list[tuple[float, float, float]]) -> list[tuple[float, ...]]:
        return sorted(tuple(round(c, 6) + 0.0 for c in (600 - p[0], p[1], p[2])) for p in points)

    def there(points: list[tuple[float, float, float]]) -> list[tuple[float, ...]]:
        return sorted(tuple(round(c, 6) + 0.0 for c in p) for p in points)

    def solid(part: Part) -> list[tuple[float, float, float]]:
        rings = [part.outline, *part.cutouts, tuple(c.centre for c in part.round_cutouts)]
        return [
            part.frame.point_to_outer((*p, z))
            for ring in rings
            for p in ring
            for z in (0.0, -part.thickness)
        ]

    assert mirrored(solid(left)) == there(solid(right))
    bore, other = left.bores[0], right.bores[0]
    assert mirrored([left.frame.point_to_outer(bore.mouth)]) == there(
        [right.frame.point_to_outer(other.mouth)]
    )
    assert other.into == (0, 0, -1)
    by_side = [dict(zip(p.edge_sides, p.bands, strict=True)) for p in (left, right)]
    assert by_side[0] == by_side[1]
    assert area(right) > 0


def test_mirror_along_the_length_swaps_left_and_right(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          a:
            board: carcass
            x: [0, 200]
            y: [0, 300]
            z: {from: 0}
            bands: {left: 1, front: 2}
            notches: [{at: [left, front], x: 30, y: 40}]
          b: {mirror: a, x: {to: width}, z: {from: 50}}
          c: {mirror: b, x: {from: 0}, z: {from: 0}}
        """,
    )
    a, b, c = (made.part(name) for name in "abc")
    assert extent(b) == ((400, 600), (0, 300), (50, 68))
    assert dict(zip(b.edge_sides, b.bands, strict=True)) == {
        "": 0,
        "right": 1,
        "front": 2,
        "left": 0,
        "back": 0,
    }
    assert c.outline == a.outline
    assert c.frame == a.frame
    assert c.bands == a.bands


def test_hand_bores(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0, 600], y: [0, 300], z: {from: 100}, face: -z, bores: ["
        "{face: face, x: 37, y: 50, diameter: 5, depth: 12, purpose: cable},"
        "{face: back, x: 37, y: 50, diameter: 5, depth: 12},"
        "{face: front, x: 80, diameter: 8, depth: 25},"
        "{face: back edge, x: 80, z: 110, diameter: 8, depth: through}]}",
    )
    in_product = [
        (part.frame.point_to_outer(b.mouth), part.frame.vector_to_outer(b.into), b.depth)
        for b in part.bores
    ]
    assert in_product == [
        ((37, 50, 100), (0, 0, 1), 12),
        ((37, 50, 118), (0, 0, -1), 12),
        ((80, 0, 109), (0, 1, 0), 25),
        ((80, 300, 110), (0, -1, 0), 300),
    ]
    assert [b.through for b in part.bores] == [False, False, False, True]
    assert part.bores[0].purpose == "cable"
    assert part.bores[0].mouth[2] == 0


def test_bought_parts(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        bought:
          rod: {shape: cylinder, x: [0, width], y: [100, 125], z: [500, 525], mass: 0.4}
          leg: {shape: tube, x: [0, 30], y: [0, 30], z: [0, 20], along: z, wall: 2, mass: 0.2}
          glass: {shape: box, x: [0, 500], y: [0, 4], z: [0, 300], mass: 1.5, title: Glass}
        """,
    )
    rod, leg, glass = (made.part(name) for name in ("rod", "leg", "glass"))
    for found, wanted in zip(extent(rod), ((0, 600), (100, 125), (500, 525)), strict=True):
        assert found == pytest.approx(wanted)
    assert rod.smooth
    assert rod.thickness == 600
    assert abs(area(rod)) == pytest.approx(math.pi * 12.5**2, rel=0.01)
    assert leg.frame.k == AXES["+z"]
    assert len(leg.cutouts) == 1
    radius = max(math.dist(p, (15, 15)) for p in leg.cutouts[0])
    assert radius == pytest.approx(13)
    assert (glass.kind, glass.thickness, glass.mass, glass.title) == ("bought", 4, 1.5, "Glass")
    assert not glass.smooth
    assert glass.board is None


def test_formulas_reach_every_side(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          a: {board: carcass, x: [10, 310], y: [20, 420], z: {from: 30}}
          b:
            board: carcass
            x: [a.x0 + a.x1 + a.y0 + a.y1, a.z0 + a.z1 + 1000]
            y: [0, a.length + a.width]
            z: {from: a.thickness + boards.carcass.thickness}
        """,
    )
    assert extent(made.part("b")) == ((760, 1078), (0, 700), (36, 54))


def test_a_mirrored_bore_meets_the_mirrored_part(tmp_path: pathlib.Path) -> None:
    made = resolved(
        tmp_path,
        """\
        panels:
          left_post:
            board: carcass
            x: {from: 0}
            y: [0, 60]
            z: [0, 400]
            bores:
              - {face: back edge, z: 300, diameter: 8, depth: 25, mate: left_rail}
              - {face: face, y: 30, z: 300, diameter: 8, depth: 12, mate: front_rail}
          right_post: {mirror: left_post, x: {to: width}}
          left_rail: {board: carcass, x: {from: 0}, y: [60, 300], z: [270, 330]}
          right_rail: {mirror: left_rail, x: {to: width}}
          front_rail: {board: carcass, x: [18, 582], y: {from: 20}, z: [270, 330]}
        """,
    )
    assert [b.mate for b in made.part("left_post").bores] == ["left_rail", "front_rail"]
    assert [b.mate for b in made.part("right_post").bores] == ["right_rail", "front_rail"]


def test_a_notch_that_meets_the_edge_by_rounding_leaves_no_sliver(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, x: [0.1, 600], y: [0.3, 300], z: {from: 0}, notches: ["
        "{at: [left], x: [0.1 * 3 - 0.2, 50], y: [0.1 + 0.2, 80]}]}",
    )
    assert len(part.outline) == 6
    assert area(part) == pytest.approx(599.9 * 299.7 - 49.9 * 79.7)


def test_corners_on_a_straight_line_are_none(tmp_path: pathlib.Path) -> None:
    part = one(
        tmp_path,
        "{board: carcass, z: {from: 0}, "
        "outline: [[0, 0], [100, 0], [600, 0], [600, 300], [0, 300]]}",
    )
    assert len(part.outline) == 4
