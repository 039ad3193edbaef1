"""Details of the wardrobe: legible also where a fitting is half a metre long."""

from __future__ import annotations

import math
import pathlib
from collections import Counter
from collections.abc import Mapping

import pytest

from kdkit.illustrate.annotation.detail_choice import LEGIBLE, detail_apart
from kdkit.illustrate.figures.part_figure import draw_parts
from kdkit.illustrate.figures.step_figure import StepSketch, sketch_step
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.paper.style import load_style
from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.explode import item_frame
from kdkit.illustrate.staging.subject import Subject
from kdkit.publish.results import Results
from tests.product_files import results_of

FILE = pathlib.Path(__file__).parents[4] / "examples" / "wardrobe.yaml"


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("wardrobe")


@pytest.fixture(scope="module")
def benches(results: Results) -> Mapping[int, StepSketch]:
    subject = Subject(
        assembly=results.assembly, joinery=results.joinery, catalogue=results.catalogue
    )
    found = {}
    for step in results.plan.steps:
        state = step_state(step, results.plan, results.joinery, results.schedules)
        if state.bench or "handle-128" in step.items:
            sketch = sketch_step(subject, state, results.schedules, None, None)
            if sketch.unplaced is not None:
                found[step.number] = sketch
    assert len(found) > 10
    return found


def test_counts_of_the_details_add_up_to_what_the_step_handles(
    results: Results, benches: Mapping[int, StepSketch]
) -> None:
    several = 0
    for step in results.plan.steps:
        if step.number in benches:
            unplaced = benches[step.number].unplaced
            assert unplaced is not None
            shown: Counter[str] = Counter()
            for detail in unplaced.details:
                shown.update(detail.counts)
                several += len(detail.counts) > 1
            of_one = {item: n // step.times for item, n in step.items.items()}
            assert shown == of_one, step.number
    assert several >= 4


def test_fittings_are_shown_at_a_legible_scale(benches: Mapping[int, StepSketch]) -> None:
    """A whole runner would need 1 : 10, on which its screws are dots."""
    seen = set()
    for sketch in benches.values():
        assert sketch.unplaced is not None
        for detail, window in zip(sketch.unplaced.details, sketch.unplaced.windows, strict=True):
            seen |= set(detail.counts)
            if set(detail.counts) == {"handle-128"}:
                assert window.scale == 0.2  # 150 long, and shown whole
            else:
                assert window.scale >= LEGIBLE, detail.counts
    assert {"drawer-profile-500", "carcass-profile-500", "cup-hinge-overlay-35"} <= seen


def test_the_ring_lies_round_the_piece_that_the_detail_shows(
    benches: Mapping[int, StepSketch],
) -> None:
    for sketch in benches.values():
        assert sketch.unplaced is not None
        for detail in sketch.unplaced.details:
            assert detail.ringed in detail.states
            items = sketch.plates[detail.plate].state.items
            if "carcass-profile-500" in detail.counts:
                assert items[detail.ringed].item.item == "plate-screw-6.3x13"


def test_runners_in_two_places_of_a_divider_share_a_detail(
    results: Results, benches: Mapping[int, StepSketch]
) -> None:
    (number,) = (
        step.number
        for step in results.plan.steps
        if {"carcass-profile-500", "cam-lock-15"} <= set(step.items)
    )
    unplaced = benches[number].unplaced
    assert unplaced is not None
    assert sum("carcass-profile-500" in detail.counts for detail in unplaced.details) == 1


def test_small_parts_are_drawn_smaller_but_legible(results: Results) -> None:
    subject = Subject(
        assembly=results.assembly, joinery=results.joinery, catalogue=results.catalogue
    )
    style, _ = load_style()
    assert style is not None
    room = FigureBox(width=36.5, height=17.0)
    figures = draw_parts(subject, results.schedules, style, room)
    for figure in figures.values():
        assert figure.width <= room.width + 1e-6
        assert figure.height <= room.height + 1e-6
    lengths = {line.letter: max(line.finished) for line in results.schedules.cut}
    longest, shortest = max(lengths, key=lengths.__getitem__), min(lengths, key=lengths.__getitem__)
    assert figures[shortest].width < figures[longest].width
    assert figures[shortest].width > figures[longest].width / 3  # 1 : 6.6 at one scale


def test_a_rail_lies_along_its_picture(results: Results) -> None:
    subject = Subject(
        assembly=results.assembly, joinery=results.joinery, catalogue=results.catalogue
    )
    style, _ = load_style()
    assert style is not None
    (line,) = results.schedules.bought
    figure = draw_parts(subject, results.schedules, style)[line.letter]
    assert figure.width > 2 * figure.height


def test_the_front_end_of_a_runner_is_in_its_detail(
    results: Results, benches: Mapping[int, StepSketch]
) -> None:
    """Also where its first screw sits farther back."""
    found = 0
    for sketch in benches.values():
        assert sketch.unplaced is not None
        for detail in sketch.unplaced.details:
            (profile,) = [n for n in detail.counts if n.endswith("-profile-500")] or [""]
            if not profile:
                continue
            plate = sketch.plates[detail.plate]
            (number,) = (n for n in detail.states if plate.state.items[n].item.item == profile)
            frame = item_frame(
                plate.state.items[number], detail_apart(plate, detail.turned).items[number]
            )
            # The profile runs from its frame's origin back along y, all 500 of it.
            view = detail.view.at_scale(1.0)
            front, middle = view.project(frame.origin), view.project(detail.centre)
            assert math.dist(front[:2], middle[:2]) < detail.reach
            found += 1
    assert found == 3
    assert results.catalogue.items["carcass-profile-500"].pieces[0].at == (0, -250)
