"""Where only one motion is left, what it opens follows without a program."""

from __future__ import annotations

import pytest

from kdkit.frames import Vec3
from kdkit.inspect.small_motions import Motions

_UP: Vec3 = (0.0, 0.0, 1.0)
_DOWN: Vec3 = (0.0, 0.0, -1.0)


def lifted(*ways: Vec3) -> Motions:
    """Two bodies, one of which can only shift along z; what holds it opens along ways."""
    motions = Motions(2)
    motions.nought = [[(n, 1.0)] for n in range(6) if n != 2]
    motions.at_least = [motions.row(0, 1, (0.0, 0.0, 0.0), way) for way in ways]
    return motions


@pytest.mark.parametrize(
    ("ways", "opens"),
    [
        ((_UP,), (True,)),
        ((_DOWN, _DOWN), (True, True)),
        ((_UP, _DOWN), (False, False)),
        ((_UP, (1.0, 0.0, 0.0)), (True, False)),
    ],
)
def test_one_motion_opens_what_the_program_says(
    ways: tuple[Vec3, ...], opens: tuple[bool, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    wider = lifted(*ways)
    del wider.nought[0]  # a second motion, along x: the program decides
    if all(way[0] == 0 for way in ways):
        assert wider.opening == opens

    def none(*_: object) -> None:
        raise AssertionError("a program for one motion")

    monkeypatch.setattr(Motions, "_solved", none)
    assert lifted(*ways).opening == opens


def test_what_cannot_move_opens_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Motions, "_solved", None)
    fixed = lifted(_UP)
    fixed.nought.append([(2, 1.0)])
    assert fixed.opening == (False,)
    assert fixed.moving() == ()
