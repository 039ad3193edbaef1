"""Each step as a scene: what moves ends in its place, in the turns of the step's operations."""

from __future__ import annotations

import json

import pytest

from kdkit import illustrate
from kdkit.frames import Vec3, add, norm
from kdkit.illustrate import Round, Sketches, draw_round
from kdkit.illustrate.in_the_round.scenes import Moving
from kdkit.parts.postures import Posture
from kdkit.publish.typesetting.round_data import round_json
from tests.product_files import results_of


@pytest.fixture(scope="module")
def sketches() -> Sketches:
    r = results_of("bookcase")
    return illustrate.sketch_figures(
        r.resolved, r.assembly, r.joinery, r.catalogue, r.plan, r.schedules
    )


@pytest.fixture(scope="module")
def made(sketches: Sketches) -> Round:
    return draw_round(sketches)


def along(one: Moving) -> Vec3:
    total: Vec3 = (0.0, 0.0, 0.0)
    for leg in one.legs:
        total = add(total, leg.by)
    return total


def test_every_step_has_a_scene(made: Round) -> None:
    assert list(made.scenes) == [s.number for s in results_of("bookcase").plan.steps]


def test_the_ways_undo_what_the_drawing_pulls_apart(made: Round, sketches: Sketches) -> None:
    """The drawing's shifts are found apart from the stretches; both must end in one place."""
    moved = 0
    for sketch in sketches.steps.values():
        views = made.scenes[sketch.state.step.number].views
        for plate, view in zip(sketch.plates, views, strict=True):
            ways = {}
            for one in view.moving:
                place = made.places[one.place]
                if place.role == "part":
                    ways[tuple(round(c, 6) for c in place.frame.origin)] = one
            for name in plate.state.parts:
                origin = sketches.subject.assembly.part(name).frame.origin
                shift = plate.apart.parts[name]
                one = ways.get(tuple(round(c, 6) for c in origin))
                assert (one is None) == (norm(shift) == 0.0), name
                if one is not None:
                    moved += 1
                    assert norm(add(along(one), shift)) < 1e-9, name
    assert moved >= 8


def test_hardware_comes_in_along_its_own_axis_after_what_it_sits_in(made: Round) -> None:
    seen = 0
    for scene in made.scenes.values():
        for view in scene.views:
            for one in view.moving:
                place = made.places[one.place]
                assert [leg.turn for leg in one.legs] == sorted(leg.turn for leg in one.legs)
                assert all(0 <= leg.turn < scene.turns for leg in one.legs)
                if place.role != "hardware" or len(one.legs) != 1:
                    continue
                (leg,) = one.legs
                off = abs(sum(a * b for a, b in zip(leg.by, place.frame.k, strict=True)))
                if off > 1e-6:  # else it is carried along
                    seen += off == pytest.approx(norm(leg.by))
    assert seen > 40


def test_what_is_turned_over_says_from_what(made: Round) -> None:
    """Built on its right side, laid on its front for the back, then stood up."""
    changes = [
        (view.before, view.posture)
        for scene in made.scenes.values()
        for view in scene.views
        if view.before is not view.posture
    ]
    assert len(changes) >= 2
    assert changes[-1][1] is Posture.STANDING


def test_solids_travel_once(made: Round) -> None:
    assert len(set(made.meshes)) == len(made.meshes)
    assert len(made.meshes) < len(made.places) / 3


def test_the_data_can_stand_in_a_page(made: Round, sketches: Sketches) -> None:
    text = round_json(made, sketches.style)
    assert "<" not in text
    assert "&" not in text
    data = json.loads(text)
    assert set(data["scenes"]) == {str(n) for n in made.scenes}
    assert round_json(draw_round(sketches), sketches.style) == text
    assert len(text) < 100_000  # bytes; a page must not grow by more for a bookcase
