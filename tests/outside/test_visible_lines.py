"""Our visible lines against a ray caster and against a CAD kernel's hidden-line removal.

Outside: trimesh with manifold3d (ray casting on meshes made without our code), and
the exact hidden-line algorithm of the OCCT kernel, by cadquery-ocp.
"""

from __future__ import annotations

import itertools
import math
import pathlib
from dataclasses import replace

import numpy as np
import pytest

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.geometry import assemble
from kdkit.illustrate.bodies.parts import part_body
from kdkit.illustrate.hidden_lines.drawing import Drawing, draw_bodies
from kdkit.illustrate.hidden_lines.view import VIEWPOINTS, View
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Groove
from kdkit.model import read_product, resolve
from kdkit.model.resolved import Part
from kdkit.plan.plan import Posture
from tests.bevelled import mitred_box, plate
from tests.outside import solid_scenes as scenes

EXAMPLES = sorted((pathlib.Path(__file__).parents[2] / "examples").glob("*.yaml"))

ON_LINE = 0.05
"""mm on paper at scale 1 within which a sample lies on a line; the drawing's own
noise (hair 0.001, specks below 0.02) and the caster's 0.02 mm offset fit into it."""

Scene = tuple[list[Part], list[Groove]]


def example(path: pathlib.Path) -> Scene:
    definition, problems = load_definition(path)
    assert definition is not None, problems
    product, problems = read_product(definition)
    assert product is not None, problems
    resolved, problems = resolve(product)
    assert resolved is not None, problems
    catalogue, problems = load_catalogue()
    assert catalogue is not None, problems
    assembly, problems = assemble(resolved)
    assert assembly is not None, problems
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None, problems
    return list(assembly.parts), list(joinery.grooves)


def drawn_sides(drawing: Drawing) -> scenes.Array:
    """Return all drawn sides as (n, 2, 2): start and end on paper."""
    sides = []
    for stroke in drawing.strokes:
        points = [*stroke.points, *([stroke.points[0]] if stroke.closed else [])]
        sides.extend((p, q) for p, q in itertools.pairwise(points))
    return np.array(sides)


def distances(points: scenes.Array, starts: scenes.Array, ends: scenes.Array) -> scenes.Array:
    """Return the (n, m) distances of n points from m segments on paper."""
    along = ends - starts
    square = np.maximum((along**2).sum(axis=1), 1e-12)
    to = points[:, None] - starts[None]
    share = np.clip((to * along).sum(axis=2) / square, 0, 1)
    return np.linalg.norm(to - share[:, :, None] * along, axis=2)


def samples(starts: scenes.Array, ends: scenes.Array, wanted: int) -> tuple[scenes.Array, ...]:
    """Return which segment and where on it, evenly over the length, never at an end."""
    length = np.linalg.norm(ends - starts, axis=1)
    each = np.maximum(1, np.round(length / length.sum() * wanted)).astype(int)
    which = np.repeat(np.arange(len(each)), each)
    within = np.arange(len(which)) - np.repeat(np.cumsum(each) - each, each)
    return which, (within + 0.5) / each[which]


def check_drawing(parts: list[Part], grooves: list[Groove], view: View) -> None:
    drawing = draw_bodies([part_body(part, grooves) for part in parts], view)
    scene = scenes.MeshScene(parts, grooves, view)
    start = view.project_many(scene.starts)[:, :2]
    end = view.project_many(scene.ends)[:, :2]
    sides = drawn_sides(drawing)

    # Every drawn point: one of the edges that run through it is seen there.
    which, share = samples(sides[:, 0], sides[:, 1], 700)
    at = sides[which, 0] + (sides[which, 1] - sides[which, 0]) * share[:, None]
    near = distances(at, start, end) < ON_LINE
    sample, edge = np.nonzero(near)
    along = (end - start)[edge]
    place = ((at[sample] - start[edge]) * along).sum(axis=1)
    place = np.clip(place / np.maximum((along**2).sum(axis=1), 1e-12), 0, 1)
    seen = np.zeros(len(at), dtype=bool)
    np.logical_or.at(seen, sample, scene.sees(edge, place))
    assert seen.mean() >= 0.999, f"hidden or no edge at {at[~seen][:5]}"

    # Every point of an edge that is seen: a line is drawn there.
    sharp = np.flatnonzero((scene.angles > 0.4) & scene.faces_viewer)
    which, share = samples(scene.starts[sharp], scene.ends[sharp], 900)
    edge = sharp[which]
    visible = scene.sees(edge, share)
    at = start[edge] + (end - start)[edge] * share[:, None]
    missing = visible & (distances(at, sides[:, 0], sides[:, 1]).min(axis=1) > 2 * ON_LINE)
    assert visible.sum() > 50
    assert not missing.any(), f"no line at {at[missing][:5]}"


