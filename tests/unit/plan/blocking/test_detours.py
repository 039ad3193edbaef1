"""What is tried where no straight move helps, and how far."""

from __future__ import annotations

import pytest

from kdkit.plan import make_plan
from kdkit.plan.blocking import detours
from kdkit.plan.blocking.detours import Tried, tried_words
from kdkit.plan.plan import MORE_MOVES, NAMED_DIRECTIONS, Impossible, Plan
from tests.boxes import bookcase
from tests.gallery.roundabout import behind_a_lip, under_a_lip


def test_words_of_what_was_tried() -> None:
    assert tried_words(Tried()) == ""
    assert "about 12 edges of the parts, up" in tried_words(Tried(6, 12))
    assert "(the longest; 5 more were not tried)" in tried_words(Tried(6, 12, 5))
    assert tried_words(Tried(6, 12, 0, True)).endswith("as far as the work was bounded")


def test_not_tried_says_nothing_of_it() -> None:
    found, (problem,) = make_plan(*under_a_lip(60.0), detours=False)
    assert isinstance(found, Impossible)
    assert not found.tried
    assert "not tilting, nor two moves in a row" in problem.where


def test_bounded_work_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(detours, "_MOST_WORK", 1_000)
    found, _ = make_plan(*behind_a_lip(40.0))
    assert isinstance(found, Impossible)
    assert found.tried.endswith("as far as the work was bounded")


def test_the_class_of_moves_is_that_of_the_plan() -> None:
    round_a_corner, _ = make_plan(*under_a_lip(60.0))
    straight, _ = make_plan(*bookcase())
    assert isinstance(round_a_corner, Plan)
    assert round_a_corner.motion_class == MORE_MOVES
    assert isinstance(straight, Plan)
    assert straight.motion_class == NAMED_DIRECTIONS


@pytest.mark.parametrize("room", [50.0, 50.5, 60.0, 75.0])
def test_the_first_move_has_play_where_there_is_room(room: float) -> None:
    plan, _ = make_plan(*under_a_lip(room))
    assert isinstance(plan, Plan)
    (mate,) = (o for o in plan.operations if o.moves)
    length = mate.moves[1].length  # type: ignore[union-attr]
    assert 50.0 - 0.02 <= length <= min(room, 55.0) + 0.02
