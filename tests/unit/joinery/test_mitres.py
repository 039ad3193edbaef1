"""Bores, slots and their checks in bevelled edges."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.frames import Vec3, add, distance, dot, scaled
from kdkit.geometry import assemble
from kdkit.geometry.surfaces import surface_frame
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.joinery.members import Member
from kdkit.model.resolved import FittingPlacement, Part
from tests.bevelled import mitred_box, plate
from tests.cabinets import built_in, joint, place, resolved, try_to_place, use


def corner(t: float = 18.0, angle: float = 45.0) -> list[Part]:
    return [part for part in mitred_box(angle, t) if part.name in ("top", "left")]


def bore_ends(part: Part, mouth: Vec3, into: Vec3, depth: float) -> tuple[Vec3, Vec3]:
    start = part.frame.point_to_outer(mouth)
    return start, part.frame.point_to_outer(add(mouth, scaled(into, depth)))


def test_the_surface_and_the_depth_behind_a_bevel() -> None:
    part = plate(0, 45, 0, 0)
    member = Member.of(part)
    frame = surface_frame(part, "edge:1")
    into = scaled(frame.k, -1.0)
    for down in (3.0, 10.0, 20.0):
        mouth = frame.point_to_outer((100.0, -down, 0.0))
        assert member.surface_at(mouth, into) == "edge:1"
        # At 45° the wood is as deep as the bore lies below the long point.
        assert member.depth_through(mouth, into) == pytest.approx(down)
    # Straight on along the panel it ends at the other edge, from the back at the slope.
    assert member.depth_through((595.0, 100.0, -5.0), (-1.0, 0.0, 0.0)) == pytest.approx(595)
    assert member.depth_through((590.0, 100.0, 0.0), (0.0, 0.0, -1.0)) == pytest.approx(10)
    assert member.surface_at((595.0, 100.0, -18.0), (0.0, 0.0, 1.0)) is None  # sawn off
    assert member.surface_at((600.0, 100.0, -9.0), (-1.0, 0.0, 0.0)) is None


@pytest.mark.parametrize("fitting", ["mitre-dowel-6x20", "mitre-dowel-6x30"])
@pytest.mark.parametrize("t", [22.0, 30.0])
def test_mating_bores_lie_on_one_line_square_to_the_mitre(fitting: str, t: float) -> None:
    joinery, assembly = place(corner(t), [joint("top", "left", use(fitting))])
    normal = (math.sqrt(0.5), 0.0, math.sqrt(0.5))
    ends: dict[str, list[tuple[Vec3, Vec3]]] = {"top": [], "left": []}
    for bore in joinery.bores:
        part = assembly.part(bore.part)
        assert bore.surface.startswith("edge:")
        ends[bore.part].append(bore_ends(part, bore.mouth, bore.into, bore.depth))
    assert len(ends["top"]) == len(ends["left"]) >= 2
    for (mouth, bottom), (other, far) in zip(*(sorted(e) for e in ends.values()), strict=True):
        assert distance(mouth, other) < 1e-9
        for end in (bottom, far):
            along = dot(normal, (end[0] - mouth[0], end[1] - mouth[1], end[2] - mouth[2]))
            assert abs(along) == pytest.approx(distance(mouth, end))
        # Off the middle of the mitre towards the inner corner of the box.
        inward = (mouth[0] - t / 2) - (mouth[2] - (640 - t / 2))
        assert inward / math.sqrt(2) == pytest.approx(0.35 * t)


def test_opens_says_otherwise() -> None:
    outside = use("mitre-dowel-6x20", opens="+z")
    joinery, problems, assembly = try_to_place(corner(22), [joint("top", "left", outside)])
    assert joinery is not None, problems
    bore = next(b for b in joinery.bores if b.part == "top")
    assert assembly.part("top").frame.point_to_outer(bore.mouth)[2] > 600 - 11


def codes(parts: list[Part], placement: FittingPlacement) -> set[str]:
    product = resolved(parts, [joint("top", "left", placement)])
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    if joinery is None:
        return {p.code for p in problems}
    found = inspect_product(product, assembly, joinery, built_in())
    return {p.code for p in (*problems, *found) if p.severity != "advice"}


def test_what_fits_and_what_does_not() -> None:
    assert codes(corner(18), use("mitre-dowel-6x20")) == set()
    assert codes(corner(18), use("dowel-8x30")) == {"fitting-contact"}
    assert codes(corner(12), use("mitre-dowel-6x20")) >= {"fitting-thickness"}
    # 17 deep in 18 the bore's rim comes out of the outside, 20 deep its middle too.
    assert "bore-breaks-out" in codes(corner(18), use("mitre-dowel-6x20", options={"depth": 17.0}))
    assert "bore-too-deep" in codes(corner(18), use("mitre-dowel-6x20", options={"depth": 20.0}))


def test_a_fitting_for_mitres_wants_a_mitre() -> None:
    square = [replace(part, bevels=()) for part in corner(18)]
    top = next(p for p in square if p.name == "top")
    moved = replace(top, frame=replace(top.frame, origin=(18.0, 0.0, top.frame.origin[2])))
    parts = [moved, *(p for p in square if p.name != "top")]
    assert codes(parts, use("mitre-glued")) == {"fitting-contact"}


@pytest.mark.parametrize("angle", [30.0, 45.0])
def test_sloping_mitres_keep_their_bores_inside(angle: float) -> None:
    """Two boards under another angle: the plane halves it, the bores stay square to it."""
    left = plate(0, angle, 0, 0, name="left")
    top = plate(0, 0, 0, angle, name="top")
    # The top begins at the long point of the left one, bent down by twice the angle.
    c, s = math.cos(math.radians(2 * angle)), math.sin(math.radians(2 * angle))
    frame = replace(
        left.frame, origin=(600.0, 0.0, 0.0), i=(c, 0.0, -s), j=(0.0, 1.0, 0.0), k=(s, 0.0, c)
    )
    parts = [left, replace(top, frame=frame)]
    # Bent down from the origin, it reaches below the floor, which does not matter here.
    assert codes(parts, use("mitre-dowel-6x20")) <= {"part-below-floor"}
