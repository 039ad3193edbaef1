"""Bevelled edges: surfaces, convex pieces, contacts and overlaps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from kdkit.frames import Frame, dot
from kdkit.geometry import assemble
from kdkit.geometry.assembly import ContactKind, contact_between
from kdkit.geometry.clipping import piece_hull
from kdkit.geometry.convex import part_pieces
from kdkit.geometry.solids import gap_between, overlap_between
from kdkit.geometry.surfaces import surfaces_of
from kdkit.model.panels.bevels import back_ring, bevel_planes, face_ring, section_ring
from kdkit.model.resolved import Part
from kdkit.parts.volume import prism_volume
from tests.bevelled import mitred_box, plate
from tests.boxes import board
from tests.cabinets import resolved

STEEP = plate(45, -30, 60, -10)
NOTCHED = plate(
    0, 45, 0, 0, 45, 45,
    outline=((0, 0), (600, 0), (600, 200), (500, 200), (500, 300), (0, 300)),
    edge_sides=("front", "right", "", "", "back", "left"),
)  # fmt: skip
OPENED = plate(45, 45, 45, 45, cutouts=(((100, 100), (200, 100), (220, 200), (100, 200)),))


def test_the_outline_at_every_depth() -> None:
    part = plate(0, 45, 0, -45)
    assert face_ring(part) == pytest.approx(np.array([(18, 0), (600, 0), (600, 300), (18, 300)]))
    assert back_ring(part) == pytest.approx(np.array([(0, 0), (582, 0), (582, 300), (0, 300)]))
    middle = section_ring(part.outline, part.bevels, 18.0, 9.0)
    assert middle == pytest.approx(np.array([(9, 0), (591, 0), (591, 300), (9, 300)]))
    assert face_ring(plate()) == plate().outline


@pytest.mark.parametrize("part", [STEEP, NOTCHED, OPENED], ids=["steep", "notched", "opened"])
def test_convex_pieces_fill_the_part(part: Part) -> None:
    total = 0.0
    for piece in part_pieces(part):
        corners, normals, offsets, edges = piece_hull(piece)
        assert (corners @ normals.T <= offsets + 1e-6).all()
        # Euler: corners − edges + faces = 2 on a convex body.
        assert len(corners) - len(edges) + len(normals) == 2
        for _, normal, offset in bevel_planes(part):
            assert (corners @ np.array(normal) <= offset + 1e-6).all()
        middle = corners.mean(axis=0)
        for normal, offset in zip(normals, offsets, strict=True):
            on = corners[np.abs(corners @ normal - offset) < 1e-6]
            spread = on - on.mean(axis=0)
            u = spread[0] / np.linalg.norm(spread[0])
            v = np.cross(normal, u)
            ring = on[np.argsort(np.arctan2(spread @ v, spread @ u))]
            area = 0.5 * sum(
                np.cross(ring[n] - ring[0], ring[n + 1] - ring[0]) @ normal
                for n in range(1, len(ring) - 1)
            )
            total += abs(area) * (offset - normal @ middle) / 3
    assert total == pytest.approx(prism_volume(part), rel=1e-9)


@pytest.mark.parametrize("part", [STEEP, NOTCHED, OPENED], ids=["steep", "notched", "opened"])
def test_surfaces_lie_on_the_part(part: Part) -> None:
    planes = bevel_planes(part)
    for surface in surfaces_of(part):
        frame = surface.frame
        for x, y in surface.polygon.exterior.coords:
            p = frame.point_to_outer((x, y, 0.0))
            assert -part.thickness - 1e-9 <= p[2] <= 1e-9
            assert all(dot(normal, p) <= offset + 1e-9 for _, normal, offset in planes)
    by_name = {s.name: s for s in surfaces_of(part)}
    for n, normal, _ in planes:
        assert by_name[f"edge:{n}"].frame.k == pytest.approx(normal)
        assert abs(math.degrees(math.asin(normal[2]))) == pytest.approx(abs(part.bevels[n]))


def test_a_mitre_is_found_in_the_plane_that_halves_the_corner() -> None:
    parts = mitred_box()
    assembly, problems = assemble(resolved(parts))
    assert assembly is not None, problems
    assert len(assembly.contacts) == 4
    for contact in assembly.contacts:
        assert contact.kind is ContactKind.MITRE
        assert contact.run == pytest.approx(300)
        assert contact.width == pytest.approx(18 * math.sqrt(2))
        assert contact.area == pytest.approx(300 * 18 * math.sqrt(2))
        assert abs(contact.frame.k[0]) == pytest.approx(math.sqrt(0.5))
        assert abs(contact.frame.i[1]) == pytest.approx(1)
    one = contact_between(assembly, "top", "left")[0]
    other = contact_between(assembly, "left", "top")[0]
    assert (one.butting, other.butting) == ("top", "left")
    assert one.frame.k == pytest.approx(tuple(-c for c in other.frame.k))
    for a, b in (("top", "left"), ("floor", "right")):
        assert overlap_between(assembly.part(a), assembly.part(b)).depth <= 0
        assert gap_between(assembly.part(a), assembly.part(b)) == 0


def test_a_square_edge_does_not_go_with_a_bevel() -> None:
    parts = mitred_box()
    square = [replace(p, bevels=()) if p.name == "top" else p for p in parts]
    left, top = (next(p for p in square if p.name == n) for n in ("left", "top"))
    overlap = overlap_between(left, top)
    assert overlap.volume == pytest.approx(18 * 18 / 2 * 300)
    # The triangle that is left of the side's end stands in the top, 19 / √2 deep.
    assert overlap.depth == pytest.approx(18 / math.sqrt(2))


def test_boards_apart_square_to_the_mitre_keep_that_distance() -> None:
    left, top = (next(p for p in mitred_box() if p.name == n) for n in ("left", "top"))
    x, y, z = top.frame.origin
    for away in (0.5, 10.0):
        # To the right and up: out of the plane of the mitre.
        moved = replace(top, frame=replace(top.frame, origin=(x + away, y, z + away)))
        assert overlap_between(left, moved).depth <= 0
        assert gap_between(left, moved) == pytest.approx(away * math.sqrt(2))


def test_a_bevelled_end_stands_on_a_face() -> None:
    """A board that leans by 30° with its foot sawn to lie flat on another."""
    foot = plate(0, 0, 0, 30, name="brace")
    c, s = math.cos(math.radians(60)), math.sin(math.radians(60))
    leaning = replace(
        foot, frame=Frame((0.0, 0.0, 0.0), (c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c))
    )
    normal = leaning.frame.vector_to_outer(bevel_planes(leaning)[0][1])
    assert normal == pytest.approx((0.0, 0.0, -1.0))
    low = min(
        leaning.frame.point_to_outer((x, y, z))[2]
        for ring, z in ((face_ring(leaning), 0.0), (back_ring(leaning), -18.0))
        for x, y in ring
    )
    floor = plate(name="floor", outline=((0, 0), (900, 0), (900, 300), (0, 300)))
    floor = replace(floor, frame=replace(floor.frame, origin=(-200.0, 0.0, low)))
    assembly, problems = assemble(resolved([leaning, floor]))
    assert assembly is not None, problems
    (contact,) = assembly.contacts
    assert contact.kind is ContactKind.EDGE_FACE
    assert contact.butting == "brace"
    assert contact.frame.k == pytest.approx((0.0, 0.0, 1.0))
    assert contact.width == pytest.approx(18 / math.cos(math.radians(30)))


def test_a_back_stands_in_the_grooves_of_mitred_boards() -> None:
    back = board("back", (11, 270, 11), (629, 273, 629))
    assembly, problems = assemble(resolved([*mitred_box(), back]))
    assert assembly is not None, problems
    sunk = [c for c in assembly.contacts if c.kind is ContactKind.SUNK]
    assert {c.receiving for c in sunk} == {"left", "right", "floor", "top"}
    assert all(c.sunk == pytest.approx(7) and c.run == pytest.approx(618) for c in sunk)
