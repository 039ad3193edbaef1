"""All figures of the hand-made bookcase: complete, true to the plan, the same every time."""

from __future__ import annotations

import math
from typing import Any

import pytest

from kdkit.frames import Vec3, scaled
from kdkit.illustrate.figures.sketches import Sketches, draw_figures, sketch_figures
from kdkit.illustrate.figures.step_figure import (
    HIGHEST,
    WIDEST,
    StepPicture,
    StepSketch,
    set_step,
    sketch_step,
)
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.figure import Circle, Text
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.explode import move_apart
from kdkit.illustrate.staging.subject import Subject, item_name
from kdkit.plan.plan import OperationKind

Pictures = dict[int, StepPicture]


@pytest.fixture(scope="session")
def style() -> Style:
    style, problems = load_style()
    assert style is not None, problems
    return style


@pytest.fixture(scope="session")
def subject(bookcase: Any) -> Subject:
    return Subject(
        assembly=bookcase.assembly, joinery=bookcase.joinery, catalogue=bookcase.catalogue
    )


@pytest.fixture(scope="session")
def sketches(bookcase: Any, subject: Subject) -> dict[int, StepSketch]:
    found = {}
    before = None
    for step in bookcase.plan.steps:
        state = step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)
        found[step.number] = sketch_step(subject, state, bookcase.schedules, None, before)
        before = step.posture
    return found


@pytest.fixture(scope="session")
def pictures(sketches: dict[int, StepSketch], subject: Subject, style: Style) -> Pictures:
    room = FigureBox(width=WIDEST, height=HIGHEST)
    return {number: set_step(sketch, room, subject, style) for number, sketch in sketches.items()}


def test_every_figure_is_there_and_fits_the_page(bookcase: Any, style: Style) -> None:
    def sketched() -> Sketches:
        return sketch_figures(
            bookcase.resolved,
            bookcase.assembly,
            bookcase.joinery,
            bookcase.catalogue,
            bookcase.plan,
            bookcase.schedules,
            style,
        )

    sketches = sketched()
    figures = draw_figures(sketches)
    expected = {"cover"}
    expected |= {f"part-{line.letter}" for line in bookcase.schedules.cut}
    expected |= {f"item-{line.item}" for line in bookcase.schedules.hardware}
    expected |= {f"small-{line.item}" for line in bookcase.schedules.hardware}
    expected |= {f"step-{step.number}" for step in bookcase.plan.steps}
    expected |= {f"narrow-{step.number}" for step in bookcase.plan.steps}
    assert set(figures) == expected
    for name, figure in figures.items():
        assert figure.title, name
        assert figure.primitives, name
        assert figure.width <= WIDEST + 1e-6, name
        assert figure.height <= (HIGHEST if name.startswith("step") else 140.0) + 1e-6, name
    again = draw_figures(sketched())
    assert list(again) == list(figures)
    assert again == figures


def test_every_piece_of_hardware_of_a_step_is_in_its_picture(
    bookcase: Any, pictures: Pictures
) -> None:
    seen_steps = 0
    for step in bookcase.plan.steps:
        state = step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)
        picture = pictures[step.number]
        drawn: dict[str, float] = {}
        for drawing in picture.drawings:
            drawn |= drawing.shown
        handled = [one for one in state.items if one.new]
        seen_steps += bool(handled)
        assert {item_name(one) for one in handled} <= set(drawn)
        for kind in {one.item.item for one in handled}:
            assert any(drawn[item_name(one)] > 0.3 for one in handled if one.item.item == kind), (
                step.number,
                kind,
            )
    assert seen_steps >= 5


def test_each_piece_of_hardware_goes_in_in_one_step_only(bookcase: Any) -> None:
    counted: dict[str, int] = {}
    for step in bookcase.plan.steps:
        state = step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)
        for one in state.items:
            if one.new:
                counted[item_name(one)] = counted.get(item_name(one), 0) + 1
    assert set(counted.values()) == {1}