@pytest.mark.parametrize("viewpoint", ["front-right", "left-front", "back-left-below"])
@pytest.mark.parametrize("posture", [Posture.STANDING, Posture.ON_LEFT])
def test_the_bookcase_shows_what_a_ray_caster_sees(viewpoint: str, posture: Posture) -> None:
    view = View(viewpoint=VIEWPOINTS[viewpoint], posture=posture)
    check_drawing(scenes.bookcase(), [], view)


@pytest.mark.parametrize("viewpoint", ["front-right", "right-front", "back-right"])
def test_a_stand_with_leaning_sides_shows_what_a_ray_caster_sees(viewpoint: str) -> None:
    check_drawing(scenes.sloping_stand(), [], View(viewpoint=VIEWPOINTS[viewpoint]))


@pytest.mark.parametrize("viewpoint", ["front-right", "back-left", "front-left-below"])
def test_grooves_show_what_a_ray_caster_sees(viewpoint: str) -> None:
    parts, grooves = scenes.grooved_case()
    view = View(viewpoint=VIEWPOINTS[viewpoint])
    check_drawing(parts, grooves, view)
    check_drawing(parts[:3], grooves, view)  # without the back: grooves open


@pytest.mark.parametrize("viewpoint", ["front-right", "back-left", "front-left-below"])
def test_mitres_show_what_a_ray_caster_sees(viewpoint: str) -> None:
    top = mitred_box()[-1]
    groove = Groove(
        part="top", surface="back", depth=8.0, path=(), joint="",
        polygon=((-5.0, 270.0), (605.0, 270.0), (605.0, 274.0), (-5.0, 274.0)),
    )  # fmt: skip
    steep = replace(
        plate(45, -30, 60, -10), frame=replace(top.frame, origin=(100.0, -400.0, 200.0))
    )
    apart = replace(top, frame=replace(top.frame, origin=(60.0, 0.0, 700.0)))
    parts = [*mitred_box()[:-1], apart, steep]
    check_drawing(parts, [groove], View(viewpoint=VIEWPOINTS[viewpoint]))


@pytest.mark.parametrize("seed", range(6))
def test_random_boxes_show_what_a_ray_caster_sees(seed: int) -> None:
    check_drawing(scenes.random_boxes(seed), [], View(viewpoint=VIEWPOINTS["front-left"]))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_examples_show_what_a_ray_caster_sees(path: pathlib.Path) -> None:
    parts, grooves = example(path)
    for viewpoint in ("front-right", "back-left"):
        check_drawing(parts, grooves, View(viewpoint=VIEWPOINTS[viewpoint]))


@pytest.mark.parametrize("seed", range(20))
def test_visible_length_agrees_with_a_cad_kernel(seed: int) -> None:
    parts = scenes.random_boxes(seed)
    view = View(viewpoint=list(VIEWPOINTS.values())[seed % len(VIEWPOINTS)])
    drawing = draw_bodies([part_body(part) for part in parts], view)
    ours = sum(math.dist(p, q) for p, q in drawn_sides(drawing).tolist())
    assert ours == pytest.approx(scenes.kernel_visible_length(parts, view), rel=1e-5)
