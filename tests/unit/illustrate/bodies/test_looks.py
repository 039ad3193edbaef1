"""What items look like: inside what is weighed and kept clear of, closed, and turned true."""

from __future__ import annotations

import math

import pytest

from kdkit.catalogue.checks import check_item
from kdkit.catalogue.entries import Item
from kdkit.catalogue.looks import Drum, Look, Prism, Sign
from kdkit.frames import PRODUCT, dot
from kdkit.illustrate.bodies.hardware import item_body
from kdkit.illustrate.bodies.looks import SMALL
from tests.cabinets import built_in

CATALOGUE = built_in()
LOOKS = [key for key, item in CATALOGUE.items.items() if item.look is not None]
CAMS = ["cam-lock-15", "cam-lock-12"]


def extent(item: Item, *, looked: bool) -> list[tuple[float, float]]:
    shown = item if looked else item.model_copy(update={"look": None})
    corners = list(item_body("x", shown, PRODUCT, scale=1.0).corners())
    return [(min(p[n] for p in corners), max(p[n] for p in corners)) for n in range(3)]


@pytest.mark.parametrize("key", LOOKS)
def test_a_look_is_as_large_as_the_pieces_that_are_kept_clear_of(key: str) -> None:
    item = CATALOGUE.items[key]
    for seen, kept in zip(extent(item, looked=True), extent(item, looked=False), strict=True):
        assert seen == pytest.approx(kept, abs=0.35)


@pytest.mark.parametrize("key", LOOKS)
@pytest.mark.parametrize("scale", [0.1, 0.25, 1.0])
def test_a_look_is_closed_and_its_normals_are_of_length_1(key: str, scale: float) -> None:
    body = item_body("x", CATALOGUE.items[key], PRODUCT, scale=scale)
    assert {len(edge.faces) for edge in body.edges} == {2}
    # The faces of a closed solid, each as long as its area, point nowhere together.
    total = [0.0, 0.0, 0.0]
    for face in body.faces:
        assert math.hypot(*face.normal) == pytest.approx(1.0)
        area = face_area(face.outer) - sum(face_area(hole) for hole in face.holes)
        total = [t + area * n for t, n in zip(total, face.normal, strict=True)]
    assert total == pytest.approx([0.0, 0.0, 0.0], abs=1e-3 * len(body.faces))


def face_area(loop: tuple[tuple[float, float, float], ...]) -> float:
    x = y = z = 0.0
    for p, q in zip(loop, loop[1:] + loop[:1], strict=True):
        x += (p[1] - q[1]) * (p[2] + q[2])
        y += (p[2] - q[2]) * (p[0] + q[0])
        z += (p[0] - q[0]) * (p[1] + q[1])
    return math.sqrt(x * x + y * y + z * z) / 2


@pytest.mark.parametrize("key", LOOKS)
def test_every_sign_lies_on_a_face_of_its_item(key: str) -> None:
    item = CATALOGUE.items[key]
    assert item.look is not None
    body = item_body("x", item, PRODUCT, scale=1.0)
    signs = [m for m in body.marks if m.kind == "recess"]
    assert len(signs) == len(item.look.signs) + (item.recess_z is not None)
    for mark in body.marks:
        face = body.faces[mark.face]
        for p in mark.points:
            off = [a - b for a, b in zip(p, face.outer[0], strict=True)]
            assert abs(dot((off[0], off[1], off[2]), face.normal)) < 1e-6


def pointed(item: Item, *, scale: float, locked: str) -> tuple[float, float]:
    """Return where a cam's solid mark points, from its three corners."""
    body = item_body("c", item, PRODUCT, scale=scale, locked=locked)  # type: ignore[arg-type]
    (mark,) = [m for m in body.marks if len(m.points) == 3 and m.tone]
    at = mark.points
    sides = [math.dist(at[n - 1], at[n]) for n in range(3)]
    base = min(range(3), key=lambda n: sides[n])  # a head is longer than it is wide at its foot
    tip = at[(base + 1) % 3]
    foot = [(a + b) / 2 for a, b in zip(at[base - 1], at[base], strict=True)]
    size = math.dist(tip, foot)
    return round((tip[0] - foot[0]) / size, 3), round((tip[1] - foot[1]) / size, 3)


@pytest.mark.parametrize("key", CAMS)
@pytest.mark.parametrize("scale", [0.1, 1.0])
def test_the_mark_of_a_cam_points_through_its_opening_until_it_is_turned(
    key: str, scale: float
) -> None:
    """+y of a cam looks to the edge that its bolt comes in by (the joint's −k)."""
    item = CATALOGUE.items[key]
    assert pointed(item, scale=scale, locked="not yet") == (0.0, 1.0)
    assert pointed(item, scale=scale, locked="already") == (0.0, -1.0)


@pytest.mark.parametrize("key", CAMS)
def test_while_a_cam_is_turned_its_mark_is_also_seen_where_it_was(key: str) -> None:
    item = CATALOGUE.items[key]
    lines = {
        when: [m for m in item_body("c", item, PRODUCT, locked=when).marks if not m.tone]  # type: ignore[arg-type]
        for when in ("not yet", "now", "already")
    }
    assert [len(found) for found in lines.values()] == [0, 1, 0]


@pytest.mark.parametrize("key", CAMS)
def test_a_cam_of_3_mm_on_paper_is_its_outline_and_one_mark(key: str) -> None:
    item = CATALOGUE.items[key]
    widest = max(p.d0 for p in item.pieces)
    small = item_body("c", item, PRODUCT, scale=0.99 * SMALL / widest)
    assert len(small.marks) == 1
    assert len({face.group for face in small.faces}) == 2  # one round side, and flat ends
    assert len(item_body("c", item, PRODUCT, scale=1.5 * SMALL / widest).marks) > 1


@pytest.mark.parametrize("part", ["carcass", "drawer"])
def test_a_profile_is_closed_at_one_end_and_its_arrow_points_to_the_front(part: str) -> None:
    item = CATALOGUE.items[f"{part}-profile-400"]
    assert item.look is not None
    (stop,) = item.look.prisms
    (arrow,) = [s for s in item.look.signs if s.kind == "arrow"]
    front = 1 if part == "carcass" else -1  # y = 0 is the front end of both
    assert arrow.to == ("+y" if front > 0 else "-y")
    assert stop.low == pytest.approx(-400 if part == "carcass" else 0)
    assert -400 * (front > 0) <= arrow.at[1] * front < 0 or front < 0 < arrow.at[1] < 200


@pytest.mark.parametrize(
    ("look", "said"),
    [
        (Look(prisms=(Prism(outline=((0, 0), (0, 5), (5, 0)), low=0, high=1),)), "counter-clock"),
        (Look(prisms=(Prism(outline=((0, 0), (5, 0), (0, 5)), low=1, high=1),)), "below high"),
        (Look(prisms=(Prism(outline=((0, 0), (5, 0), (5, 0), (0, 5)), low=0, high=1),)), "twice"),
        (Look(drums=(Drum(low=-9, high=0, diameter=8, opening=8),)), "inside its diameter"),
        (Look(signs=(Sign(kind="hole", at=(0, 0, 0), side="+y", size=4),)), "along its surface"),
    ],
)
def test_a_look_without_a_shape_is_told(look: Look, said: str) -> None:
    item = CATALOGUE.items["knob-30"].model_copy(update={"look": look})
    (problem,) = check_item(item, ("items", "knob-30"))
    assert said in problem.message
    assert problem.path[:3] == ("items", "knob-30", "look")