def test_parts_stand_back_along_the_way_they_travel(bookcase: Any, subject: Subject) -> None:
    checked = 0
    for step in bookcase.plan.steps:
        state = step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)
        apart = move_apart(
            state,
            subject.assembly,
            subject.joinery,
            subject.catalogue.items,
            gap=80.0,
            item_gap=20.0,
        )
        for operation in state.operations:
            if operation.kind is not OperationKind.MATE or operation.direction is None:
                continue
            view = View(posture=step.posture)
            for part in operation.parts:
                shift: Vec3 = apart.parts[part]
                back = view.direction(scaled(operation.direction, -1.0))
                moved = view.direction(shift)
                cosine = (moved[0] * back[0] + moved[1] * back[1]) / (
                    math.hypot(*moved) * math.hypot(*back)
                )
                assert cosine == pytest.approx(1.0)
                checked += 1
    assert checked == 5


def test_guide_lines_run_from_bore_to_bore(bookcase: Any, subject: Subject) -> None:
    step = next(s for s in bookcase.plan.steps if "mate:middle" in s.operations)
    state = step_state(step, bookcase.plan, bookcase.joinery, bookcase.schedules)
    apart = move_apart(
        state, subject.assembly, subject.joinery, subject.catalogue.items, gap=80.0, item_gap=20.0
    )
    origins = {f.frame.origin for f in bookcase.joinery.fasteners if f.joint == "middle.left_side"}
    ends = {guide.end for guide in apart.guides}
    assert origins <= ends
    for guide in apart.guides:
        if guide.end in origins:
            assert guide.start[1:] == guide.end[1:]
            assert guide.start[0] > guide.end[0]


def test_new_parts_carry_their_letters(bookcase: Any, pictures: Pictures) -> None:
    for step in bookcase.plan.steps:
        if not any(id.startswith("mate") for id in step.operations):
            continue
        texts = [p.text for p in pictures[step.number].figure.primitives if isinstance(p, Text)]
        for part in step.new:
            assert bookcase.schedules.letter_of(part) in texts


@pytest.mark.parametrize("height", [60.0, 80.0, 130.0, 165.0])
def test_a_figure_is_composed_for_its_room(
    height: float, sketches: dict[int, StepSketch], subject: Subject, style: Style
) -> None:
    room = FigureBox(width=178.0, height=height)
    for number, sketch in sketches.items():
        picture = set_step(sketch, room, subject, style)
        assert picture.figure.width <= room.width + 1e-6, number
        assert picture.figure.height <= room.height + 1e-6, number
        assert picture.complete, number


def test_a_larger_room_gives_a_larger_picture(
    sketches: dict[int, StepSketch], subject: Subject, style: Style
) -> None:
    small, large = (
        [set_step(s, FigureBox(width=178.0, height=h), subject, style) for s in sketches.values()]
        for h in (70.0, 140.0)
    )
    assert all(one.scale <= other.scale for one, other in zip(small, large, strict=True))
    assert sum(one.scale < other.scale for one, other in zip(small, large, strict=True)) > 3


def test_a_group_of_parts_alike_is_shown_once_with_its_number(
    pictures: Pictures, sketches: dict[int, StepSketch]
) -> None:
    texts = [p.text for p in pictures[3].figure.primitives if isinstance(p, Text)]
    assert "3 ×" in texts
    assert texts.count("C") == 1
    assert len(sketches[3].plates) == 1


def test_details_say_how_many_of_which_item(bookcase: Any, pictures: Pictures) -> None:
    figure = pictures[1].figure
    number = next(h.number for h in bookcase.schedules.hardware if h.item == "cam-bolt-34")
    texts = [p.text for p in figure.primitives if isinstance(p, Text)]
    assert "6 ×" in texts
    assert str(number) in texts
    assert any(isinstance(p, Circle) and p.radius > 10 for p in figure.primitives)


def test_letters_and_captions_stay_inside_the_figure(pictures: Pictures) -> None:
    for picture in pictures.values():
        for shape in picture.figure.primitives:
            if isinstance(shape, Text):
                assert 0 <= shape.at[0] <= picture.figure.width
                assert 0 <= shape.at[1] <= picture.figure.height


def test_lettering_is_of_the_standard_row(pictures: Pictures) -> None:
    """Heights of ISO 3098-1: 1.8 2.5 3.5 5 7 10; below 2.5 nothing is set."""
    sizes = {
        shape.size
        for picture in pictures.values()
        for shape in picture.figure.primitives
        if isinstance(shape, Text)
    }
    assert sizes <= {2.5, 3.5, 5.0}
