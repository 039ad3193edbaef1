"""The view shows what must be seen and stays as long as it does."""

from __future__ import annotations

from kdkit.frames import AXES, Frame
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.staging.choose_view import (
    LOOKS,
    Shown,
    ShownPart,
    choose_look,
    look_score,
    sees,
)
from kdkit.model.resolved import Part
from kdkit.plan.plan import Posture


def upright(name: str, y: float, *, width: float = 600.0, height: float = 800.0) -> Part:
    """A board standing across, its face to the back."""
    return Part(
        name=name,
        title=name,
        kind="panel",
        path=(),
        frame=Frame((width, y, 0.0), AXES["-x"], AXES["+z"], AXES["+y"]),
        outline=((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)),
        thickness=18.0,
    )


def test_a_bore_in_the_back_is_seen_from_behind() -> None:
    part = upright("board", 0.0)
    shown = Shown(
        parts=(ShownPart(part=part, new=True),), marks=(((300.0, 0.0, 400.0), AXES["+y"], 3.0),)
    )
    look = choose_look(shown, Posture.STANDING, None)
    assert View(viewpoint=look).toward[1] > 0


def test_nothing_to_see_keeps_the_front_and_above() -> None:
    shown = Shown(parts=(), marks=())
    assert choose_look(shown, Posture.STANDING, None) == LOOKS[0]


def test_the_last_look_stays_when_another_shows_little_more() -> None:
    part = upright("board", 0.0)
    shown = Shown(parts=(ShownPart(part=part, new=True),), marks=())
    assert choose_look(shown, Posture.STANDING, LOOKS[1]) == LOOKS[1]
    assert choose_look(shown, Posture.STANDING, LOOKS[0]) == LOOKS[0]


def test_the_last_look_goes_when_it_hides_what_is_new() -> None:
    part = upright("board", 0.0)
    marks = tuple(((100.0 * n, 0.0, 400.0), AXES["+y"], 3.0) for n in range(1, 5))
    shown = Shown(parts=(ShownPart(part=part, new=True),), marks=marks)
    assert choose_look(shown, Posture.STANDING, LOOKS[0]) != LOOKS[0]


def test_a_board_in_front_hides_a_point_behind_it() -> None:
    front = Viewpoint(0.0, 10.0)
    toward = View(viewpoint=front).toward
    board = ShownPart(part=upright("board", 0.0))
    points = [(300.0, 100.0, 400.0), (300.0, -100.0, 400.0), (900.0, 100.0, 400.0)]
    assert list(sees(points, toward, [board])) == [0.0, 1.0, 1.0]


def test_a_moved_board_hides_where_it_stands_now() -> None:
    toward = View(viewpoint=Viewpoint(0.0, 10.0)).toward
    board = ShownPart(part=upright("board", 0.0), shift=(2000.0, 0.0, 0.0))
    assert list(sees([(300.0, 100.0, 400.0)], toward, [board])) == [1.0]


def test_a_covered_part_scores_less() -> None:
    back = ShownPart(part=upright("back", 300.0), new=True)
    cover = ShownPart(part=upright("cover", 0.0, width=900.0, height=1200.0))
    alone = look_score(Shown(parts=(back,), marks=()), Posture.STANDING, LOOKS[0])
    covered = look_score(Shown(parts=(back, cover), marks=()), Posture.STANDING, LOOKS[0])
    assert covered < alone


def test_nobody_looks_from_behind_the_wall() -> None:
    part = upright("board", 0.0)
    marks = (((300.0, 0.0, 400.0), AXES["+y"], 3.0),)
    shown = Shown(parts=(ShownPart(part=part, new=True),), marks=marks)
    behind = choose_look(shown, Posture.STANDING, None)
    assert View(viewpoint=behind).toward[1] > 0
    for last in (None, behind):
        look = choose_look(shown, Posture.STANDING, last, at_wall=True)
        assert View(viewpoint=look).toward[1] < 0
