"""Solids for the page: the same volume as the parts they stand for, closed, turned outwards."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from kdkit.frames import Frame
from kdkit.illustrate.bodies.hardware import item_body
from kdkit.illustrate.bodies.parts import part_body
from kdkit.illustrate.in_the_round.meshes import GRAIN, Mesh, mesh_of
from kdkit.joinery.placed import Groove
from kdkit.model.resolved import Part
from tests.product_files import results_of

FRAME = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def volume(mesh: Mesh) -> float:
    """mm³, by a general mesh library; faces turned inwards would count against it."""
    corners = np.array(mesh.corners) * GRAIN
    faces = np.array([face.triangles for face in mesh.faces], dtype=object)
    triangles = np.concatenate([np.array(f, dtype=int).reshape(-1, 3) for f in faces])
    return float(trimesh.Trimesh(corners, triangles, process=False).volume)


def part(outline: tuple[tuple[float, float], ...], **more: object) -> Part:
    values: dict[str, object] = {
        "name": "p",
        "title": "p",
        "kind": "panel",
        "path": (),
        "frame": FRAME,
        "outline": outline,
        "thickness": 18.0,
    }
    return Part(**(values | more))  # type: ignore[arg-type]  # one builder for several shapes


ELL = ((0.0, 0.0), (500.0, 0.0), (500.0, 120.0), (140.0, 120.0), (140.0, 300.0), (0.0, 300.0))


def test_a_plain_panel() -> None:
    mesh = mesh_of(part_body(part(((0.0, 0.0), (412.0, 0.0), (412.0, 230.0), (0.0, 230.0)))).form)
    assert len(mesh.corners) == 8
    assert len(mesh.edges) == 12
    assert all(edge.sharp for edge in mesh.edges)
    assert volume(mesh) == pytest.approx(412 * 230 * 18)


def test_an_inside_corner_and_an_opening() -> None:
    hole = ((30.0, 30.0), (110.0, 30.0), (110.0, 90.0), (30.0, 90.0))
    mesh = mesh_of(part_body(part(ELL, cutouts=(hole,))).form)
    assert volume(mesh) == pytest.approx((500 * 120 + 140 * 180 - 80 * 60) * 18)


def test_what_looks_the_same_is_the_same() -> None:
    catalogue = results_of("bookcase").catalogue
    here = Frame((5.0, 7.0, 9.0), FRAME.i, FRAME.j, FRAME.k)
    item = catalogue.items["dowel-8x35"]
    one, other = (item_body("d", item, frame).form for frame in (FRAME, here))
    assert mesh_of(one) == mesh_of(other)
    assert hash(mesh_of(one)) == hash(mesh_of(other))


def test_a_dowel_is_as_thick_as_its_sides_make_it() -> None:
    """A cylinder drawn with n sides: n/2·sin(2π/n)·r²·h, by hand."""
    item = results_of("bookcase").catalogue.items["dowel-8x35"]
    form = item_body("d", item, FRAME, scale=0.25).form
    got = volume(mesh_of(form))
    assert got < math.pi * 16 * 35
    assert got > 0.8 * math.pi * 16 * 35


def test_every_part_of_an_example_has_the_volume_that_it_is_drawn_with() -> None:
    """Against the areas of the faces: a prism's volume is that of its outline times thickness
    less the grooves (bores are marks on a face)."""
    results = results_of("low-cabinet")
    for one in results.assembly.parts:
        if one.kind != "panel" or one.bevels or one.round_cutouts or one.cutouts:
            continue
        flat = part_body(one).form
        x, y = (np.array([p[n] for p in one.outline]) for n in (0, 1))
        area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
        assert volume(mesh_of(flat)) == pytest.approx(area * one.thickness, rel=1e-3), one.name


def test_a_groove_takes_wood_off() -> None:
    plain = part(((0.0, 0.0), (400.0, 0.0), (400.0, 200.0), (0.0, 200.0)))
    grooved = next(
        (p, [g for g in results_of("low-cabinet").joinery.grooves if g.part == p.name])
        for p in results_of("low-cabinet").assembly.parts
        if any(g.part == p.name for g in results_of("low-cabinet").joinery.grooves)
    )
    one, grooves = grooved
    assert all(isinstance(g, Groove) for g in grooves)
    assert volume(mesh_of(part_body(one, grooves).form)) < volume(mesh_of(part_body(one).form))
    assert volume(mesh_of(part_body(plain, grooves).form)) == pytest.approx(400 * 200 * 18)


def test_corners_are_kept_to_a_twentieth_of_a_millimetre() -> None:
    odd = 411.0 + GRAIN / 3
    mesh = mesh_of(part_body(part(((0.0, 0.0), (odd, 0.0), (odd, 230.0), (0.0, 230.0)))).form)
    assert max(abs(c[0]) for c in mesh.corners) == round(411.0 / GRAIN)
